"""The cooks of a folder: the head and the summary of each, and which one is under way.

Loads no numpy, because the logger needs this module and must stay small. Each read opens the file read-only and closes
it again, because an open reader would hold up the writer's ``finish``.
"""

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from monitor.model import AFTER_COOK, Event
from monitor.storage.connections import RecordingError, reading
from monitor.storage.contents import CookHeader, finished_at, header_from, read_batch, read_events, text
from monitor.storage.logger_notes import logger_status
from monitor.storage.schema import SUFFIX


def read_header(path: Path) -> CookHeader:
    """The header of a recording. Raises RecordingError."""
    with reading(path) as connection:
        return header_from(path, connection)


_LAST_OF_COOK = f"SELECT max(known) FROM event WHERE kind NOT IN ({', '.join('?' * len(AFTER_COOK))})"


@dataclass(frozen=True, slots=True)
class CookSummary:
    """What a list of cooks shows of one cook.

    last_known: when the latest pack or event became known, but for what is logged of the batch after its cook;
    finished: when the cook ended, or None; both Unix seconds. events: those that were not withdrawn.
    """

    path: Path
    about: CookHeader
    title: str
    last_known: float
    finished: float | None
    events: tuple[Event, ...]


def summary(path: Path) -> CookSummary:
    """The summary of one recording; its readings are not read.

    It is cached until the file changes, where the write-ahead log is folded in. Raises RecordingError.
    """
    try:
        file = path.stat()
        has_log = path.with_name(f"{path.name}-wal").exists()
    except OSError:
        return _read_summary(path)
    return _read_summary(path) if has_log else _cached_summary(path, (file.st_mtime_ns, file.st_size, file.st_ino))


@lru_cache(maxsize=4096)
def _cached_summary(path: Path, _stamp: tuple[int, int, int]) -> CookSummary:
    return _read_summary(path)


def _read_summary(path: Path) -> CookSummary:
    with reading(path) as connection:
        header = header_from(path, connection)
        last = connection.execute("SELECT known FROM pack ORDER BY id DESC LIMIT 1").fetchone()
        withdrawn = {text(row[0]) for row in connection.execute("SELECT uid FROM withdrawal")}
        events = tuple(event for event in read_events(connection) if event.uid not in withdrawn)
        of_cook = (event.known for event in events if event.kind not in AFTER_COOK)
        moments = [float(last[0]) if last else header.started, *of_cook]
        batch = read_batch(header.sheet)
        return CookSummary(
            path,
            header,
            batch.title if batch else "No batch sheet",
            max(moments),
            finished_at(connection),
            events,
        )


def recordings(folder: Path) -> list[Path]:
    """The files in a folder that are named as recordings, the latest first. Raises RecordingError."""
    try:
        return sorted(folder.glob(f"*{SUFFIX}"), reverse=True)
    except OSError as error:
        raise RecordingError(folder, (error.strerror or str(error)).lower()) from None


def is_running(path: Path, rig: str | None = None) -> bool:
    """Whether this is a recording that nobody has finished, and of this rig where one is named."""
    try:
        with reading(path) as connection:
            is_of_rig = rig is None or header_from(path, connection).rig == rig
            return is_of_rig and finished_at(connection) is None
    except RecordingError:
        return False


@dataclass(frozen=True, slots=True)
class _RecordingState:
    """What decides whether a recording is under way. last_known: as in CookSummary."""

    rig: str
    finished: bool
    last_known: float


def _recording_state(path: Path) -> _RecordingState | None:
    """None for a file that is no recording."""
    try:
        file = path.stat()
        has_log = path.with_name(f"{path.name}-wal").exists()
    except OSError:
        return None
    return (
        _read_recording_state(path)
        if has_log
        else _cached_recording_state(path, (file.st_mtime_ns, file.st_size, file.st_ino))
    )


@lru_cache(maxsize=4096)
def _cached_recording_state(path: Path, _stamp: tuple[int, int, int]) -> _RecordingState | None:
    return _read_recording_state(path)


def _read_recording_state(path: Path) -> _RecordingState | None:
    try:
        with reading(path) as connection:
            header = header_from(path, connection)
            pack = connection.execute("SELECT known FROM pack ORDER BY id DESC LIMIT 1").fetchone()
            event = connection.execute(_LAST_OF_COOK, tuple(AFTER_COOK)).fetchone()
            moments = [header.started, *(float(row[0]) for row in (pack, event) if row and row[0] is not None)]
            return _RecordingState(header.rig, finished_at(connection) is not None, max(moments))
    except RecordingError:
        return None


def _unfinished(folder: Path) -> dict[str, tuple[list[tuple[float, Path]], str | None]]:
    """By rig, (last known, path) of what nobody has finished in the order of ``unfinished``, and what its logger notes.

    The note is the file name of the cook that the logger recorded last, or None.
    """
    by_rig: dict[str, list[tuple[float, Path]]] = {}
    for path in recordings(folder):
        state = _recording_state(path)
        if state is not None and not state.finished:
            by_rig.setdefault(state.rig, []).append((state.last_known, path))
    ordered = {}
    for rig, cooks in by_rig.items():
        noted = logger_status(folder, rig).cook
        ordered[rig] = sorted(cooks, key=lambda item: (item[1].name == noted, item[0]), reverse=True), noted
    return ordered


def unfinished(folder: Path) -> dict[str, list[Path]]:
    """By rig, the recordings that nobody has finished: first the cook under way, then those that were given up.

    The cook under way is the one that the rig's logger notes, while it runs and after; without a note the one whose
    latest pack or event became known last. The times in file names decide nothing: a clock may have been wrong.
    """
    return {rig: [path for _, path in cooks] for rig, (cooks, _) in _unfinished(folder).items()}


def under_way(folder: Path) -> dict[str, Path]:
    """The cook under way of each rig that has one. Files that are no recordings are passed over."""
    return {
        rig: cooks[0][1]
        for rig, (cooks, noted) in _unfinished(folder).items()
        if not _is_superseded(folder, *cooks[0], noted)
    }


def _is_superseded(folder: Path, last_known: float, path: Path, noted: str | None) -> bool:
    """Whether the logger has since recorded another cook to its end, so that this one was given up."""
    if noted is None or noted == path.name:
        return False
    other = _recording_state(folder / noted)
    return other is not None and other.finished and last_known <= other.last_known


def running(folder: Path, rig: str | None = None) -> Path | None:
    """The cook under way of this rig, or of any; None where there is none."""
    cooks = under_way(folder)
    return cooks.get(rig) if rig is not None else next(iter(cooks.values()), None)
