"""The cooks of a folder: the head and summary of each, and which one is under way.

Without numpy, because the logger needs it and must stay small. Every look opens the file read-only, reads and
closes, because an open reader would hold up the writer's ``finish``.
"""

import json
import sqlite3
from contextlib import closing
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType

from monitor.formulation import SheetError, read_sheet
from monitor.model import Batch, Event, FieldValue, storable
from monitor.runtime import Anchor
from monitor.storage.connections import connect_read_only
from monitor.storage.errors import RecordingError, damage_named
from monitor.storage.logger_notes import logger_status
from monitor.storage.schema import SUFFIX


@dataclass(frozen=True, slots=True)
class CookHeader:
    """The head of a recording.

    rig: the cooker's name. source: where its readings come from. started: Unix seconds.
    sheet: the batch sheet's text, or None. anchor: the latest tie of cook time to the clock.
    ended: when a record ended that nobody logged as finished, Unix seconds.
    """

    rig: str
    source: str
    started: float
    sheet: str | None
    anchor: Anchor
    ended: float | None = None


def read_header(path: Path) -> CookHeader:
    """The head of a recording."""
    with closing(connect_read_only(path)) as connection, damage_named(path):
        return header_from(path, connection)


def header_from(path: Path, connection: sqlite3.Connection) -> CookHeader:
    """The head of the recording that this connection reads."""
    facts = dict(connection.execute("SELECT key, value FROM about"))
    sheet = connection.execute("SELECT text FROM sheet ORDER BY id DESC LIMIT 1").fetchone()
    tie = connection.execute(
        "SELECT cook_time, wall, boot_id, boot_s, rate FROM clock ORDER BY id DESC LIMIT 1"
    ).fetchone()
    try:
        return CookHeader(
            text(facts["rig"]),
            text(facts["source"]),
            float(facts["started"]),
            text(sheet[0]) if sheet else None,
            Anchor(float(tie[0]), float(tie[1]), text(tie[2]), float(tie[3]), float(tie[4])),
            float(facts["ended"]) if "ended" in facts else None,
        )
    except (KeyError, TypeError, ValueError):
        raise RecordingError(path, "its head is damaged") from None


# A running cook is looked at every second or two, and its sheet hardly ever changes.
@lru_cache(maxsize=64)
def read_batch(sheet: str | None) -> Batch | None:
    """The batch of a sheet kept in a recording, or None."""
    if sheet is None:
        return None
    try:
        return read_sheet(sheet)
    except SheetError:
        # A sheet written by an older program; the cook itself is still good.
        return None


def read_events(connection: sqlite3.Connection) -> tuple[Event, ...]:
    """Every event ever logged, withdrawn ones too, in the order in which they happened."""
    rows = connection.execute("SELECT uid, kind, measured, known, fields FROM event ORDER BY measured, known, id")
    return tuple(
        Event(text(uid), text(kind), float(measured), float(known), MappingProxyType(fields_of(fields)))
        for uid, kind, measured, known, fields in rows
    )


def fields_of(stored: str) -> dict[str, FieldValue]:
    """The fields of an event as a row has them; older programs stored text that UTF-8 cannot hold."""
    return {
        storable(name): storable(value) if isinstance(value, str) else value
        for name, value in dict(json.loads(stored)).items()
    }


def text(value: object) -> str:
    """A text that a row holds. Raises TypeError for what a damaged row may hold in its place."""
    if not isinstance(value, str):
        raise TypeError(f"value is {value!r}; it must be text")
    return value


def finished_at(connection: sqlite3.Connection) -> float | None:
    """When the cook ended (Unix seconds), as somebody logged or as the program noted; None while it runs."""
    row = connection.execute(
        "SELECT measured FROM event WHERE kind = 'finished' AND uid NOT IN (SELECT uid FROM withdrawal) "
        "ORDER BY measured DESC LIMIT 1"
    ).fetchone()
    if row:
        return float(row[0])
    ended = connection.execute("SELECT value FROM about WHERE key = 'ended'").fetchone()
    return float(ended[0]) if ended else None


@dataclass(frozen=True, slots=True)
class CookSummary:
    """What a list of cooks says of one. Times in Unix seconds."""

    path: Path
    about: CookHeader
    title: str
    last_known: float
    finished: float | None
    events: tuple[Event, ...]


def summary(path: Path) -> CookSummary:
    """The summary of one recording; the readings are not read.

    That of a file whose log is folded in is kept until the file changes. Raises RecordingError.
    """
    try:
        file = path.stat()
        growing = path.with_name(f"{path.name}-wal").exists()
    except OSError:
        return _read_summary(path)
    return _read_summary(path) if growing else _cached_summary(path, (file.st_mtime_ns, file.st_size, file.st_ino))


@lru_cache(maxsize=4096)
def _cached_summary(path: Path, _stamp: tuple[int, int, int]) -> CookSummary:
    return _read_summary(path)


def _read_summary(path: Path) -> CookSummary:
    with closing(connect_read_only(path)) as connection, damage_named(path):
        head = header_from(path, connection)
        last = connection.execute("SELECT known FROM pack ORDER BY id DESC LIMIT 1").fetchone()
        withdrawn = {text(row[0]) for row in connection.execute("SELECT uid FROM withdrawal")}
        events = tuple(event for event in read_events(connection) if event.uid not in withdrawn)
        moments = [float(last[0]) if last else head.started, *(event.known for event in events)]
        batch = read_batch(head.sheet)
        return CookSummary(
            path,
            head,
            batch.title if batch else "No batch sheet",
            max(moments),
            finished_at(connection),
            events,
        )


def recordings(folder: Path) -> list[Path]:
    """The files in a folder that are named as recordings, the latest first."""
    try:
        return sorted(folder.glob(f"*{SUFFIX}"), reverse=True)
    except OSError as error:
        raise RecordingError(folder, (error.strerror or str(error)).lower()) from None


def is_running(path: Path, rig: str | None = None) -> bool:
    """Whether this is a recording (of this rig) that nobody has finished; False for a file that is none."""
    try:
        with closing(connect_read_only(path)) as connection, damage_named(path):
            own = rig is None or header_from(path, connection).rig == rig
            return own and finished_at(connection) is None
    except RecordingError:
        return False


@dataclass(frozen=True, slots=True)
class _RecordingState:
    """Of one recording. last_known: when its latest pack or event became known, Unix seconds."""

    rig: str
    finished: bool
    last_known: float


def _recording_state(path: Path) -> _RecordingState | None:
    """None for a file that is no recording."""
    try:
        file = path.stat()
        growing = path.with_name(f"{path.name}-wal").exists()
    except OSError:
        return None
    return (
        _read_recording_state(path)
        if growing
        else _cached_recording_state(path, (file.st_mtime_ns, file.st_size, file.st_ino))
    )


@lru_cache(maxsize=4096)
def _cached_recording_state(path: Path, _stamp: tuple[int, int, int]) -> _RecordingState | None:
    return _read_recording_state(path)


def _read_recording_state(path: Path) -> _RecordingState | None:
    try:
        with closing(connect_read_only(path)) as connection, damage_named(path):
            head = header_from(path, connection)
            pack = connection.execute("SELECT known FROM pack ORDER BY id DESC LIMIT 1").fetchone()
            event = connection.execute("SELECT max(known) FROM event").fetchone()
            moments = [head.started, *(float(row[0]) for row in (pack, event) if row and row[0] is not None)]
            return _RecordingState(head.rig, finished_at(connection) is not None, max(moments))
    except RecordingError:
        return None


def unfinished(folder: Path) -> dict[str, list[Path]]:
    """By rig, the recordings that nobody has finished: first the cook under way, then what was left unfinished.

    Of several the one that the rig's logger records is under way, or recorded last if it is not at work; where it has
    said nothing of that, the one heard of last. File names tell nothing: a clock may have been wrong.
    """
    found: dict[str, list[tuple[float, Path]]] = {}
    for path in recordings(folder):
        standing = _recording_state(path)
        if standing is not None and not standing.finished:
            found.setdefault(standing.rig, []).append((standing.last_known, path))
    ordered = {}
    for rig, own in found.items():
        named = logger_status(folder, rig).cook
        ordered[rig] = [path for _, path in sorted(own, key=lambda one: (one[1].name == named, one[0]), reverse=True)]
    return ordered


def under_way(folder: Path) -> dict[str, Path]:
    """The cook under way of each rig that has one. Files that are no recordings are passed over."""
    return {rig: paths[0] for rig, paths in unfinished(folder).items() if not _is_superseded(folder, rig, paths[0])}


def _is_superseded(folder: Path, rig: str, path: Path) -> bool:
    """Whether the logger has meanwhile recorded another cook to its end, so that this one was given up."""
    named = logger_status(folder, rig).cook
    if named is None or named == path.name:
        return False
    last, own = _recording_state(folder / named), _recording_state(path)
    return last is not None and last.finished and own is not None and own.last_known <= last.last_known


def running(folder: Path, rig: str | None = None) -> Path | None:
    """The cook under way of this rig, or of any; None where there is none."""
    found = under_way(folder)
    return found.get(rig) if rig is not None else next(iter(found.values()), None)
