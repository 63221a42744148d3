"""The kitchen's earlier cooks, read from its recordings."""

from functools import lru_cache
from pathlib import Path

from monitor.catalogue import recordings, summary
from monitor.progress.kitchen import Kitchen, Lesson, learn, lesson
from monitor.recording import RecordingError
from monitor.roll import load

# Older ones have faded by then, and each costs some tens of milliseconds to read.
MOST_COOKS = 16


@lru_cache(maxsize=256)
def _lesson(path: Path, _changed_ns: int, _size: int) -> Lesson | None:
    return lesson(load(path, roles=("paste",)))


def kitchen(folder: Path, began: float) -> Kitchen:
    """What the cooks of a folder that had ended by ``began`` (Unix seconds) have taught.

    A file that cannot be read teaches nothing.
    """
    found: list[tuple[float, Lesson]] = []
    for path in recordings(folder):
        if len(found) >= MOST_COOKS:
            break
        try:
            head = summary(path)
            if head.finished is None or max(head.finished, head.last_known) > began:
                continue
            status = path.stat()
            one = _lesson(path, status.st_mtime_ns, status.st_size)
        except (RecordingError, OSError):
            continue
        if one is not None:
            found.append((head.finished, one))
    return learn([one for _, one in sorted(found, key=lambda pair: pair[0])])
