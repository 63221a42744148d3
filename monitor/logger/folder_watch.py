"""A running cook while the folder of recordings is away: whether a recording is deleted, away, or back again."""

import math
from pathlib import Path

from monitor.logger.lock import LoggerLock
from monitor.logger.resume import AbsentCook
from monitor.logger.state_file import CookState
from monitor.runtime import Clock
from monitor.storage import FolderAwayError, WatchedFolder

# How often the state file outside the folder is brought up to date.
SAVE_STATE_EVERY_S = 300.0
# A recording that comes back may still be being copied by whoever put it back; until then it looks damaged.
COPIED_WITHIN_S = 120.0


class FolderWatch:
    """Watches over the folder and the recording of one logger.

    lock: the logger's locks, which are renewed when the folder is back. absent: the cook whose folder was away when
    this logger started, or None.
    """

    def __init__(self, lock: LoggerLock, folder: Path, clock: Clock, absent: AbsentCook | None) -> None:
        self._lock = lock
        self._clock = clock
        self._folder = absent.folder if absent is not None else WatchedFolder(folder)
        self._absent = absent.path if absent is not None else None
        self._saved_s = -math.inf
        self._away_s = -math.inf
        self._was_away = False

    @property
    def absent(self) -> Path | None:
        """The recording that was away when this logger started, until it is back; None where none is missing."""
        return self._absent

    def absence_text(self) -> str:
        """One sentence for a person who starts a logger whose cook is away."""
        assert self._absent is not None
        return (
            f"The recordings folder {self._folder.path} is away and the cook {self._absent.stem} with it; it goes on "
            "when its disk or share is back. To begin a new cook without it, start again with --begin-anew."
        )

    def note(self, port: str | None, path: Path | None) -> None:
        """Notes for other processes which port and which recording are this logger's."""
        self._lock.note(port, path.name if path is not None else None)

    def is_deleted(self, path: Path) -> bool:
        """Whether a person took the recording out of its folder. Raises FolderAwayError where the folder is away."""
        if self._folder.is_away(path.name):
            self._away_s = self._clock.real_s()
            self._was_away = True
            raise FolderAwayError(path)
        return not path.is_file()

    def may_be_incomplete(self, path: Path | None) -> bool:
        """Whether a recording that looks damaged was away a moment ago, so that the rest of it may follow."""
        return path is not None and self._clock.real_s() - self._away_s < COPIED_WITHIN_S

    def note_opened(self, path: Path) -> bool:
        """Notes that the recording is open; True where it was away when this logger started."""
        self._was_away = False
        self._lock.renew()
        self._save_state(path)
        came_back, self._absent = self._absent is not None, None
        return came_back

    def note_created(self, path: Path) -> None:
        """Notes a new cook, in whatever folder now stands there."""
        self._folder.accept_current()
        self._save_state(path)

    def is_in_place(self, path: Path) -> bool:
        """Whether the recording is still in its folder; to be asked about once a second."""
        if self._was_away or not path.is_file():
            return False
        self._lock.renew()
        if self._clock.real_s() - self._saved_s >= SAVE_STATE_EVERY_S:
            self._save_state(path)
        return True

    def _save_state(self, path: Path) -> None:
        identity = self._folder.identity
        if identity is not None:
            self._saved_s = self._clock.real_s()
            self._lock.state_file.write(CookState(path.name, identity, self._clock.anchor()))

    def note_finished(self) -> None:
        """Notes that the cook is over."""
        self._lock.state_file.write(None)
