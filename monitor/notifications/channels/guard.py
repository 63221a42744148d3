"""Runs one program for a command channel and lets nothing of it outlive its time: ``python -m`` this module.

Arguments: the number of an open pipe, the time limit in seconds, the program and its arguments. When the program has
ended, one line on standard output says how; what it left running in the background may go on until the limit. The
limit, a signal, or the end of the pipe ends all of it: SIGTERM first, SIGKILL a second later. The system closes the
pipe whatever the notifier's process dies of, so nothing is left behind by one that is killed either.

On Linux this process adopts what its descendants leave behind (prctl(2), PR_SET_CHILD_SUBREAPER), so that a process
that moved into a session of its own is found too. Elsewhere the process group is ended, which is all of an ordinary
program.
"""

import os
import select
import signal
import subprocess
import sys
from contextlib import suppress
from pathlib import Path

from monitor.runtime import SystemClock

assert sys.platform != "win32"
# From SIGTERM to SIGKILL.
GRACE_S = 1.0
# A program that starts processes faster than they are ended is given up after this.
_KILL_WITHIN_S = 2.0
_POLL_EVERY_S = 0.02
_PR_SET_CHILD_SUBREAPER = 36
_CLOCK = SystemClock()


def main(arguments: list[str]) -> int:
    """Runs the program; 0 once all of it is gone."""
    lifeline, limit_s, run = int(arguments[0]), float(arguments[1]), arguments[2:]
    woken, wake = os.pipe()
    for number in (woken, wake):
        os.set_blocking(number, False)
    for asked in (signal.SIGCHLD, signal.SIGTERM, signal.SIGINT, signal.SIGHUP):
        signal.signal(asked, _only_wakes)
    signal.set_wakeup_fd(wake, warn_on_full_buffer=False)
    _adopt_orphans()
    try:
        program = subprocess.Popen(run, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    except OSError as error:
        _report(f"cannot {error.strerror or 'unknown'}")
        return 0
    # The notice on it is the program's alone to read.
    nothing = os.open(os.devnull, os.O_RDONLY)
    os.dup2(nothing, 0)
    os.close(nothing)
    late = False
    try:
        late = _watch(program, lifeline, woken, _CLOCK.real_s() + limit_s)
    finally:
        _end_all(late)
    return 0


def _watch(program: "subprocess.Popen[bytes]", lifeline: int, woken: int, until_s: float) -> bool:
    """Returns when nothing of the program is left, or when what is left is to be ended; whether it took too long."""
    reported = False
    while (left_s := until_s - _CLOCK.real_s()) > 0.0:
        code = program.poll()
        if code is not None and not reported:
            _report(f"ended {code}")
            reported = True
        if reported:
            _reap()
            if not _descendants():
                return False
        ready, _, _ = select.select([lifeline, woken], [], [], left_s)
        if lifeline in ready:
            return False
        if woken in ready and any(number != signal.SIGCHLD for number in os.read(woken, 4096)):
            return False
    return not reported


def _only_wakes(_number: int, _frame: object) -> None:
    """Takes a signal in, so that it comes through the pipe of ``signal.set_wakeup_fd``."""


def _adopt_orphans() -> None:
    if sys.platform == "linux":
        import ctypes

        ctypes.CDLL(None, use_errno=True).prctl(_PR_SET_CHILD_SUBREAPER, 1, 0, 0, 0)


def _report(line: str) -> None:
    # Whoever asked may be gone.
    with suppress(OSError):
        os.write(1, f"{line}\n".encode())


def _reap() -> None:
    with suppress(ChildProcessError):
        while os.waitpid(-1, os.WNOHANG)[0]:
            pass


def _descendants() -> list[int]:
    """The processes under this one, as Linux tells them; none elsewhere."""
    children_of: dict[int, list[int]] = {}
    for entry in Path("/proc").glob("[0-9]*/stat"):
        with suppress(OSError, ValueError, IndexError):
            # The name in brackets may hold anything (proc_pid_stat(5)).
            state, parent = entry.read_text(errors="replace").rpartition(")")[2].split()[:2]
            if state != "Z":
                children_of.setdefault(int(parent), []).append(int(entry.parent.name))
    found, to_visit = [], [os.getpid()]
    while to_visit:
        children = children_of.get(to_visit.pop(), [])
        found += children
        to_visit += children
    return found


def _end_all(late: bool) -> None:
    _gone_within(GRACE_S, signal.SIGTERM)
    if sys.platform == "linux":
        _gone_within(_KILL_WITHIN_S, signal.SIGKILL)
    if late:
        _report("late")
    if sys.platform != "linux":
        # This process too; it has nothing more to do.
        os.killpg(0, signal.SIGKILL)


def _gone_within(patience_s: float, number: signal.Signals) -> None:
    """Signals every process until none is left or the patience is over, those too that appear meanwhile."""
    until_s = _CLOCK.real_s() + patience_s
    while _signal_all(number) and _CLOCK.real_s() < until_s:
        select.select([], [], [], _POLL_EVERY_S)


def _signal_all(number: signal.Signals) -> bool:
    """Sends it to each that is left; whether there was one."""
    _reap()
    if sys.platform != "linux":
        os.killpg(0, number)
        return True
    left = _descendants()
    for pid in left:
        with suppress(ProcessLookupError, PermissionError):
            os.kill(pid, number)
    return bool(left)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
