"""Finished cooks, read back from a folder's recordings, for learning and for review."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from monitor.model import History
from monitor.probes import COLD, convert_history
from monitor.simulator import INVENTED
from monitor.storage import CalibrationLog, CookSummary, RecordingError, load, recordings, summary

# So many of a kitchen's cooks teach: older ones have faded by then, and each costs some tens of milliseconds to read.
MOST_COOKS = 16


@dataclass(frozen=True, slots=True)
class FileVersion:
    """A recording as it is now on disk: what is computed from a cook is kept in memory by this key.

    changed_ns: time of the last change, ns. size: bytes.
    """

    path: Path
    changed_ns: int
    size: int


def file_version(path: Path) -> FileVersion:
    """The present version of a recording. Raises RecordingError where there is none."""
    try:
        status = path.stat()
    except OSError as error:
        raise RecordingError(path, (error.strerror or str(error)).lower()) from None
    return FileVersion(path, status.st_mtime_ns, status.st_size)


def finished_cooks(folder: Path) -> Iterator[CookSummary]:
    """The finished cooks of a folder, the latest first; files that cannot be read are passed over."""
    for path in recordings(folder):
        try:
            cook = summary(path)
        except RecordingError:
            continue
        if cook.finished is not None:
            yield cook


def is_sample(cook: CookSummary) -> bool:
    """Whether a cook was invented to be looked at; no kitchen is known by such."""
    return cook.about.source == INVENTED


def teaching_cooks(folder: Path, began: float | None = None) -> Iterator[CookSummary]:
    """The finished cooks of a kitchen, the latest first, without those that were invented to be looked at.

    began: only cooks that had ended by then (Unix seconds), or all.
    """
    for cook in finished_cooks(folder):
        ended = max(cook.finished or 0.0, cook.last_known)
        if not is_sample(cook) and (began is None or ended <= began):
            yield cook


def read_history(path: Path, *roles: str) -> History:
    """The channels of these roles and the events of a finished cook, by the calibrations that were known at its end.

    Later calibrations do not change it. Raises RecordingError.
    """
    rig = summary(path).about.rig
    return convert_history(load(path, roles=(*roles, COLD)), CalibrationLog(path.parent).facts(), rig)


# Two temperatures of a day of cooking take some megabytes, so only the cooks that a person compares are kept.
@lru_cache(maxsize=32)
def _past_history(version: FileVersion) -> History:
    return read_history(version.path, "paste", "wall")


def past_history(path: Path) -> History:
    """Paste, wall and events of a finished cook, kept in memory while the file stays the same.

    Raises RecordingError.
    """
    return _past_history(file_version(path))
