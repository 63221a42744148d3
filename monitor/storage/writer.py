"""Writes a recording: one SQLite file a cook, with what was measured and logged, and when each became known.

The file is in WAL mode while it is written; ``Recorder.finish`` folds the write-ahead log in, after which the file
alone is the cook.
"""

import re
import secrets
import sqlite3
import unicodedata
import weakref
from collections.abc import Mapping
from contextlib import closing, suppress
from datetime import UTC, datetime
from pathlib import Path

from monitor.formulation import read_sheet
from monitor.model import Event, storable
from monitor.protocol import Pack
from monitor.runtime import Anchor, file_identity, move_into_place
from monitor.storage.annotations import write_event
from monitor.storage.connections import begin, check_files, check_identity, connect_to_write, errors_named, fold
from monitor.storage.contents import finished_at
from monitor.storage.duplicates import DuplicateFilter
from monitor.storage.schema import (
    APPLICATION_ID,
    FORMAT,
    SCHEMA,
    SUFFIX,
    add_later_columns,
)


class Recorder:
    """The one writer of a cook's readings; other processes may add events meanwhile.

    Nothing is durable until ``commit``, which is to be called at least once a second.
    last_seq: the sender's count in the last pack that has one, or None.
    """

    def __init__(self, path: Path, connection: sqlite3.Connection) -> None:
        self.path = path
        self._connection = connection
        self._identity = file_identity(path)
        # A recorder that is dropped may not leave its file open.
        weakref.finalize(self, connection.close)
        self._channels: dict[tuple[str, str], int] = {
            (name, unit): id_ for id_, name, unit in connection.execute("SELECT id, name, unit FROM channel")
        }
        self._duplicates = DuplicateFilter(connection)
        last = connection.execute("SELECT seq FROM pack WHERE seq IS NOT NULL ORDER BY id DESC LIMIT 1").fetchone()
        self.last_seq: int | None = last[0] if last else None

    @classmethod
    def create(
        cls,
        folder: Path,
        anchor: Anchor,
        *,
        rig: str,
        source: str,
        sheet: str | None = None,
        title: str | None = None,
        make_folder: bool = True,
    ) -> "Recorder":
        """A new recording in ``folder``, which is made if it is missing and ``make_folder`` is true.

        title: names the file; where it is None the sheet's title does, else the rig.
        Raises RecordingError when it cannot be written, SheetError when the sheet is wrong.
        """
        if title is None:
            title = read_sheet(sheet).title if sheet is not None else rig
        stamp = datetime.fromtimestamp(anchor.cook_time, UTC).strftime("%Y-%m-%dT%H%M%SZ")
        # The random part keeps two cooks that start in the same second apart.
        path = folder / f"{stamp}-{_plain(title)}-{secrets.token_hex(2)}{SUFFIX}"
        # Made under another name, so that nobody ever sees half a recording, whatever ends this process.
        made = path.with_name(f".{path.name}.new")
        with errors_named(path):
            if make_folder:
                folder.mkdir(parents=True, exist_ok=True)
            try:
                _write_new(made, anchor, {"rig": rig, "source": source}, sheet)
                move_into_place(made, path)
            except BaseException:
                made.unlink(missing_ok=True)
                raise
        return cls.resume(path)

    @classmethod
    def resume(cls, path: Path) -> "Recorder":
        """The running cook in ``path``, to be continued. Raises RecordingError."""
        with errors_named(path):
            check_files(path)
            connection = connect_to_write(path)
            try:
                check_identity(path, connection)
                connection.execute("PRAGMA journal_mode = WAL")
                add_later_columns(connection)
                return cls(path, connection)
            except BaseException:
                connection.close()
                raise

    def tie_clock(self, anchor: Anchor) -> None:
        """Adds an anchor of cook time, after a start or a restart. Commits."""
        with errors_named(self.path):
            _write_anchor(self._connection, anchor)

    def add_pack(self, pack: Pack, *, copied: bool = False) -> bool:
        """Adds a pack; returns False where this very pack was stored before.

        copied: the pack comes from another recording, in which duplicates were found when they arrived.
        """
        with errors_named(self.path):
            if not copied and self._duplicates.is_repeated(pack):
                return False
            begin(self._connection)
            cursor = self._connection.execute(
                "INSERT INTO pack (known, seq, digest) VALUES (?, ?, ?)",
                (pack.arrived, pack.seq, pack.digest),
            )
            number = cursor.lastrowid
            self._connection.executemany(
                "INSERT INTO reading (pack, channel, measured, value, fault) VALUES (?, ?, ?, ?, ?)",
                [(number, self._channel(r.channel, r.unit), r.time, r.value, r.fault) for r in pack.records],
            )
            if any(r.sender_time is not None for r in pack.records):
                self._add_sender_times(int(number or 0), pack)
        if pack.seq is not None:
            self.last_seq = pack.seq
        return True

    def _add_sender_times(self, number: int, pack: Pack) -> None:
        """Adds the sender's own times to the readings just added, whose row numbers follow each other."""
        last = self._connection.execute("SELECT max(id) FROM reading").fetchone()[0]
        first = last - len(pack.records) + 1
        self._connection.executemany(
            "UPDATE reading SET said = ? WHERE id = ? AND pack = ?",
            [
                (r.sender_time, first + place, number)
                for place, r in enumerate(pack.records)
                if r.sender_time is not None
            ],
        )

    def _channel(self, name: str, unit: str) -> int:
        id_ = self._channels.get((name, unit))
        if id_ is None:
            cursor = self._connection.execute("INSERT INTO channel (name, unit) VALUES (?, ?)", (name, unit))
            id_ = self._channels[name, unit] = int(cursor.lastrowid or 0)
        return id_

    def add_event(self, event: Event) -> None:
        """Adds an event; where its uid is there already it is the same event, and nothing changes."""
        with errors_named(self.path):
            begin(self._connection)
            write_event(self._connection, event)

    def commit(self) -> None:
        """Makes everything added durable."""
        with errors_named(self.path):
            if self._connection.in_transaction:
                self._connection.execute("COMMIT")

    def is_in_place(self) -> bool:
        """Whether the file being written is still the one at ``path``."""
        return self._identity is not None and file_identity(self.path) == self._identity

    def abandon(self) -> None:
        """Closes after a failed write and drops what was added since the last commit; ``resume`` opens it again."""
        with suppress(sqlite3.Error):
            self._connection.close()

    def is_finished(self) -> bool:
        """Whether a person has logged ``finished``, in this process or another."""
        with errors_named(self.path):
            return finished_at(self._connection) is not None

    def end(self, moment: float) -> None:
        """Notes that the recording ends at ``moment`` (Unix seconds) although nobody logged ``finished``."""
        with errors_named(self.path):
            begin(self._connection)
            self._connection.execute("INSERT OR REPLACE INTO about VALUES ('ended', ?)", (repr(moment),))

    def add_sheet(self, text: str, known: float) -> None:
        """Adds a batch sheet without checking it, for a copy of another recording. known: Unix seconds."""
        with errors_named(self.path):
            begin(self._connection)
            self._connection.execute("INSERT INTO sheet (known, text) VALUES (?, ?)", (known, text))

    def add_withdrawal(self, uid: str, known: float) -> None:
        """Withdraws an event as of ``known`` (Unix seconds), for a copy of another recording."""
        with errors_named(self.path):
            begin(self._connection)
            self._connection.execute("INSERT INTO withdrawal (uid, known) VALUES (?, ?)", (uid, known))

    def close(self) -> None:
        """Commits and closes the file, which stays a running cook."""
        try:
            self.commit()
        finally:
            self._connection.close()

    def finish(self) -> bool:
        """Commits, closes and folds the write-ahead log into the file; returns False where a reader held that up.

        Then the log stays beside the file and nothing is lost; ``fold`` is to be called again later.
        """
        self.close()
        return fold(self.path)


def _write_new(path: Path, anchor: Anchor, about: Mapping[str, str], sheet: str | None) -> None:
    """Makes a recording without readings in one transaction."""
    with closing(connect_to_write(path)) as connection:
        connection.execute("BEGIN IMMEDIATE")
        for statement in SCHEMA.split(";"):
            connection.execute(statement)
        connection.executemany(
            "INSERT INTO about VALUES (?, ?)",
            [*((key, storable(value)) for key, value in about.items()), ("started", repr(anchor.cook_time))],
        )
        if sheet is not None:
            connection.execute("INSERT INTO sheet (known, text) VALUES (?, ?)", (anchor.cook_time, sheet))
        _write_anchor(connection, anchor)
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute(f"PRAGMA user_version = {FORMAT}")
        connection.execute("COMMIT")


def _write_anchor(connection: sqlite3.Connection, anchor: Anchor) -> None:
    connection.execute(
        "INSERT INTO clock (cook_time, wall, boot_id, boot_s, rate) VALUES (?, ?, ?, ?, ?)",
        (anchor.cook_time, anchor.wall, anchor.boot_id, anchor.boot_s, anchor.rate),
    )


def _plain(title: str) -> str:
    ascii_title = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", ascii_title).strip("-")[:40].strip("-") or "cook"
