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
from pathlib import Path
from types import MappingProxyType

import numpy as np

from monitor.model import Event, Floats, History, cut, role
from monitor.runtime import FileIdentity, file_identity
from monitor.storage.columns import ChannelColumns, ColumnAppender, append_recorded
from monitor.storage.connections import BUSY_TIMEOUT_S, connect_read_only, damage_named
from monitor.storage.contents import CookHeader, Entries, read_entries

# These tables only grow, so events, sheets and the rest are read again only when one of these numbers has changed.
_COUNTERS = """SELECT (SELECT max(id) FROM event), (SELECT max(id) FROM withdrawal), (SELECT max(id) FROM sheet),
    (SELECT max(id) FROM clock), (SELECT max(id) FROM channel), (SELECT value FROM about WHERE key = 'ended')"""


class IncrementalReader:
    """A recording in memory, as columns that grow: a refresh costs only what is new.

    roles: the parts whose channels are read ("paste", ...), or None for every channel. about: the head of the
    recording; last_known: when the latest reading, event, withdrawal or sheet became known, Unix seconds; last_of_cook:
    the same without what is logged of the batch after its cook; all as of the last refresh. Raises RecordingError when
    the file is not a recording or is damaged.
    """

    # Whether the file stays open from one read to the next, until ``let_go``.
    keeps_open = False
    about: CookHeader
    _entries: Entries

    def __init__(self, path: Path, roles: tuple[str, ...] | None = None) -> None:
        self.path = path
        self._connection: sqlite3.Connection | None = None
        self._finalizer: weakref.finalize[[], IncrementalReader] | None = None
        self._roles = roles
        self._columns = ChannelColumns()
        self._appenders: dict[int, ColumnAppender] = {}
        self._last_reading = 0
        self.last_known = self._last_reading_known = -math.inf
        self._counters: tuple[object, ...] | None = None
        self._identity: FileIdentity | None = None
        self._uri = ""
        self._condition = ""
        self.refresh()

    def refresh(self) -> bool:
        """Reads what is new; returns whether there was anything."""
        readings, faults, entries = self._read()
        if entries is not None:
            self._entries, self.about = entries, entries.about
            for id_, name, unit in entries.channels:
                if id_ not in self._appenders:
                    self._appenders[id_] = self._columns.appender(name, unit)
        append_recorded(self._appenders, readings, faults)
        self._last_reading_known = float(readings[:, 2].max(initial=self._last_reading_known))
        self.last_known = max(self.last_known, self._last_reading_known, self._entries.last_known)
        return bool(len(readings)) or entries is not None

    @property
    def last_of_cook(self) -> float:
        return max(self._last_reading_known, self._entries.last_of_cook)

    def event_with(self, uid: str) -> Event | None:
        """The event of this id, also one that was taken back, as of the last refresh; None where there is none."""
        return next((event for event in self._entries.events if event.uid == uid), None)

    def history(self, as_of: float | None = None) -> History:
        """The cook as of a moment (Unix seconds), or with all that is known."""
        whole = History(
            self.about.started,
            self.last_known,
            MappingProxyType(self._columns.series()),
            self._entries.events,
            MappingProxyType(self._entries.withdrawn),
            self._entries.sheets,
        )
        return whole if as_of is None else cut(whole, as_of)

    def _read(self) -> tuple[Floats, list[tuple[int, str]], Entries | None]:
        """The readings that the recording has gained and their faults, as ``append_recorded`` takes them; its entries.

        The entries are all that there are, or None where nothing has changed among them.
        """
        with self._connected() as connection, damage_named(self.path):
            # One transaction, so that readings and events are of the same moment.
            connection.execute("BEGIN")
            counters = connection.execute(_COUNTERS).fetchone()
            entries = None
            if counters != self._counters:
                entries = read_entries(self.path, connection)
                ids = [id_ for id_, name, _ in entries.channels if self._roles is None or role(name) in self._roles]
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
        self._counters = counters
        if rows:
            self._last_reading = int(readings[-1, 4])
        return readings[:, :4], faults, entries

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


def load(path: Path, as_of: float | None = None, roles: tuple[str, ...] | None = None) -> History:
    """The cook as it was known at ``as_of`` (Unix seconds), or all of it.

    roles: the parts whose channels are read ("paste", ...), or None for every channel.

    Raises RecordingError when the file is not a recording or is damaged.
    """
    return IncrementalReader(path, roles).history(as_of)
