"""Recordings, read: the head and summary of one, the cooks of a folder, and a growing cook in memory.

Every look opens the file read-only, reads and closes, because an open reader would hold up the writer's
``finish``.
"""

import json
import math
import sqlite3
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

import numpy as np

from monitor.clock import Anchor
from monitor.history import Floats, History, Series, cut, series_from
from monitor.recording import SUFFIX, RecordingError, connect_read_only, errors_named, finished_at
from monitor.records import Batch, Event
from monitor.sheet import SheetError, read_sheet


@dataclass(frozen=True, slots=True)
class About:
    """The head of a recording.

    rig: the cooker's name. source: where its readings come from. started: Unix seconds.
    sheet: the batch sheet's text, or None. anchor: the latest tie of cook time to the clock.
    """

    rig: str
    source: str
    started: float
    sheet: str | None
    anchor: Anchor


def about(path: Path) -> About:
    """The head of a recording."""
    with closing(connect_read_only(path)) as connection, errors_named(path):
        return _about(path, connection)


def _about(path: Path, connection: sqlite3.Connection) -> About:
    facts = dict(connection.execute("SELECT key, value FROM about"))
    sheet = connection.execute("SELECT text FROM sheet ORDER BY id DESC LIMIT 1").fetchone()
    tie = connection.execute(
        "SELECT cook_time, wall, boot_id, boot_s, rate FROM clock ORDER BY id DESC LIMIT 1"
    ).fetchone()
    try:
        return About(facts["rig"], facts["source"], float(facts["started"]), sheet[0] if sheet else None, Anchor(*tie))
    except (KeyError, TypeError, ValueError):
        raise RecordingError(path, "its head is damaged") from None


def _batch(sheet: str | None) -> Batch | None:
    if sheet is None:
        return None
    try:
        return read_sheet(sheet)
    except SheetError:
        # A sheet written by an older program; the cook itself is still good.
        return None


def _events(connection: sqlite3.Connection) -> tuple[Event, ...]:
    """Every event ever logged, withdrawn ones too, in the order in which they happened."""
    rows = connection.execute("SELECT uid, kind, measured, known, fields FROM event ORDER BY measured, known, id")
    return tuple(
        Event(uid, kind, measured, known, MappingProxyType(json.loads(fields)))
        for uid, kind, measured, known, fields in rows
    )


@dataclass(frozen=True, slots=True)
class Summary:
    """What a list of cooks says of one. Times in Unix seconds."""

    path: Path
    about: About
    title: str
    last_known: float
    finished: float | None
    events: tuple[Event, ...]


def summary(path: Path) -> Summary:
    """The summary of one recording; the readings are not read."""
    with closing(connect_read_only(path)) as connection, errors_named(path):
        head = _about(path, connection)
        last = connection.execute("SELECT known FROM pack ORDER BY id DESC LIMIT 1").fetchone()
        withdrawn = {row[0] for row in connection.execute("SELECT uid FROM withdrawal")}
        events = tuple(event for event in _events(connection) if event.uid not in withdrawn)
        moments = [last[0] if last else head.started, *(event.known for event in events)]
        batch = _batch(head.sheet)
        return Summary(
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


def running(folder: Path, rig: str | None = None) -> Path | None:
    """The latest recording of this rig that nobody has finished, or None. Files that are none are passed over."""
    for path in recordings(folder):
        try:
            with closing(connect_read_only(path)) as connection, errors_named(path):
                head = _about(path, connection)
                if rig is not None and head.rig != rig:
                    continue
                if finished_at(connection) is None:
                    return path
        except RecordingError:
            continue
    return None


@dataclass(frozen=True, slots=True)
class _News:
    """What a recording gained since the last look.

    readings: columns channel id, measured, known, value (NaN at a fault), shape (n, 4).
    faults: (row of readings, words).
    """

    readings: Floats
    faults: list[tuple[int, str]]
    channels: list[tuple[int, str, str]]
    events: tuple[Event, ...]
    withdrawn: dict[str, float]
    sheets: tuple[tuple[float, Batch], ...]
    about: About


class Roll:
    """A recording held in memory as growing columns, so that a live view costs only what is new.

    Raises RecordingError when the file is not a recording or is damaged.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._columns: dict[int, _Column] = {}
        self._last_reading = 0
        self._last_known = -math.inf
        self._latest = self._take_in()

    def refresh(self) -> bool:
        """Takes in what is new; whether there was anything."""
        before = self._latest
        self._latest = now = self._take_in()
        return bool(len(now.readings)) or (now.events, now.withdrawn, now.sheets, now.about) != (
            before.events,
            before.withdrawn,
            before.sheets,
            before.about,
        )

    @property
    def about(self) -> About:
        """The head of the recording, as of the last refresh."""
        return self._latest.about

    @property
    def last_known(self) -> float:
        """When the latest reading or event became known, Unix seconds."""
        return max([self.about.started, self._last_known, *(e.known for e in self._latest.events)])

    def history(self, as_of: float | None = None) -> History:
        """The cook as of a moment (Unix seconds), or with all that is known."""
        whole = History(
            self.about.started,
            self.last_known,
            MappingProxyType({c.name: c.series() for c in self._columns.values() if len(c)}),
            self._latest.events,
            MappingProxyType(self._latest.withdrawn),
            self._latest.sheets,
        )
        return whole if as_of is None else cut(whole, as_of)

    def _take_in(self) -> _News:
        news = self._read()
        for id_, name, unit in news.channels:
            if id_ not in self._columns:
                # A name that came with two units is two channels; the later ones say which unit.
                taken = any(column.name == name for column in self._columns.values())
                self._columns[id_] = _Column(f"{name} ({unit})" if taken else name, unit)
        if len(news.readings):
            worded = dict(news.faults)
            for id_ in np.unique(news.readings[:, 0]):
                rows = np.flatnonzero(news.readings[:, 0] == id_)
                faults = (
                    [(place, worded[row]) for place, row in enumerate(rows.tolist()) if row in worded] if worded else []
                )
                self._columns[int(id_)].extend(news.readings[rows, 1:].T, faults)
            self._last_known = max(self._last_known, float(news.readings[:, 2].max()))
        return news

    def _read(self) -> _News:
        with closing(connect_read_only(self.path)) as connection, errors_named(self.path):
            # One transaction, so that readings and events are of the same moment.
            connection.execute("BEGIN")
            rows = connection.execute(
                "SELECT reading.channel, coalesce(measured, known), known, value, reading.id FROM reading "
                "JOIN pack ON pack.id = reading.pack WHERE reading.id > ? ORDER BY reading.id",
                (self._last_reading,),
            ).fetchall()
            faults = connection.execute(
                "SELECT id, fault FROM reading WHERE id > ? AND fault IS NOT NULL", (self._last_reading,)
            ).fetchall()
            readings = np.array(rows, dtype=np.float64).reshape(-1, 5)
            news = _News(
                readings[:, :4],
                [(int(np.searchsorted(readings[:, 4], id_)), words) for id_, words in faults],
                connection.execute("SELECT id, name, unit FROM channel ORDER BY id").fetchall(),
                _events(connection),
                dict(connection.execute("SELECT uid, min(known) FROM withdrawal GROUP BY uid")),
                tuple(
                    (known, batch)
                    for known, text in connection.execute("SELECT known, text FROM sheet ORDER BY id")
                    if (batch := _batch(text)) is not None
                ),
                _about(self.path, connection),
            )
        if rows:
            self._last_reading = int(readings[-1, 4])
        return news


def load(path: Path, as_of: float | None = None) -> History:
    """The cook as it was known at ``as_of`` (Unix seconds), or all of it.

    Raises RecordingError when the file is not a recording or is damaged.
    """
    return Roll(path).history(as_of)


class _Column:
    """One channel's readings in arrays that double when they are full."""

    def __init__(self, name: str, unit: str) -> None:
        self.name = name
        self.unit = unit
        self._rows = np.empty((3, 1024))
        self._count = 0
        self._faults: list[tuple[int, str]] = []

    def __len__(self) -> int:
        return self._count

    def extend(self, rows: Floats, faults: list[tuple[int, str]]) -> None:
        """rows: measured, known, value; shape (3, n). faults: (index into rows, words)."""
        count = rows.shape[1]
        while self._count + count > self._rows.shape[1]:
            self._rows = np.concatenate([self._rows, np.empty_like(self._rows)], axis=1)
        self._rows[:, self._count : self._count + count] = rows
        self._faults.extend((self._count + place, words) for place, words in faults)
        self._count += count

    def series(self) -> Series:
        measured, known, value = self._rows[:, : self._count]
        return series_from(self.name, self.unit, measured, known, value, self._faults)
