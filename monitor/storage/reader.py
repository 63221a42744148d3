"""Reads a recording into memory, and then only what is added to it.

Each read opens the file read-only and closes it again, because an open reader would hold up the writer's ``finish``.
Who reads every second or two may keep the file open from one read to the next, which takes a tenth of the work, and
has to close it when the cook is over or nobody reads any more.
"""

import math
import sqlite3
import weakref
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType

import numpy as np

from monitor.model import Batch, Event, Floats, History, cut, role
from monitor.runtime import FileIdentity, file_identity
from monitor.storage.columns import ChannelColumns, ColumnAppender, append_recorded
from monitor.storage.connections import BUSY_TIMEOUT_S, connect_read_only, damage_named
from monitor.storage.index import CookHeader, header_from, read_batch, read_events, text

# These tables only grow, so events, sheets and the rest are read again only when one of these numbers has changed.
_COUNTERS = """SELECT (SELECT max(id) FROM event), (SELECT max(id) FROM withdrawal), (SELECT max(id) FROM sheet),
    (SELECT max(id) FROM clock), (SELECT max(id) FROM channel), (SELECT value FROM about WHERE key = 'ended')"""
_CHANNELS = "SELECT id, name, unit FROM channel ORDER BY id"


@dataclass(frozen=True, slots=True)
class _Update:
    """What a recording gained since the last read: new readings, and all of its events, sheets and channels.

    readings: columns channel id, measured, known, value (NaN at a fault), shape (n, 4).
    faults: (row of readings, words). withdrawn: event uid -> when it was taken back, Unix seconds. last_entry: when the
    latest event, withdrawal or sheet became known, Unix seconds; minus infinity for none.
    """

    readings: Floats
    faults: list[tuple[int, str]]
    channels: list[tuple[int, str, str]]
    events: tuple[Event, ...]
    withdrawn: dict[str, float]
    sheets: tuple[tuple[float, Batch], ...]
    about: CookHeader
    last_entry: float


class IncrementalReader:
    """A recording in memory, as columns that grow: a refresh costs only what is new.

    roles: the parts whose channels are read ("paste", ...), or None for every channel. about: the head of the
    recording; last_known: when the latest reading, event, withdrawal or sheet became known, Unix seconds; both as of
    the last refresh. Raises RecordingError when the file is not a recording or is damaged.
    """

    # Whether the file stays open from one read to the next, until ``let_go``.
    keeps_open = False

    def __init__(self, path: Path, roles: tuple[str, ...] | None = None) -> None:
        self.path = path
        self._connection: sqlite3.Connection | None = None
        self._finalizer: weakref.finalize[[], IncrementalReader] | None = None
        self._roles = roles
        self._columns = ChannelColumns()
        self._appenders: dict[int, ColumnAppender] = {}
        self._last_reading = 0
        self.last_known = -math.inf
        self._counters: tuple[object, ...] | None = None
        self._identity: FileIdentity | None = None
        self._uri = ""
        self._condition = ""
        self._latest = self._ingest()
        self.about = self._latest.about

    def refresh(self) -> bool:
        """Reads what is new; returns whether there was anything."""
        before, after = self._latest, self._ingest()
        self._latest, self.about = after, after.about
        return bool(len(after.readings)) or (after.events, after.withdrawn, after.sheets, after.about) != (
            before.events,
            before.withdrawn,
            before.sheets,
            before.about,
        )

    def event_with(self, uid: str) -> Event | None:
        """The event of this id, also one that was taken back, as of the last refresh; None where there is none."""
        return next((event for event in self._latest.events if event.uid == uid), None)

    def history(self, as_of: float | None = None) -> History:
        """The cook as of a moment (Unix seconds), or with all that is known."""
        whole = History(
            self.about.started,
            self.last_known,
            MappingProxyType(self._columns.series()),
            self._latest.events,
            MappingProxyType(self._latest.withdrawn),
            self._latest.sheets,
        )
        return whole if as_of is None else cut(whole, as_of)

    def _ingest(self) -> _Update:
        update = self._read()
        for id_, name, unit in update.channels if len(update.channels) > len(self._appenders) else ():
            if id_ not in self._appenders:
                self._appenders[id_] = self._columns.appender(name, unit)
        append_recorded(self._appenders, update.readings, update.faults)
        arrived = float(update.readings[:, 2].max(initial=update.about.started))
        self.last_known = max(self.last_known, arrived, update.last_entry)
        return update

    def _read(self) -> _Update:
        with self._connected() as connection, damage_named(self.path):
            # One transaction, so that readings and events are of the same moment.
            connection.execute("BEGIN")
            counters = connection.execute(_COUNTERS).fetchone()
            unchanged = counters == self._counters
            if unchanged:
                channels = self._latest.channels
            else:
                channels = [(id_, text(name), text(unit)) for id_, name, unit in connection.execute(_CHANNELS)]
                ids = [id_ for id_, name, _ in channels if self._roles is None or role(name) in self._roles]
                self._condition = f"reading.id > ? AND channel IN ({', '.join(map(str, ids)) or 'NULL'})"
            rows = connection.execute(
                "SELECT channel, coalesce(measured, known), known, value, reading.id FROM reading "
                f"JOIN pack ON pack.id = reading.pack WHERE {self._condition} ORDER BY reading.id",
                (self._last_reading,),
            ).fetchall()
            readings = np.array(rows, dtype=np.float64).reshape(-1, 5)
            faults: list[tuple[int, str]] = []
            if np.isnan(readings[:, 3]).any():
                faults = [
                    (int(np.searchsorted(readings[:, 4], id_)), words)
                    for id_, words in connection.execute(
                        f"SELECT id, fault FROM reading WHERE {self._condition} AND fault IS NOT NULL",
                        (self._last_reading,),
                    )
                ]
            if unchanged:
                update = replace(self._latest, readings=readings[:, :4], faults=faults)
            else:
                update = self._read_all(connection, readings[:, :4], faults, channels)
            self._counters = counters
        if rows:
            self._last_reading = int(readings[-1, 4])
        return update

    @contextmanager
    def _connected(self) -> Iterator[sqlite3.Connection]:
        """A connection for one read. The identity of a file that was found to be a recording is not checked again."""
        identity = file_identity(self.path)
        if identity is None or identity != self._identity:
            self.let_go()
        connection = self._connection
        if connection is None:
            connection = self._connection = self._connect(identity)
        try:
            yield connection
            # An open transaction would keep the writer from emptying its log.
            connection.rollback()
        except BaseException:
            self.let_go()
            raise
        # The bound on work is for files of unknown origin; this one has been read to its end.
        connection.set_progress_handler(None, 0)
        if not self.keeps_open:
            self.let_go()
        elif self._finalizer is None:
            # A reader that is dropped may not leave its file open.
            self._finalizer = weakref.finalize(self, connection.close)

    def let_go(self) -> None:
        """Closes the file until the next read, so that its writer can finish it."""
        if self._connection is not None:
            self._connection.close()
            self._connection = None
        if self._finalizer is not None:
            self._finalizer.detach()
            self._finalizer = None

    def _connect(self, identity: FileIdentity | None) -> sqlite3.Connection:
        if identity is not None and identity == self._identity:
            with damage_named(self.path):
                return sqlite3.connect(self._uri, uri=True, timeout=BUSY_TIMEOUT_S, check_same_thread=False)
        connection = connect_read_only(self.path)
        self._identity = identity
        self._uri = f"{self.path.resolve().as_uri()}?mode=ro"
        return connection

    def _read_all(
        self,
        connection: sqlite3.Connection,
        readings: Floats,
        faults: list[tuple[int, str]],
        channels: list[tuple[int, str, str]],
    ) -> _Update:
        events = read_events(connection)
        withdrawn = {
            text(uid): float(known)
            for uid, known in connection.execute("SELECT uid, min(known) FROM withdrawal GROUP BY uid")
        }
        sheets = tuple(
            (float(known), batch)
            for known, sheet in connection.execute("SELECT known, text FROM sheet ORDER BY id")
            if (batch := read_batch(text(sheet))) is not None
        )
        moments = [*(event.known for event in events), *withdrawn.values(), *(known for known, _ in sheets)]
        about = header_from(self.path, connection)
        last_entry = max(moments, default=-math.inf)
        return _Update(readings, faults, channels, events, withdrawn, sheets, about, last_entry)


def load(path: Path, as_of: float | None = None, roles: tuple[str, ...] | None = None) -> History:
    """The cook as it was known at ``as_of`` (Unix seconds), or all of it.

    roles: the parts whose channels are read ("paste", ...), or None for every channel.

    Raises RecordingError when the file is not a recording or is damaged.
    """
    return IncrementalReader(path, roles).history(as_of)
