"""Running Python as an account that can do less than these tests."""

import atexit
import os
import pwd
import shutil
import subprocess
import sys
import sysconfig
import tempfile
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


@cache
def library_path() -> str:
    """What PYTHONPATH has to be for any Python of this version: this checkout and the libraries of this environment.

    Where the way to them is not open to all they are linked, or copied, to a place that is.
    """
    places = [ROOT / "monitor", ROOT / "dashboard", Path(sysconfig.get_path("purelib"))]
    if all(folder.stat().st_mode & 0o001 for place in places for folder in (place, *place.parents)):
        return os.pathsep.join([str(ROOT), str(places[2])])
    opened = Path(tempfile.mkdtemp())
    atexit.register(shutil.rmtree, opened, ignore_errors=True)
    opened.chmod(0o755)
    for place in places:
        shutil.copytree(place, opened / place.name, copy_function=_linked)
    return os.pathsep.join([str(opened), str(opened / places[2].name)])


def _linked(source: str, target: str) -> None:
    try:
        os.link(source, target)
    except OSError:
        shutil.copy2(source, target)


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
