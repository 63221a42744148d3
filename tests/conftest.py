"""What holds for every test: the same examples each run, no property that fails because a machine is busy, and an end."""

import os
import tempfile
from collections.abc import Iterable

import pytest
from hypothesis import settings

# Loggers keep outside the folder of recordings what they have under way; those of tests are not to stay on the machine.
_STATE = tempfile.TemporaryDirectory(prefix="kettleside-state-")
os.environ["XDG_STATE_HOME"] = _STATE.name
os.environ.pop("STATE_DIRECTORY", None)

settings.register_profile("steady", deadline=None, derandomize=True)
settings.load_profile("steady")

LONG = ("broker", "browser", "firmware", "long", "network", "service")
LONG_S = 600


def pytest_collection_modifyitems(items: Iterable[pytest.Item]) -> None:
    """Gives the tests that are long by their marker a longer limit than pyproject.toml gives all."""
    for item in items:
        if any(item.get_closest_marker(name) for name in LONG) and item.get_closest_marker("timeout") is None:
            item.add_marker(pytest.mark.timeout(LONG_S))
