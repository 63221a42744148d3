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
    opened = _open_folder()
    for place in places:
        shutil.copytree(place, opened / place.name, copy_function=_linked)
    return os.pathsep.join([str(opened), str(opened / places[2].name)])


def _linked(source: str, target: str) -> None:
    try:
        os.link(source, target)
    except OSError:
        shutil.copy2(source, target)


def _open_folder() -> Path:
    """A folder that every account may look into, until these tests end."""
    opened = Path(tempfile.mkdtemp())
    atexit.register(shutil.rmtree, opened, ignore_errors=True)
    opened.chmod(0o755)
    return opened


def _linked_python() -> str:
    """This Python once more, its program and its standard library linked, or copied, to a place that is open to all."""
    opened = _open_folder()
    program, library = Path(sys.executable).resolve(), Path(sysconfig.get_path("stdlib"))
    (opened / "bin").mkdir()
    _linked(str(program), str(opened / "bin" / program.name))
    # A Python finds its library beside its program, by the name that it has there.
    shutil.copytree(
        library,
        opened / "lib" / library.name,
        copy_function=_linked,
        ignore=shutil.ignore_patterns("site-packages", "test", "__pycache__"),
    )
    for shared in Path(str(sysconfig.get_config_var("LIBDIR"))).glob("libpython3*.so*"):
        _linked(str(shared), str(opened / "lib" / shared.name))
    # The way to its shared library, where it has one, stands in the program.
    started = opened / "python"
    started.write_text(f'#!/bin/sh\nLD_LIBRARY_PATH={opened}/lib exec {opened}/bin/{program.name} "$@"\n')
    started.chmod(0o755)
    return str(started)


@cache
def open_python() -> str:
    """A Python that such an account can run with this environment's libraries. Fails where there is none."""
    # Where the tests run as root, their own Python may lie in a folder that is root's alone; the system's is open to
    # all, but may be of another version than the libraries.
    for place in (sys.executable, "/usr/bin/python3", None):
        python = place or _linked_python()
        try:
            done = subprocess.run(
                [python, "-B", "-c", "import flask, numpy, monitor.session.library"],
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
