"""Finished recordings whose write-ahead log is still to be folded in, because somebody was reading them."""

from collections.abc import Iterable
from pathlib import Path

from monitor.runtime import Clock
from monitor.storage import RecordingError, fold, is_running, recordings

FOLD_EVERY_S = 2.0


class FoldQueue:
    """Folds each recording as soon as nobody holds it up."""

    def __init__(self, clock: Clock, paths: Iterable[Path] = ()) -> None:
        self._clock = clock
        self._paths = list(paths)
        self._due_s = 0.0

    def __bool__(self) -> bool:
        return bool(self._paths)

    def add(self, path: Path) -> None:
        """Queues a finished recording."""
        self._paths.append(path)

    def discard(self, path: Path) -> None:
        """Takes out a recording that is written again."""
        self._paths = [other for other in self._paths if other != path]

    def work(self) -> None:
        """Tries each queued recording, at most once in 2 s."""
        if self._paths and self._clock.real_s() >= self._due_s:
            self._due_s = self._clock.real_s() + FOLD_EVERY_S
            self._paths = [path for path in self._paths if not _is_folded(path)]


def unfolded(folder: Path, rig: str, resumed: Path | None) -> list[Path]:
    """The recordings that a logger left unfolded when it died, apart from the one that is resumed.

    A running cook of another rig is that rig's own. Raises RecordingError.
    """
    return [path for path in recordings(folder) if path != resumed and _is_left_over(path, rig)]


def _is_left_over(path: Path, rig: str) -> bool:
    if not path.with_name(f"{path.name}-wal").exists():
        return False
    return is_running(path, rig) or not is_running(path)


def _is_folded(path: Path) -> bool:
    """Whether nothing is left to be done about this recording; folds it where it can."""
    if not path.is_file():
        # The folder may be away for a while, and the file with it.
        return path.parent.is_dir()
    try:
        return fold(path)
    except RecordingError:
        return False
