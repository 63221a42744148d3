"""What a recording holds beside its readings: its head, channels, events, batch sheets, and how it ended.

Loads no numpy, because the logger needs this module and must stay small.
"""

import json
import sqlite3
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType

from monitor.formulation import SheetError, read_sheet
from monitor.model import AFTER_COOK, Batch, Event, FieldValue, storable
from monitor.runtime import Anchor
from monitor.storage.connections import RecordingError


@dataclass(frozen=True, slots=True)
class CookHeader:
    """The facts about a recording as a whole.

    rig: the cooker's name. source: the URL that its readings come from. started: Unix seconds.
    sheet: the latest batch sheet's text, or None. anchor: the latest anchor of cook time.
    ended: when a recording ended that nobody logged as finished, Unix seconds; else None.
    """

    rig: str
    source: str
    started: float
    sheet: str | None
    anchor: Anchor
    ended: float | None = None


@dataclass(frozen=True, slots=True)
class Entries:
    """All that a recording holds beside its readings.

    channels: id, name, unit as sent. events: every one, withdrawn ones too. withdrawn: event uid -> when it was taken
    back. sheets: (known, batch) of those that are valid. last_known: when the latest event, withdrawal or sheet became
    known, or the recording began; last_of_cook: the same without what is logged of the batch after its cook. Times in
    Unix seconds.
    """

    about: CookHeader
    channels: tuple[tuple[int, str, str], ...]
    events: tuple[Event, ...]
    withdrawn: dict[str, float]
    sheets: tuple[tuple[float, Batch], ...]
    last_known: float
    last_of_cook: float


def read_entries(path: Path, connection: sqlite3.Connection) -> Entries:
    """All that the recording which this connection reads holds beside its readings. Raises RecordingError."""
    about = header_from(path, connection)
    channels = connection.execute("SELECT id, name, unit FROM channel ORDER BY id")
    events = read_events(connection)
    withdrawn = connection.execute("SELECT uid, min(known) FROM withdrawal GROUP BY uid")
    sheets = connection.execute("SELECT known, text FROM sheet ORDER BY id")
    batches = tuple((float(known), batch) for known, sheet in sheets if (batch := read_batch(text(sheet))) is not None)
    taken_back = {text(uid): float(known) for uid, known in withdrawn}
    after = {event.uid: event.known for event in events if event.kind in AFTER_COOK}
    moments = [event.known for event in events if event.uid not in after]
    moments += [known for uid, known in taken_back.items() if uid not in after]
    of_cook = max([about.started, *moments, *(known for known, _ in batches)])
    return Entries(
        about,
        tuple((id_, text(name), text(unit)) for id_, name, unit in channels),
        events,
        taken_back,
        batches,
        max([of_cook, *after.values(), *taken_back.values()]),
        of_cook,
    )


def header_from(path: Path, connection: sqlite3.Connection) -> CookHeader:
    """The header of the recording that this connection reads. Raises RecordingError."""
    about = dict(connection.execute("SELECT key, value FROM about"))
    sheet = connection.execute("SELECT text FROM sheet ORDER BY id DESC LIMIT 1").fetchone()
    anchor = connection.execute(
        "SELECT cook_time, wall, boot_id, boot_s, rate FROM clock ORDER BY id DESC LIMIT 1"
    ).fetchone()
    try:
        return CookHeader(
            text(about["rig"]),
            text(about["source"]),
            float(about["started"]),
            text(sheet[0]) if sheet else None,
            Anchor(float(anchor[0]), float(anchor[1]), text(anchor[2]), float(anchor[3]), float(anchor[4])),
            float(about["ended"]) if "ended" in about else None,
        )
    except (KeyError, TypeError, ValueError):
        raise RecordingError(path, "its head is damaged") from None


# A running cook is read every second or two, and its sheet hardly ever changes.
@lru_cache(maxsize=64)
def read_batch(sheet: str | None) -> Batch | None:
    """The batch on a sheet in a recording; None without a sheet, or where it is no longer valid."""
    if sheet is None:
        return None
    try:
        return read_sheet(sheet)
    except SheetError:
        # An older program allowed more in a sheet; the cook itself is still good.
        return None


def read_events(connection: sqlite3.Connection) -> tuple[Event, ...]:
    """Every event ever logged, withdrawn ones too, by the time at which they happened."""
    rows = connection.execute("SELECT uid, kind, measured, known, fields FROM event ORDER BY measured, known, id")
    return tuple(
        Event(text(uid), text(kind), float(measured), float(known), MappingProxyType(fields_of(fields)))
        for uid, kind, measured, known, fields in rows
    )


def fields_of(stored: str) -> dict[str, FieldValue]:
    """The fields of an event, from the JSON in its row; older programs stored text that UTF-8 cannot hold."""
    return {
        storable(name): storable(value) if isinstance(value, str) else value
        for name, value in dict(json.loads(stored)).items()
    }


def text(value: object) -> str:
    """A value that has to be text. Raises TypeError where a damaged row holds something else."""
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
