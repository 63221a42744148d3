"""A program on this machine that is run for each notice, such as one that rings a bell."""

import os
import select
import signal
import subprocess
import sys
import threading
from contextlib import suppress

from monitor.notifications.channels.channel import Message, SendError
from monitor.notifications.settings import Command

LONGEST_S = 30.0
# The guard may take this much beyond the limit, to start and to end everything.
_GUARD_S = 10.0
_ENDS_WITHIN_S = 0.5
_MOST_REPORTED = 400


class CommandChannel:
    """Runs the program with the notice on its standard input, under a guard that ends it and all that it started.

    longest_s: the time limit, real seconds; also of what a program leaves running when it ends. One
    program of a command runs at a time: what is left of the last run is ended before the next.
    """

    def __init__(self, command: Command, longest_s: float = LONGEST_S) -> None:
        self.name = command.name
        self._run = command.run
        self._longest_s = longest_s
        self._lock = threading.Lock()
        self._guard: subprocess.Popen[bytes] | None = None
        # The write end of a pipe; when it closes, for whatever reason, the guard ends the program.
        self._lifeline: int | None = None
        self._closed = False

    def send(self, message: Message) -> None:
        """Runs the program to its end. Raises SendError."""
        if sys.platform == "win32":
            raise SendError("on this system nothing ends what a program leaves running")
        self._end_last()
        guard = self._start()
        report = ""
        try:
            assert guard.stdin is not None
            # Shorter than a pipe holds, so this waits for no reader.
            with suppress(BrokenPipeError), guard.stdin as notice:
                notice.write(f"{message.title}\n{message.notice.text}\n".encode())
            report = _report_of(guard, self._longest_s + _GUARD_S)
        finally:
            if not report:
                # A guard that says nothing was killed or hangs, and guards no more; its group is the program's.
                with suppress(ProcessLookupError):
                    os.killpg(guard.pid, signal.SIGKILL)
            if guard.stdout is not None:
                guard.stdout.close()
            try:
                guard.wait(_ENDS_WITHIN_S)
            except subprocess.TimeoutExpired:
                # The guard stays for what the program left running, and its end has to be waited for by somebody.
                threading.Thread(target=guard.wait, daemon=True).start()
        if not report:
            raise SendError("its program was ended")
        outcome, _, rest = report.partition(" ")
        if outcome == "late":
            raise SendError(f"its program took longer than {self._longest_s:g} s and was ended")
        if outcome == "cannot":
            raise SendError(f"its program cannot be run ({rest})")
        if rest != "0":
            raise SendError(f"its program ended with status {rest}")

    def _start(self) -> "subprocess.Popen[bytes]":
        with self._lock:
            if self._closed:
                raise SendError("it is closed")
            end, self._lifeline = os.pipe()
            argv = [
                sys.executable,
                "-m",
                "monitor.notifications.channels.guard",
                str(end),
                str(self._longest_s),
                *self._run,
            ]
            try:
                self._guard = subprocess.Popen(
                    argv,
                    stdin=subprocess.PIPE,
                    stdout=subprocess.PIPE,
                    stderr=subprocess.DEVNULL,
                    pass_fds=(end,),
                    # No terminal's Ctrl-C reaches it, and its group is its own.
                    start_new_session=True,
                )
            except OSError as error:
                os.close(self._lifeline)
                self._lifeline = None
                raise SendError(f"its program cannot be run ({error.strerror or 'unknown'})") from None
            finally:
                os.close(end)
            return self._guard

    def _end_last(self) -> None:
        """Has the guard end what is left of the last program, and waits for that."""
        with self._lock:
            guard, lifeline, self._guard, self._lifeline = self._guard, self._lifeline, None, None
            if lifeline is not None:
                os.close(lifeline)
        if guard is None:
            return
        try:
            guard.wait(_GUARD_S)
        except subprocess.TimeoutExpired:
            guard.kill()
            guard.wait()

    def close(self) -> None:
        """Has the running program ended within a few seconds, without waiting for that; runs no more."""
        with self._lock:
            self._closed = True
            if self._lifeline is not None:
                os.close(self._lifeline)
                self._lifeline = None


def _report_of(guard: "subprocess.Popen[bytes]", patience_s: float) -> str:
    """The guard's one line; empty where it ended or hung without one."""
    assert guard.stdout is not None
    ready, _, _ = select.select([guard.stdout], [], [], patience_s)
    line = os.read(guard.stdout.fileno(), _MOST_REPORTED) if ready else b""
    return line.decode(errors="replace").strip()
