"""A logger's hold on its cook through an absence of the folder: what is gone, what is away, and what comes back."""

import math
from pathlib import Path

from monitor.logger.lock import LoggerLock
from monitor.logger.resume import AbsentCook
from monitor.logger.state_file import CookState
from monitor.runtime import Clock
from monitor.storage import FolderAwayError, WatchedFolder

# What was kept of the cook outside its folder is brought up to date this often.
KEEP_EVERY_S = 300.0
# A recording that comes back may still be copied by whoever put it back; until then it looks damaged.
MENDS_WITHIN_S = 120.0


class FolderWatch:
    """Of one logger. only: its locks. waits: the cook that was away at the start, or None.

    awaited: that cook's file until it has come back.
    """

    def __init__(self, only: LoggerLock, folder: Path, clock: Clock, waits: AbsentCook | None) -> None:
        self._only = only
        self._clock = clock
        self._place = waits.place if waits is not None else WatchedFolder(folder)
        self.awaited = waits.path if waits is not None else None
        self._kept_s = -math.inf
        self._away_s = -math.inf
        self._was_away = False

    def in_words(self) -> str:
        """What a person is told who starts a logger whose cook is away."""
        assert self.awaited is not None
        return (
            f"The recordings folder {self._place.folder} is away and the cook {self.awaited.stem} with it; it goes on "
            "when its disk or share is back. To begin a new cook without it, start again with --begin-anew."
        )

    def note(self, port: str | None, path: Path | None) -> None:
        """Notes for other processes which port and which recording are this logger's."""
        self._only.note(port, path.name if path is not None else None)

    def is_taken_out(self, path: Path) -> bool:
        """Whether a person took the recording out of its folder. Raises FolderAwayError where the folder is away."""
        if self._place.is_away(path.name):
            self._away_s = self._clock.real_s()
            self._was_away = True
            raise FolderAwayError(path)
        return not path.is_file()

    def may_mend(self, path: Path | None) -> bool:
        """Whether a recording that cannot be read was away a moment ago, so that the rest of it may follow."""
        return path is not None and self._clock.real_s() - self._away_s < MENDS_WITHIN_S

    def has_come_back(self, path: Path) -> bool:
        """Takes note that the recording is open; whether it is the one that was away when this logger began."""
        self._was_away = False
        self._only.renew()
        self._keep(path)
        came_back, self.awaited = self.awaited is not None, None
        return came_back

    def begins(self, path: Path) -> None:
        """Takes note of a new cook, wherever the folder now is."""
        self._place.settle()
        self._keep(path)

    def look(self, path: Path) -> bool:
        """Whether the recording is there, once a second."""
        if self._was_away or not path.is_file():
            return False
        self._only.renew()
        if self._clock.real_s() - self._kept_s >= KEEP_EVERY_S:
            self._keep(path)
        return True

    def _keep(self, path: Path) -> None:
        known = self._place.known
        if known is not None:
            self._kept_s = self._clock.real_s()
            self._only.whereabouts.keep(CookState(path.name, known, self._clock.anchor()))

    def ends(self) -> None:
        """The cook is over."""
        self._only.whereabouts.keep(None)
