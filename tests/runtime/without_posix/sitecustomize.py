"""Has the program take this machine for one without POSIX, in every Python that finds this on its path.

What Windows lacks is refused to the program's own modules, and what they use there in its place stands for the real
thing by way of this system; ``terminate`` gives no time for an ending in good order. Libraries and ``os.name`` stay as
they are: the first have ways of their own, and pathlib would write every path with backslashes.
"""

import builtins
import fcntl
import os
import select
import signal
import socket
import subprocess
import sys
import time
from types import ModuleType
from typing import Any

ABSENT_MODULES = {"fcntl", "pty", "termios", "tty", "resource", "pwd", "grp", "syslog", "posix"}
ABSENT = {
    "os": "O_NOFOLLOW O_NONBLOCK O_DIRECTORY O_CLOEXEC O_NOCTTY pread pwrite fork getuid geteuid getgid killpg setsid "
    "openpty ttyname set_blocking mkfifo sysconf initgroups setuid setgid getpgid uname WNOHANG",
    "signal": "SIGHUP SIGKILL SIGCHLD SIGSTOP SIGCONT SIGALRM SIGUSR1 alarm setitimer pthread_kill",
    "socket": "AF_UNIX SO_REUSEPORT SOCK_CLOEXEC SOCK_NONBLOCK",
    "time": "clock_gettime CLOCK_BOOTTIME CLOCK_MONOTONIC",
}
CREATE_NEW_PROCESS_GROUP = 0x200
_import = builtins.__import__


class Seen(ModuleType):
    """A module as the program sees it: without some of its names, and with others in their place."""

    def __init__(self, real: ModuleType, **instead: object) -> None:
        super().__init__(real.__name__)
        self.__dict__.update(_real=real, _absent=ABSENT.get(real.__name__, "").split(), **instead)

    def __getattr__(self, name: str) -> Any:
        if name in self._absent:
            raise AttributeError(f"module {self.__name__!r} has no attribute {name!r}")
        return getattr(self._real, name)


class Popen(subprocess.Popen[Any]):
    """Starts a process in a group of its own where the flag says so; terminate() is the hard end that it is there."""

    def __init__(self, *words: Any, creationflags: int = 0, process_group: int | None = None, **more: Any) -> None:
        assert process_group is None
        assert not any(more.pop(name, None) for name in ("pass_fds", "start_new_session", "preexec_fn"))
        super().__init__(*words, process_group=0 if creationflags == CREATE_NEW_PROCESS_GROUP else None, **more)

    def terminate(self) -> None:
        self.kill()


def locking(descriptor: int, mode: int, _size: int) -> None:
    """The lock of a byte, which excludes every other opening of the file, as flock does."""
    try:
        fcntl.flock(descriptor, fcntl.LOCK_UN if mode == msvcrt.LK_UNLCK else fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        raise PermissionError(13, "Permission denied") from None


def wait_for_sockets(reading: Any, writing: Any, other: Any, timeout: float | None = None) -> Any:
    """Waits for sockets, and refuses nothing at all and everything else."""
    if not (reading or writing or other):
        raise OSError(10022, "An invalid argument was supplied")
    for one in (*reading, *writing, *other):
        with socket.socket(fileno=os.dup(one if isinstance(one, int) else one.fileno())) as asked:
            asked.getsockname()
    return select.select(reading, writing, other, timeout)


msvcrt: Any = ModuleType("msvcrt")
msvcrt.locking, msvcrt.LK_UNLCK, msvcrt.LK_NBLCK = locking, 0, 2
SEEN = {
    "os": Seen(os),
    "socket": Seen(socket),
    "time": Seen(time),
    "msvcrt": msvcrt,
    "sys": Seen(sys, platform="win32"),
    "select": Seen(select, select=wait_for_sockets),
    "signal": Seen(signal, SIGBREAK=signal.SIGQUIT, CTRL_BREAK_EVENT=signal.SIGQUIT),
    "subprocess": Seen(subprocess, Popen=Popen, CREATE_NEW_PROCESS_GROUP=CREATE_NEW_PROCESS_GROUP),
}


def seen_import(name: str, globals: Any = None, locals: Any = None, fromlist: Any = (), level: int = 0) -> Any:
    if (globals or {}).get("__name__", "").split(".")[0] in ("monitor", "dashboard") or (
        (globals or {}).get("__package__") == "monitor.cli"
    ):
        if name in ABSENT_MODULES:
            raise ModuleNotFoundError(f"No module named {name!r}", name=name)
        if name in SEEN:
            return SEEN[name]
    return _import(name, globals, locals, fromlist, level)


builtins.__import__ = seen_import
