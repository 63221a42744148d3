"""Keeps the processes of the program running: starts them again when they die, and ends them together."""

import os
import subprocess
import sys
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from threading import Event

from monitor.ops.service_manager import ServiceManager
from monitor.runtime import (
    HEARTBEAT_VARIABLE,
    OWN_GROUP_FLAGS,
    OWN_PROCESS_GROUP,
    PARENT_VARIABLE,
    Clock,
    Level,
    Report,
    ask_to_end,
    stop_on_signal,
)

POLL_EVERY_S = 0.1
STOP_WITHIN_S = 5.0
# A child that lived this long, s, was well; its next death counts as the first again.
WELL_AFTER_S = 5.0
# All children that live this long, s, have got past their beginning: the program does its work.
READY_AFTER_S = 2.0
# A child that keeps dying for this long, s, is not brought back by starting it alone.
DOWN_S = 60.0
# A child that has given signs of life and then gives none for this long, s, hangs. A name server that is away holds
# one up for half a minute.
HUNG_S = 90.0
FIRST_DELAY_S = 0.5
LAST_DELAY_S = 10.0
# A child that was killed from outside is not itself at fault and is back sooner.
LAST_DELAY_KILLED_S = 1.0
WRONG_USAGE = 2


@dataclass(frozen=True, slots=True)
class ChildProcess:
    """One child. name: for a person. argv: its arguments after ``kettleside``."""

    name: str
    argv: tuple[str, ...]


@dataclass(slots=True)
class _Supervised:
    spec: ChildProcess
    process: subprocess.Popen[bytes] | None
    started_s: float
    deaths: int = 0
    again_s: float | None = None
    # Since when it has not been well, real seconds.
    down_s: float | None = None
    # The pipe of its signs of life, and when one last came, real seconds; None before the first.
    heartbeat: int | None = None
    heard_s: float | None = None


def restart_delay_s(deaths: int, killed: bool) -> float:
    """The wait before the next start, s. deaths: how many times in a row the child died soon after its start.

    >>> [restart_delay_s(n, False) for n in (0, 1, 2, 3, 9)]
    [0.0, 0.0, 0.5, 1.0, 10.0]
    """
    if deaths < 2:
        return 0.0
    longest_s = LAST_DELAY_KILLED_S if killed else LAST_DELAY_S
    return min(longest_s, FIRST_DELAY_S * 2.0 ** min(deaths - 2, 10))


class Supervisor:
    """Starts children, starts them again when they die, and ends them all together.

    manager: is told when all run, and that they live for as long as each is well or was well within the minute.
    """

    def __init__(
        self,
        children: Sequence[ChildProcess],
        clock: Clock,
        report: Report,
        manager: ServiceManager | None = None,
    ) -> None:
        self._manager = manager or ServiceManager()
        self._clock = clock
        self._report = report
        self._looked_s = clock.real_s()
        self._children = [_Supervised(child, None, 0.0, again_s=0.0) for child in children]

    def run(self, stop: Event | None = None) -> int:
        """Runs until ``stop`` is set or a signal asks for the end. For the main thread.

        Returns 0; 130 after Ctrl-C; 2 when a child says that its arguments are wrong, which ends the whole.
        """
        with stop_on_signal(longest_stop_s=0) as signalled:
            try:
                while not signalled.is_set() and not (stop is not None and stop.is_set()):
                    for child in self._children:
                        if self._exit_code(child) == WRONG_USAGE:
                            # The child has said why on standard error.
                            return WRONG_USAGE
                        self._start_if_due(child)
                    self._end_hung(self._clock.real_s())
                    self._tell_manager(self._clock.real_s())
                    signalled.wait(POLL_EVERY_S)
                return signalled.exit_status
            finally:
                self._manager.stopping()
                self._end_all()

    def _exit_code(self, child: _Supervised) -> int | None:
        """The exit code of a child that has just died, whose restart is then planned; else None."""
        if child.process is None or (code := child.process.poll()) is None:
            return None
        child.process = None
        self._forget_heartbeat(child)
        if code != WRONG_USAGE:
            now_s = self._clock.real_s()
            child.deaths = child.deaths + 1 if now_s - child.started_s < WELL_AFTER_S else 0
            child.down_s = now_s if child.down_s is None else child.down_s
            delay_s = restart_delay_s(child.deaths, code < 0)
            child.again_s = now_s + delay_s
            when = f"in {delay_s:g} s" if delay_s else "at once"
            self._report(f"The {child.spec.name} {_death(code)}; it is started again {when}.", Level.WARNING)
        return code

    def _start_if_due(self, child: _Supervised) -> None:
        now_s = self._clock.real_s()
        if child.again_s is not None and now_s >= child.again_s:
            child.again_s = None
            self._start(child, now_s)

    def _start(self, child: _Supervised, now_s: float) -> None:
        child.started_s = now_s
        child.heartbeat, pipe = _heartbeat_pipe()
        try:
            child.process = subprocess.Popen(
                [sys.executable, "-m", "monitor.cli", *child.spec.argv],
                env={**os.environ, PARENT_VARIABLE: str(os.getpid()), HEARTBEAT_VARIABLE: " ".join(map(str, pipe))},
                pass_fds=pipe,
                stdin=subprocess.DEVNULL,
                # Ctrl-C is for the supervisor, which then ends them in good order.
                process_group=OWN_PROCESS_GROUP,
                creationflags=OWN_GROUP_FLAGS,
            )
        except OSError as error:
            self._forget_heartbeat(child)
            child.deaths += 1
            child.down_s = now_s if child.down_s is None else child.down_s
            child.again_s = now_s + max(restart_delay_s(child.deaths, False), FIRST_DELAY_S)
            self._report(f"The {child.spec.name} cannot be started: {error.strerror}; it is tried again.", Level.ERROR)

        finally:
            for end in pipe:
                os.close(end)

    def _end_hung(self, now_s: float) -> None:
        """Kills each child that is alive and has given no sign of it; it is then started again as one that died."""
        # After the machine was suspended nobody has had time to give one.
        slept, self._looked_s = now_s - self._looked_s > HUNG_S / 3.0, now_s
        for child in self._children:
            if child.process is None or child.heartbeat is None:
                continue
            with suppress(BlockingIOError):
                if os.read(child.heartbeat, 65536):
                    child.heard_s = now_s
            if slept and child.heard_s is not None:
                child.heard_s = now_s
            if child.heard_s is not None and now_s - child.heard_s > HUNG_S:
                self._report(f"The {child.spec.name} has given no sign of life for {HUNG_S:g} s.", Level.WARNING)
                child.heard_s = None
                child.process.kill()

    def _forget_heartbeat(self, child: _Supervised) -> None:
        if child.heartbeat is not None:
            os.close(child.heartbeat)
        child.heartbeat = child.heard_s = None

    def _tell_manager(self, now_s: float) -> None:
        for child in self._children:
            if child.process is not None and now_s - child.started_s >= WELL_AFTER_S:
                child.down_s = None
        if all(child.process is not None and now_s - child.started_s >= READY_AFTER_S for child in self._children):
            self._manager.ready()
        if all(child.down_s is None or now_s - child.down_s < DOWN_S for child in self._children):
            self._manager.alive(now_s)
        down = [child.spec.name for child in self._children if child.process is None or child.down_s is not None]
        running = ", ".join(child.spec.name for child in self._children if child.spec.name not in down)
        self._manager.status(f"Runs: {running or 'nothing'}." + (f" Started again: {', '.join(down)}." if down else ""))

    def _end_all(self) -> None:
        alive = [
            child.process for child in self._children if child.process is not None and child.process.poll() is None
        ]
        for process in alive:
            ask_to_end(process)
        deadline_s = self._clock.real_s() + STOP_WITHIN_S
        for process in alive:
            try:
                process.wait(max(0.0, deadline_s - self._clock.real_s()))
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()


def _heartbeat_pipe() -> tuple[int | None, tuple[int, ...]]:
    """The end to read signs of life from, and the one to hand to a child; nothing where a child inherits no pipe."""
    if sys.platform == "win32":
        return None, ()
    ends = os.pipe()
    for end in ends:
        os.set_blocking(end, False)
    return ends[0], ends[1:]


def _death(code: int) -> str:
    return f"was ended by signal {-code}" if code < 0 else f"ended with status {code}"
