"""Deleted recordings, kept in a hidden folder for a day, so that a deletion can be undone."""

import shutil
from dataclasses import dataclass
from pathlib import Path

from monitor.storage.connections import RecordingError, errors_named, fold
from monitor.storage.index import under_way
from monitor.storage.schema import SUFFIX

# Inside the folder of recordings, so that nothing moves to another disk; the list of cooks does not look into it.
TRASH = ".removed"
KEPT_FOR_S = 86_400.0


@dataclass(frozen=True, slots=True)
class TrashedCook:
    """A deleted recording. name: of the cook. at: when it was deleted, Unix seconds. path: where it is kept."""

    name: str
    at: float
    path: Path


def remove(recording: Path, now: float) -> TrashedCook:
    """Moves a recording that has ended into the trash. now: Unix seconds.

    Raises RecordingError when it is running, is not there or cannot be moved.
    """
    if not recording.is_file():
        raise RecordingError(recording, "there is no such file")
    if recording in under_way(recording.parent).values():
        raise RecordingError(recording, "it is running; finish it first")
    place = recording.parent / TRASH / f"{int(now)}"
    with errors_named(recording):
        # Readings that are still in its write-ahead log would be left behind.
        if recording.with_name(f"{recording.name}-wal").exists() and not fold(recording):
            raise RecordingError(recording, "another program is reading it; try again")
        place.mkdir(parents=True, exist_ok=True)
        recording.rename(place / recording.name)
    return TrashedCook(recording.stem, float(int(now)), place / recording.name)


def trashed(folder: Path) -> list[TrashedCook]:
    """The recordings in the trash, the latest deletion first."""
    cooks = [
        TrashedCook(path.stem, float(path.parent.name), path)
        for path in (folder / TRASH).glob(f"*/*{SUFFIX}")
        if path.parent.name.isdecimal()
    ]
    return sorted(cooks, key=lambda cook: (cook.at, cook.name), reverse=True)


def restore(folder: Path, name: str) -> Path:
    """Puts back the recording of this name that was deleted last; returns its file. Raises RecordingError."""
    cook = next((cook for cook in trashed(folder) if cook.name == name), None)
    path = folder / f"{name}{SUFFIX}"
    if cook is None:
        raise RecordingError(path, "it was not deleted within the last day")
    if path.exists():
        raise RecordingError(path, "there is a cook of this name again")
    with errors_named(path):
        cook.path.rename(path)
        _delete_empty(cook.path.parent)
    return path


def purge(folder: Path, now: float) -> int:
    """Deletes for good what was deleted more than a day before ``now`` (Unix seconds); returns how many."""
    old = [cook for cook in trashed(folder) if now - cook.at > KEPT_FOR_S]
    for cook in old:
        with errors_named(cook.path):
            cook.path.unlink(missing_ok=True)
            _delete_empty(cook.path.parent)
    return len(old)


def _delete_empty(place: Path) -> None:
    if not any(place.iterdir()):
        shutil.rmtree(place, ignore_errors=True)
