"""Ends a process in good order: on a signal, and when the process that started it is gone."""

import os
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

# The supervisor writes its own process id here for its children.
PARENT_VARIABLE = "KETTLESIDE_PARENT"
# A process that is still running this long after the signal to stop is ended by the system.
LONGEST_STOP_S = 5
# Both are for subprocess.Popen: a group of its own, so that Ctrl-C on the terminal does not reach a child.
OWN_PROCESS_GROUP: int | None = 0
OWN_GROUP_FLAGS = 0
if sys.platform == "win32":
    OWN_PROCESS_GROUP, OWN_GROUP_FLAGS = None, subprocess.CREATE_NEW_PROCESS_GROUP

_PR_SET_PDEATHSIG = 1


class Stop(threading.Event):
    """Set when the process should end. signal_number: which signal asked for it, or None."""

    signal_number: int | None = None

    @property
    def exit_status(self) -> int:
        """130 after Ctrl-C, as shells expect, else 0."""
        return 128 + signal.SIGINT if self.signal_number == signal.SIGINT else 0


@contextmanager
def stop_on_signal(longest_stop_s: int = LONGEST_STOP_S) -> Iterator[Stop]:
    """A Stop that SIGINT, SIGTERM and SIGHUP set, on Windows SIGBREAK in place of the last; for the main thread.

    SIGHUP stays ignored where it was, because nohup means that this process outlives its terminal.
    longest_stop_s: after the signal the process has this long, then the system ends it; 0 for no limit, as on Windows.
    """
    stop = Stop()

    def handle(number: int, _frame: FrameType | None) -> None:
        stop.signal_number = number
        stop.set()
        if longest_stop_s and sys.platform != "win32":
            signal.alarm(longest_stop_s)

    before = {number: signal.signal(number, handle) for number in _numbers()}
    try:
        yield stop
    finally:
        if sys.platform != "win32":
            signal.alarm(0)
        for number, handler in before.items():
            signal.signal(number, handler)


def _numbers() -> tuple[signal.Signals, ...]:
    if sys.platform == "win32":
        return signal.SIGINT, signal.SIGTERM, signal.SIGBREAK
    if signal.getsignal(signal.SIGHUP) == signal.SIG_IGN:
        return signal.SIGINT, signal.SIGTERM
    return signal.SIGINT, signal.SIGTERM, signal.SIGHUP


def ask_to_end(process: "subprocess.Popen[bytes]") -> None:
    """Has a process that was started in a group of its own end in good order."""
    if sys.platform == "win32":
        # There, terminate() leaves it no time for anything.
        process.send_signal(signal.CTRL_BREAK_EVENT)
    else:
        process.terminate()


def hear_ctrl_c() -> None:
    """Has SIGINT raise KeyboardInterrupt in the main thread, also where this process was started to ignore it.

    A shell without job control starts what runs in its background so, and Python then leaves it at that: a script could
    end none of our commands in good order.
    """
    if signal.getsignal(signal.SIGINT) == signal.SIG_IGN and threading.current_thread() is threading.main_thread():
        signal.signal(signal.SIGINT, signal.default_int_handler)


def end_with_parent() -> None:
    """Has the kernel send SIGTERM when the supervisor that started this process is gone (Linux: prctl(2)).

    Does nothing for a process that no supervisor started.
    """
    parent = os.environ.pop(PARENT_VARIABLE, "")
    # On Windows the parent of a process in a virtual environment is the launcher of that, which ends with its own.
    if not parent or sys.platform == "win32":
        return
    if sys.platform == "linux":
        import ctypes

        ctypes.CDLL(None, use_errno=True).prctl(_PR_SET_PDEATHSIG, signal.SIGTERM)
    # The supervisor may have died before the kernel was asked.
    if str(os.getppid()) != parent:
        os.kill(os.getpid(), signal.SIGTERM)
