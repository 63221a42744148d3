"""One process that tells of several cookers: each in its turn, and each only while no other process tells of it."""

from collections.abc import Callable, Iterable
from pathlib import Path
from threading import Event

from monitor.notifications.notifier import Notifier
from monitor.notifications.store import NoticeFileError, NotifierLock
from monitor.runtime import Clock, Level, Report

LOOK_EVERY_S = 3.0
LOOK_IDLE_S = 10.0


class RigNotifier:
    """One cooker's turn. rig: its name. make: its teller, made once this process has the right to tell."""

    def __init__(self, folder: Path, rig: str, make: Callable[[str], Notifier], say: Report) -> None:
        self._folder = folder
        self._rig = rig
        self._right = NotifierLock(folder, rig)
        self._make = make
        self._say = say
        self._teller: Notifier | None = None
        self._said = ""
        self.due_s = 0.0

    def take(self) -> None:
        """Takes the right to tell where it is free. Raises NoticeFileError."""
        if not self._folder.is_dir():
            # It is the logger's to make, and may be away.
            self._note(f"There is no folder {self._folder}; the notices wait for it.", Level.WARNING)
        elif self._right.take():
            self._teller = self._teller or self._make(self._rig)
            self._note("", Level.NOTE)
        else:
            words = f"Another process tells of the cooker {self._rig}; this one waits, and goes on when that one ends."
            self._note(words, Level.NOTE)

    def look(self, now_s: float) -> None:
        """One look, or one more try to have the right. now_s: real seconds."""
        self.due_s = now_s + LOOK_EVERY_S
        if self._teller is None:
            try:
                self.take()
            except NoticeFileError as error:
                self._note(str(error), Level.WARNING)
        if self._teller is not None and not self._teller.look():
            self.due_s = now_s + LOOK_IDLE_S

    def _note(self, words: str, level: Level) -> None:
        if words and words != self._said:
            self._say(words, level)
        self._said = words

    def close(self) -> None:
        """Gives the right back."""
        if self._teller is not None:
            self._teller.close()
        self._right.give_back()


def run_notifiers(turns: Iterable[RigNotifier], clock: Clock, stop: Event) -> None:
    """Tells of every cooker until ``stop`` is set. Raises NoticeFileError where it may tell of none from the start."""
    every = tuple(turns)
    try:
        _take_all(every)
        while not stop.is_set():
            for turn in every:
                if not stop.is_set() and turn.due_s <= clock.real_s():
                    turn.look(clock.real_s())
            stop.wait(max(0.0, min(turn.due_s for turn in every) - clock.real_s()))
    finally:
        for turn in every:
            turn.close()


def _take_all(turns: tuple[RigNotifier, ...]) -> None:
    troubles: list[NoticeFileError] = []
    for turn in turns:
        try:
            turn.take()
        except NoticeFileError as error:
            troubles.append(error)
    if len(troubles) == len(turns):
        raise troubles[0]
