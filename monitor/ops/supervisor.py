"""Keeps the parts of the program running, each in a process of its own."""

import os
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from threading import Event

from monitor.runtime import PARENT_VARIABLE, Clock, Level, Report, stop_on_signal

LOOK_EVERY_S = 0.1
STOP_WITHIN_S = 5.0
# A part that lived this long was well; its next death is a first one again.
WELL_AFTER_S = 5.0
FIRST_DELAY_S = 0.5
LAST_DELAY_S = 10.0
# What was killed from outside is not itself at fault and is back sooner.
LAST_DELAY_KILLED_S = 1.0
WRONG_USAGE = 2


@dataclass(frozen=True, slots=True)
class ChildProcess:
    """One part: its name for a person, its command line after ``kettleside``, whether it is started again."""

    name: str
    argv: tuple[str, ...]
    restart: bool = True


@dataclass(slots=True)
class _Running:
    child: ChildProcess
    process: subprocess.Popen[bytes] | None
    started_s: float
    deaths: int = 0
    again_s: float | None = None


def restart_delay_s(deaths: int, killed: bool) -> float:
    """How long to wait before the next start. deaths: how many times in a row it died soon after its start.

    >>> [restart_delay_s(n, False) for n in (0, 1, 2, 3, 9)]
    [0.0, 0.0, 0.5, 1.0, 10.0]
    """
    if deaths < 2:
        return 0.0
    longest_s = LAST_DELAY_KILLED_S if killed else LAST_DELAY_S
    return min(longest_s, FIRST_DELAY_S * 2.0 ** min(deaths - 2, 10))


class Supervisor:
    """Starts children, starts them again when they die, and ends them all together."""

    def __init__(self, children: Sequence[ChildProcess], clock: Clock, say: Report) -> None:
        self._clock = clock
        self._say = say
        self._parts = [_Running(child, None, 0.0, again_s=0.0) for child in children]

    def run(self, stop: Event | None = None) -> int:
        """Runs until ``stop`` is set, a signal asks for the end, or every child is done. For the main thread.

        Returns 0; 130 after Ctrl-C; 1 when a child that is not started again failed; 2 when a child says that
        it was called wrongly, which ends the whole.
        """
        with stop_on_signal(longest_stop_s=0) as signalled:
            worst = 0
            try:
                while not signalled.is_set() and not (stop is not None and stop.is_set()):
                    for part in self._parts:
                        status = self._look_at(part)
                        if status == WRONG_USAGE:
                            return WRONG_USAGE
                        worst = max(worst, status)
                    if all(part.process is None and part.again_s is None for part in self._parts):
                        return worst
                    signalled.wait(LOOK_EVERY_S)
                return signalled.exit_status
            finally:
                self._end_all()

    def _look_at(self, part: _Running) -> int:
        """Takes note of a death, starts what is due; 0, or the exit status that matters to the whole."""
        now_s = self._clock.real_s()
        if part.process is not None and (code := part.process.poll()) is not None:
            part.process = None
            if code == WRONG_USAGE:
                # It has said why on standard error.
                return WRONG_USAGE
            if not part.child.restart:
                return self._ended_for_good(part, code)
            part.deaths = part.deaths + 1 if now_s - part.started_s < WELL_AFTER_S else 0
            delay_s = restart_delay_s(part.deaths, code < 0)
            part.again_s = now_s + delay_s
            when = f"in {delay_s:g} s" if delay_s else "at once"
            self._say(f"The {part.child.name} {_death(code)}; it is started again {when}.", Level.WARNING)
        if part.again_s is not None and now_s >= part.again_s:
            part.again_s = None
            self._start(part, now_s)
        return 0

    def _ended_for_good(self, part: _Running, code: int) -> int:
        if code == 0:
            return 0
        self._say(f"The {part.child.name} {_death(code)}.", Level.ERROR)
        return 1

    def _start(self, part: _Running, now_s: float) -> None:
        part.started_s = now_s
        try:
            part.process = subprocess.Popen(
                [sys.executable, "-m", "monitor.cli", *part.child.argv],
                env={**os.environ, PARENT_VARIABLE: str(os.getpid())},
                stdin=subprocess.DEVNULL,
                # Ctrl-C is for the supervisor, which then ends them in good order.
                process_group=0,
            )
        except OSError as error:
            part.deaths += 1
            part.again_s = now_s + max(restart_delay_s(part.deaths, False), FIRST_DELAY_S)
            self._say(f"The {part.child.name} cannot be started: {error.strerror}; it is tried again.", Level.ERROR)

    def _end_all(self) -> None:
        alive = [part.process for part in self._parts if part.process is not None and part.process.poll() is None]
        for process in alive:
            process.terminate()
        deadline_s = self._clock.real_s() + STOP_WITHIN_S
        for process in alive:
            try:
                process.wait(max(0.0, deadline_s - self._clock.real_s()))
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()


def _death(code: int) -> str:
    return f"was ended by signal {-code}" if code < 0 else f"ended with status {code}"
