"""One SQLite file a cook, written: what was measured, what was logged, and when each became known.

Reading is ``monitor.storage.reader`` and ``monitor.storage.index``. The writer keeps the file in WAL mode;
``Recorder.finish`` folds the WAL in, after which the file alone is the cook.
"""

import json
import math
import os
import re
import secrets
import sqlite3
import unicodedata
import weakref
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path

from monitor.formulation import read_sheet
from monitor.model import Event, storable
from monitor.protocol import Pack
from monitor.runtime import Anchor, MonitorError, is_plain

# "KTLS" in ASCII: tells a recording from any other SQLite file.
APPLICATION_ID = 0x4B544C53
FORMAT = 1
SUFFIX = ".cook"
BUSY_TIMEOUT_S = 5.0
# SQLite's own steps (sqlite3_progress_handler): a whole cook is exported in some five for each of its bytes.
STEPS_A_LOOK = 100_000
STEPS_A_BYTE = 200
MOST_STEPS = 10_000_000
_COMPUTED = re.compile(r"\b(?:AS|CHECK|USING)\b", re.IGNORECASE)
# A sender that heard no answer sends again this soon; of packs without a time so many are remembered.
REPEATED_WITHIN_S, REMEMBERED_PACKS = 10.0, 4096

_SCHEMA = """
CREATE TABLE about (key TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID;
CREATE TABLE sheet (id INTEGER PRIMARY KEY, known REAL NOT NULL, text TEXT NOT NULL);
CREATE TABLE clock (id INTEGER PRIMARY KEY, cook_time REAL NOT NULL, wall REAL NOT NULL,
    boot_id TEXT NOT NULL, boot_s REAL NOT NULL, rate REAL NOT NULL);
CREATE TABLE channel (id INTEGER PRIMARY KEY, name TEXT NOT NULL, unit TEXT NOT NULL, UNIQUE (name, unit));
-- digest: tells a pack delivered twice
CREATE TABLE pack (id INTEGER PRIMARY KEY, known REAL NOT NULL, seq INTEGER, digest INTEGER);
-- measured is NULL where the time it became known counts, said is the sender's own time where that was not believed
CREATE TABLE reading (id INTEGER PRIMARY KEY, pack INTEGER NOT NULL REFERENCES pack, channel INTEGER NOT NULL
    REFERENCES channel, measured REAL, value REAL, fault TEXT, said REAL);
CREATE TABLE event (id INTEGER PRIMARY KEY, uid TEXT NOT NULL UNIQUE, kind TEXT NOT NULL,
    measured REAL NOT NULL, known REAL NOT NULL, fields TEXT NOT NULL);
CREATE TABLE withdrawal (id INTEGER PRIMARY KEY, uid TEXT NOT NULL, known REAL NOT NULL);
"""
# Made when a cook is first written on, because an imported one never needs it.
# As SQLite keeps it in its schema, by which it is known for ours.
_DIGEST_INDEX = "CREATE INDEX pack_digest ON pack (digest) WHERE digest IS NOT NULL"


class RecordingError(MonitorError):
    """A recording that cannot be read or written.

    path: the file; why: one clause; damaged: whether the file itself is spoilt, so that trying again is no use.
    """

    def __init__(self, path: Path, why: str, *, damaged: bool = False) -> None:
        self.path = path
        self.why = why
        self.damaged = damaged
        super().__init__(f"{path.name}: {why}.")


@contextmanager
def errors_named(path: Path) -> Iterator[None]:
    """SQLite's and the system's errors as one sentence about this file."""
    try:
        yield
    except sqlite3.Error as error:
        code = getattr(error, "sqlite_errorname", "") or ""
        raise RecordingError(
            path, _why(path, error), damaged=any(word in code for word in ("CORRUPT", "NOTADB", "INTERRUPT"))
        ) from None
    except OSError as error:
        raise RecordingError(path, (error.strerror or str(error)).lower()) from None


@contextmanager
def damage_named(path: Path) -> Iterator[None]:
    """As ``errors_named``, and a row that holds what no recording would is damage too: SQLite believes any type."""
    with errors_named(path):
        try:
            yield
        except (TypeError, ValueError, OverflowError):
            raise RecordingError(path, "it is damaged", damaged=True) from None


def _why(path: Path, error: sqlite3.Error) -> str:
    name = getattr(error, "sqlite_errorname", "") or ""
    if "NOTADB" in name or "not a database" in str(error):
        return "it is not a recording"
    if "FULL" in name:
        return "the disk is full"
    if "READONLY" in name:
        return "the folder or the file is read-only"
    if "CORRUPT" in name or "INTERRUPT" in name:
        return "it is damaged"
    if "CANTOPEN" in name:
        if not path.parent.is_dir():
            return f"there is no folder {path.parent}"
        return "it cannot be opened; check the rights on its folder" if path.exists() else "there is no such file"
    if "BUSY" in name or "LOCKED" in name:
        return "it is held by another program"
    return str(error)


def connect_read_only(path: Path) -> sqlite3.Connection:
    """A connection that cannot write, by construction, for one thread at a time.

    Close it soon: an open one holds up ``finish``.
    """
    _check_files(path)
    with errors_named(path):
        address = f"{path.resolve().as_uri()}?mode=ro"
        connection = sqlite3.connect(address, uri=True, timeout=BUSY_TIMEOUT_S, check_same_thread=False)
        try:
            # A recording made by somebody else may hold anything.
            connection.execute("PRAGMA trusted_schema = OFF")
            connection.execute("PRAGMA cell_size_check = ON")
            bound_work(path, connection)
            check_identity(path, connection)
        except BaseException:
            connection.close()
            raise
        return connection


def _check_files(path: Path) -> None:
    """Raises RecordingError where the recording, or what SQLite opens beside it, is no plain file to be waited for."""
    if not is_plain(path):
        raise RecordingError(path, "it is no plain file" if os.path.lexists(path) else "there is no such file")
    for beside in ("-wal", "-journal", "-shm"):
        other = path.with_name(f"{path.name}{beside}")
        if os.path.lexists(other) and not is_plain(other):
            raise RecordingError(path, f"{other.name} is no plain file")


def bound_work(path: Path, connection: sqlite3.Connection) -> None:
    """Ends what takes far longer than any recording of this size could, such as pages that lead back to themselves."""
    log = path.with_name(f"{path.name}-wal")
    size = path.stat().st_size + (log.stat().st_size if log.exists() else 0)
    left = (MOST_STEPS + STEPS_A_BYTE * size) // STEPS_A_LOOK

    def count() -> bool:
        nonlocal left
        left -= 1
        return left < 0

    connection.set_progress_handler(count, STEPS_A_LOOK)


def has_plain_plan(connection: sqlite3.Connection) -> bool:
    """Whether all that the file holds is tables of stored rows, which end: no view, trigger, virtual table or sum."""
    return all(
        (kind == "table" and root and not _COMPUTED.search(str(sql)))
        or (kind == "index" and sql in (None, _DIGEST_INDEX))
        for kind, root, sql in connection.execute("SELECT type, rootpage, sql FROM sqlite_schema")
    )


def check_identity(path: Path, connection: sqlite3.Connection) -> None:
    """Raises RecordingError where the file is no recording of this format."""
    if connection.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
        raise RecordingError(path, "it is not a recording", damaged=True)
    version = connection.execute("PRAGMA user_version").fetchone()[0]
    if version > FORMAT:
        raise RecordingError(path, f"its format is {version}, newer than this program's {FORMAT}")
    with damage_named(path):
        plain = has_plain_plan(connection)
    if not plain:
        raise RecordingError(path, "it holds what no recording does", damaged=True)


def connect_to_write(path: Path) -> sqlite3.Connection:
    """A connection that may write and waits its turn."""
    connection = sqlite3.connect(path, timeout=BUSY_TIMEOUT_S, isolation_level=None, check_same_thread=False)
    try:
        connection.execute("PRAGMA synchronous = FULL")
    except BaseException:
        connection.close()
        raise
    return connection


class Recorder:
    """The one writer of readings. Events may be added by other processes meanwhile.

    Nothing is certain until ``commit``; call it at least once a second.
    """

    def __init__(self, path: Path, connection: sqlite3.Connection) -> None:
        self.path = path
        self._connection = connection
        self._identity = _identity(path)
        # Whoever drops a recorder may not leave its file open behind it.
        weakref.finalize(self, connection.close)
        self._channels: dict[tuple[str, str], int] = {
            (name, unit): id_ for id_, name, unit in connection.execute("SELECT id, name, unit FROM channel")
        }
        # digest: when it became known, of packs without a time. A dict keeps its order: the oldest is forgotten first.
        self._digests: dict[int, float] = dict(
            connection.execute(
                "SELECT digest, known FROM pack WHERE digest IS NOT NULL AND id > "
                "(SELECT coalesce(max(id), 0) FROM pack) - ? ORDER BY id",
                (REMEMBERED_PACKS,),
            ).fetchall()
        )
        last = connection.execute("SELECT seq FROM pack WHERE seq IS NOT NULL ORDER BY id DESC LIMIT 1").fetchone()
        self.last_seq: int | None = last[0] if last else None
        # Of the senders' own times the latest: a pack with a later one is new without asking the file.
        latest = connection.execute("SELECT max(coalesce(said, measured)) FROM reading").fetchone()[0]
        self._latest_time = -math.inf if latest is None else float(latest)
        self._indexed = False

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

        title: names the file; that of the sheet, else the rig, where it is None.
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
                with closing(connect_to_write(made)) as connection:
                    connection.execute("BEGIN IMMEDIATE")
                    for statement in _SCHEMA.split(";"):
                        connection.execute(statement)
                    connection.executemany(
                        "INSERT INTO about VALUES (?, ?)",
                        [("rig", storable(rig)), ("source", storable(source)), ("started", repr(anchor.cook_time))],
                    )
                    if sheet is not None:
                        connection.execute("INSERT INTO sheet (known, text) VALUES (?, ?)", (anchor.cook_time, sheet))
                    _write_anchor(connection, anchor)
                    connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
                    connection.execute(f"PRAGMA user_version = {FORMAT}")
                    connection.execute("COMMIT")
                made.rename(path)
                settle(folder)
            except BaseException:
                made.unlink(missing_ok=True)
                raise
        return cls.resume(path)

    @classmethod
    def resume(cls, path: Path) -> "Recorder":
        """The running cook in ``path``, to be written on."""
        with errors_named(path):
            _check_files(path)
            connection = connect_to_write(path)
            try:
                check_identity(path, connection)
                connection.execute("PRAGMA journal_mode = WAL")
                _bring_up_to_date(connection)
                return cls(path, connection)
            except BaseException:
                connection.close()
                raise

    def tie_clock(self, anchor: Anchor) -> None:
        """Notes how cook time goes with the clock, after a start or a restart. Commits."""
        with errors_named(self.path):
            _write_anchor(self._connection, anchor)

    def add_pack(self, pack: Pack, *, copied: bool = False) -> bool:
        """Adds a pack; False when this very pack was stored before.

        copied: it comes from another recording, which told repeated ones apart when they came.
        """
        with errors_named(self.path):
            if pack.digest is not None and not copied and self._is_repeated(pack, pack.digest):
                return False
            self._begin()
            cursor = self._connection.execute(
                "INSERT INTO pack (known, seq, digest) VALUES (?, ?, ?)",
                (pack.arrived, pack.seq, pack.digest),
            )
            number = cursor.lastrowid
            self._connection.executemany(
                "INSERT INTO reading (pack, channel, measured, value, fault) VALUES (?, ?, ?, ?, ?)",
                [(number, self._channel(r.channel, r.unit), r.time, r.value, r.fault) for r in pack.records],
            )
            if any(r.said is not None for r in pack.records):
                self._add_said(int(number or 0), pack)
        if pack.seq is not None:
            self.last_seq = pack.seq
        return True

    def _add_said(self, number: int, pack: Pack) -> None:
        """Puts the sender's own times beside the readings just added, whose numbers follow each other."""
        last = self._connection.execute("SELECT max(id) FROM reading").fetchone()[0]
        first = last - len(pack.records) + 1
        self._connection.executemany(
            "UPDATE reading SET said = ? WHERE id = ? AND pack = ?",
            [(r.said, first + place, number) for place, r in enumerate(pack.records) if r.said is not None],
        )

    def _is_repeated(self, pack: Pack, digest: int) -> bool:
        """Whether this very pack was stored before; it is remembered as one that is."""
        own = [r.time if r.said is None else r.said for r in pack.records if not r.relative]
        times = [time for time in own if time is not None]
        if times:
            # What a pack says of its own time makes it one of its kind, however long ago it was sent.
            if max(times) > self._latest_time:
                self._latest_time = max(times)
                return False
            return self._is_stored(digest)
        # A board that starts anew counts from 0 again, and may well measure the same again.
        before = self._digests.pop(digest, None)
        if before is None and pack.redelivered and self._is_stored(digest):
            return True
        if before is not None and (pack.redelivered or abs(pack.arrived - before) <= REPEATED_WITHIN_S):
            self._digests[digest] = before
            return True
        self._digests[digest] = pack.arrived
        if len(self._digests) > REMEMBERED_PACKS:
            del self._digests[next(iter(self._digests))]
        return False

    def _is_stored(self, digest: int) -> bool:
        if not self._indexed:
            self._begin()
            self._connection.execute(_DIGEST_INDEX.replace("INDEX", "INDEX IF NOT EXISTS", 1))
            self._indexed = True
        return self._connection.execute("SELECT 1 FROM pack WHERE digest = ? LIMIT 1", (digest,)).fetchone() is not None

    def _channel(self, name: str, unit: str) -> int:
        id_ = self._channels.get((name, unit))
        if id_ is None:
            cursor = self._connection.execute("INSERT INTO channel (name, unit) VALUES (?, ?)", (name, unit))
            id_ = self._channels[name, unit] = int(cursor.lastrowid or 0)
        return id_

    def add_event(self, event: Event) -> None:
        """Adds an event; one with a uid already there is the same event and changes nothing."""
        with errors_named(self.path):
            self._begin()
            write_event(self._connection, event)

    def _begin(self) -> None:
        if not self._connection.in_transaction:
            self._connection.execute("BEGIN IMMEDIATE")

    def commit(self) -> None:
        """Makes all that was added durable."""
        with errors_named(self.path):
            if self._connection.in_transaction:
                self._connection.execute("COMMIT")

    def is_in_place(self) -> bool:
        """Whether the file that is written is still the one of that name."""
        return self._identity is not None and _identity(self.path) == self._identity

    def abandon(self) -> None:
        """Drops what was added since the last commit and closes, after a failed write; ``resume`` opens it again."""
        with suppress(sqlite3.Error):
            self._connection.close()

    def is_finished(self) -> bool:
        """Whether a person has logged ``finished``, in this process or another."""
        with errors_named(self.path):
            return finished_at(self._connection) is not None

    def end(self, moment: float) -> None:
        """Notes that the cook's record ends at ``moment`` (Unix seconds) although nobody logged ``finished``."""
        with errors_named(self.path):
            self._begin()
            self._connection.execute("INSERT OR REPLACE INTO about VALUES ('ended', ?)", (repr(moment),))

    def add_sheet(self, text: str, known: float) -> None:
        """Adds a batch sheet as it stands, without reading it; for a copy of another recording."""
        with errors_named(self.path):
            self._begin()
            self._connection.execute("INSERT INTO sheet (known, text) VALUES (?, ?)", (known, text))

    def add_withdrawal(self, uid: str, known: float) -> None:
        """Notes that an event was taken back as of ``known`` (Unix seconds); for a copy of another recording."""
        with errors_named(self.path):
            self._begin()
            self._connection.execute("INSERT INTO withdrawal (uid, known) VALUES (?, ?)", (uid, known))

    def close(self) -> None:
        """Commits and lets go of the file, which stays a running cook."""
        try:
            self.commit()
        finally:
            self._connection.close()

    def finish(self) -> bool:
        """Commits, folds the WAL into the file and closes; False when a reader held it up.

        Then the WAL stays beside the file, which loses nothing; call ``fold`` again later.
        """
        self.close()
        return fold(self.path)


def _bring_up_to_date(connection: sqlite3.Connection) -> None:
    """Adds what recordings of older programs lack; those still read and write what comes of it."""
    if "said" not in {row[1] for row in connection.execute("PRAGMA table_info(reading)")}:
        connection.execute("ALTER TABLE reading ADD COLUMN said REAL")


def _identity(path: Path) -> tuple[int, int] | None:
    try:
        file = path.stat()
    except OSError:
        return None
    return file.st_dev, file.st_ino


def settle(folder: Path) -> None:
    """Makes a new name in the folder outlive a power loss, where the system can."""
    with suppress(OSError):
        number = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(number)
        finally:
            os.close(number)


def fold(path: Path) -> bool:
    """Folds a finished recording's WAL into its file, so that the file alone is the cook.

    Returns False when a reader is connected just now; nothing is lost, try again later.
    """
    with errors_named(path), closing(connect_to_write(path)) as connection:
        connection.execute("PRAGMA busy_timeout = 200")
        try:
            connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
            mode: str = connection.execute("PRAGMA journal_mode = DELETE").fetchone()[0]
        except sqlite3.OperationalError:
            return False
        return mode == "delete"


def _write_anchor(connection: sqlite3.Connection, anchor: Anchor) -> None:
    connection.execute(
        "INSERT INTO clock (cook_time, wall, boot_id, boot_s, rate) VALUES (?, ?, ?, ?, ?)",
        (anchor.cook_time, anchor.wall, anchor.boot_id, anchor.boot_s, anchor.rate),
    )


def write_event(connection: sqlite3.Connection, event: Event) -> None:
    """Adds an event within the transaction under way; one of a known uid is left as it is."""
    connection.execute(
        "INSERT INTO event (uid, kind, measured, known, fields) VALUES (?, ?, ?, ?, ?) ON CONFLICT (uid) DO NOTHING",
        (event.uid, event.kind, event.measured, event.known, json.dumps(dict(event.fields), allow_nan=False)),
    )


def finished_at(connection: sqlite3.Connection) -> float | None:
    row = connection.execute(
        "SELECT measured FROM event WHERE kind = 'finished' AND uid NOT IN (SELECT uid FROM withdrawal) "
        "ORDER BY measured DESC LIMIT 1"
    ).fetchone()
    if row:
        return float(row[0])
    ended = connection.execute("SELECT value FROM about WHERE key = 'ended'").fetchone()
    return float(ended[0]) if ended else None


def _plain(title: str) -> str:
    ascii_title = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", ascii_title).strip("-")[:40].strip("-") or "cook"
