"""Recordings taken out of a folder and kept hidden for a day, so that a deletion can be undone."""

import shutil
from dataclasses import dataclass
from pathlib import Path

from monitor.storage.connections import fold
from monitor.storage.errors import RecordingError, errors_named
from monitor.storage.index import under_way
from monitor.storage.schema import SUFFIX

# Inside the folder of recordings, so that nothing moves to another disk; a list of cooks does not look into it.
HIDDEN = ".removed"
KEPT_S = 86_400.0


@dataclass(frozen=True, slots=True)
class TrashedCook:
    """A recording that was taken out. name: as the list had it; at: Unix seconds; path: where it waits."""

    name: str
    at: float
    path: Path


def remove(recording: Path, now: float) -> TrashedCook:
    """Takes a recording that has ended out of its folder. now: Unix seconds.

    Raises RecordingError when it is running, is not there or cannot be moved.
    """
    if not recording.is_file():
        raise RecordingError(recording, "there is no such file")
    if recording in under_way(recording.parent).values():
        raise RecordingError(recording, "it is running; finish it first")
    place = recording.parent / HIDDEN / f"{int(now)}"
    with errors_named(recording):
        # What still stands in its log would be left behind.
        if recording.with_name(f"{recording.name}-wal").exists() and not fold(recording):
            raise RecordingError(recording, "another program is reading it; try again")
        place.mkdir(parents=True, exist_ok=True)
        recording.rename(place / recording.name)
    return TrashedCook(recording.stem, float(int(now)), place / recording.name)


def trashed(folder: Path) -> list[TrashedCook]:
    """What waits to be undone, the latest first."""
    found = [
        TrashedCook(path.stem, float(path.parent.name), path)
        for path in (folder / HIDDEN).glob(f"*/*{SUFFIX}")
        if path.parent.name.isdecimal()
    ]
    return sorted(found, key=lambda one: (one.at, one.name), reverse=True)


def restore(folder: Path, name: str) -> Path:
    """Puts the recording of this name back that was removed last; its file. Raises RecordingError."""
    one = next((one for one in trashed(folder) if one.name == name), None)
    path = folder / f"{name}{SUFFIX}"
    if one is None:
        raise RecordingError(path, "it was not deleted within the last day")
    if path.exists():
        raise RecordingError(path, "there is a cook of this name again")
    with errors_named(path):
        one.path.rename(path)
        _tidy(one.path.parent)
    return path


def purge(folder: Path, now: float) -> int:
    """Deletes for good what was removed more than a day before ``now`` (Unix seconds); how many."""
    old = [one for one in trashed(folder) if now - one.at > KEPT_S]
    for one in old:
        with errors_named(one.path):
            one.path.unlink(missing_ok=True)
            _tidy(one.path.parent)
    return len(old)


def _tidy(place: Path) -> None:
    if not any(place.iterdir()):
        shutil.rmtree(place, ignore_errors=True)
