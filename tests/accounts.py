"""Running Python as an account that can do less than these tests."""

import os
import pwd
import subprocess
import sys
import sysconfig
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
# Where the tests run as root, their own Python may lie in a folder that is root's alone; the system's is open to all.
_PYTHONS = (sys.executable, "/usr/bin/python3")


def other_account() -> dict[str, object]:
    """For subprocess: who has no rights. Only root can become somebody else; anybody else stays who they are."""
    if os.geteuid() != 0:
        return {}
    account = pwd.getpwnam("nobody")
    return {"user": account.pw_uid, "group": account.pw_gid, "extra_groups": []}


def library_path() -> str:
    """What PYTHONPATH has to be for any Python of this version: this checkout and the libraries of this environment."""
    return os.pathsep.join([str(ROOT), sysconfig.get_path("purelib"), sysconfig.get_path("platlib")])


@cache
def open_python() -> str:
    """A Python that such an account can run with this environment's libraries. Fails where there is none."""
    for python in _PYTHONS:
        try:
            done = subprocess.run(
                [python, "-B", "-c", "import flask, numpy, monitor.view"],
                cwd="/",
                env={"PYTHONPATH": library_path()},
                capture_output=True,
                check=False,
                **other_account(),  # type: ignore[call-overload]
            )
        except PermissionError:
            continue
        if done.returncode == 0:
            return python
    raise AssertionError("No Python here can be run by an account without rights; install Debian's python3.")
