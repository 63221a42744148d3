"""One process that notifies for several rigs, each only while no other process does."""

from collections.abc import Callable, Iterable
from pathlib import Path
from threading import Event

from monitor.notifications.notifier import Notifier
from monitor.notifications.store import NoticeFileError, NotifierLock
from monitor.runtime import Clock, Level, Report, beat

UPDATE_EVERY_S = 3.0
UPDATE_IDLE_S = 10.0


class RigNotifier:
    """The notifier of one rig, made once this process holds the rig's lock.

    rig: its name. make: makes the notifier. next_update_s: when ``update`` is due, real seconds.
    """

    def __init__(self, folder: Path, rig: str, make: Callable[[str], Notifier], report: Report) -> None:
        self._folder = folder
        self._rig = rig
        self._lock = NotifierLock(folder, rig)
        self._make = make
        self._report = report
        self._notifier: Notifier | None = None
        self._reported = ""
        self.next_update_s = 0.0

    def acquire(self) -> None:
        """Takes the lock where it is free. Raises NoticeFileError."""
        if not self._folder.is_dir():
            # The logger makes it, and its disk may be away.
            self._report_once(f"There is no folder {self._folder}; the notices wait for it.", Level.WARNING)
        elif self._lock.acquire():
            self._notifier = self._notifier or self._make(self._rig)
            self._report_once("", Level.NOTE)
        else:
            text = f"Another process tells of the cooker {self._rig}; this one waits, and goes on when that one ends."
            self._report_once(text, Level.NOTE)

    def update(self, now_s: float) -> None:
        """Updates the notifier, or tries again to take the lock. now_s: real seconds."""
        self.next_update_s = now_s + UPDATE_EVERY_S
        if self._notifier is None:
            try:
                self.acquire()
            except NoticeFileError as error:
                self._report_once(str(error), Level.WARNING)
        if self._notifier is not None and not self._notifier.update():
            self.next_update_s = now_s + UPDATE_IDLE_S

    def _report_once(self, text: str, level: Level) -> None:
        if text and text != self._reported:
            self._report(text, level)
        self._reported = text

    def close(self) -> None:
        """Releases the lock."""
        if self._notifier is not None:
            self._notifier.close()
        self._lock.release()


def run_notifiers(notifiers: Iterable[RigNotifier], clock: Clock, stop: Event) -> None:
    """Notifies for every rig until ``stop`` is set. Raises NoticeFileError where no rig's lock can be used at first."""
    every = tuple(notifiers)
    try:
        _acquire_all(every)
        while not stop.is_set():
            for notifier in every:
                if not stop.is_set() and notifier.next_update_s <= clock.real_s():
                    notifier.update(clock.real_s())
            beat()
            stop.wait(max(0.0, min(notifier.next_update_s for notifier in every) - clock.real_s()))
    finally:
        for notifier in every:
            notifier.close()


def _acquire_all(notifiers: tuple[RigNotifier, ...]) -> None:
    errors: list[NoticeFileError] = []
    for notifier in notifiers:
        try:
            notifier.acquire()
        except NoticeFileError as error:
            errors.append(error)
    if len(errors) == len(notifiers):
        raise errors[0]
