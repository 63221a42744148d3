"""What holds for every test: the same examples each run, and no property that fails because a machine is busy."""

import os
import tempfile

from hypothesis import settings

# Loggers keep outside the folder of recordings what they have under way; those of tests are not to stay on the machine.
_STATE = tempfile.TemporaryDirectory(prefix="kettleside-state-")
os.environ["XDG_STATE_HOME"] = _STATE.name
os.environ.pop("STATE_DIRECTORY", None)

settings.register_profile("steady", deadline=None, derandomize=True)
settings.load_profile("steady")
