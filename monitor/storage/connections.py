"""Connections to a recording: one that can only read, one that writes, and the end of the write-ahead log.

What can be wrong with a recording is found here, and SQLite's own errors are turned into its terms.
"""

import os
import re
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from monitor.runtime import MonitorError, is_plain
from monitor.storage.schema import APPLICATION_ID, DIGEST_INDEX, FORMAT

BUSY_TIMEOUT_S = 5.0
# Steps of SQLite's virtual machine (sqlite3_progress_handler). A whole cook is exported in some 5 a byte; a query may
# take the last number, and 200 for each byte of the file. They are counted in portions of the first number.
STEPS_A_CALL = 100_000
STEPS_A_BYTE = 200
MOST_STEPS = 10_000_000
_COMPUTED = re.compile(r"\b(?:AS|CHECK|USING)\b", re.IGNORECASE)


class RecordingError(MonitorError):
    """A recording that cannot be read or written.

    path: the file. why: one clause. damaged: whether the file itself is spoilt, so that trying again is of no use.
    """

    def __init__(self, path: Path, why: str, *, damaged: bool = False) -> None:
        self.path = path
        self.why = why
        self.damaged = damaged
        super().__init__(f"{path.name}: {why}.")


@contextmanager
def errors_named(path: Path) -> Iterator[None]:
    """Turns the errors of SQLite and of the system into a RecordingError about this file."""
    try:
        yield
    except sqlite3.Error as error:
        code = getattr(error, "sqlite_errorname", "") or ""
        damaged = _is_no_text(error) or any(word in code for word in ("CORRUPT", "NOTADB", "INTERRUPT"))
        raise RecordingError(path, _why(path, error), damaged=damaged) from None
    except OSError as error:
        raise RecordingError(path, (error.strerror or str(error)).lower()) from None


@contextmanager
def damage_named(path: Path) -> Iterator[None]:
    """As ``errors_named``; values of a wrong type or range are damage too, because SQLite stores any type anywhere."""
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
    if "CORRUPT" in name or "INTERRUPT" in name or _is_no_text(error):
        return "it is damaged"
    if "CANTOPEN" in name:
        if not path.parent.is_dir():
            return f"there is no folder {path.parent}"
        return "it cannot be opened; check the rights on its folder" if path.exists() else "there is no such file"
    if "BUSY" in name or "LOCKED" in name:
        return "it is held by another program"
    return str(error)


def _is_no_text(error: sqlite3.Error) -> bool:
    """Whether bytes that are no UTF-8 stand where a text belongs; Python's sqlite3 has no code of its own for that."""
    return "Could not decode to UTF-8" in str(error)


@contextmanager
def reading(path: Path) -> Iterator[sqlite3.Connection]:
    """A connection for one read, as ``connect_read_only``; what does not fit into a recording is a RecordingError."""
    with closing(connect_read_only(path)) as connection, damage_named(path):
        yield connection


def connect_read_only(path: Path) -> sqlite3.Connection:
    """A connection that cannot write, for one thread at a time. Raises RecordingError.

    It is to be closed soon, because an open one holds up ``Recorder.finish``.
    """
    check_files(path)
    with errors_named(path):
        address = f"{path.resolve().as_uri()}?mode=ro"
        connection = sqlite3.connect(address, uri=True, timeout=BUSY_TIMEOUT_S, check_same_thread=False)
        try:
            # A recording made by somebody else may hold anything.
            connection.execute("PRAGMA trusted_schema = OFF")
            connection.execute("PRAGMA cell_size_check = ON")
            limit_work(path, connection)
            check_identity(path, connection)
        except BaseException:
            connection.close()
            raise
        return connection


def check_files(path: Path) -> None:
    """Raises RecordingError where the recording, or a file that SQLite opens beside it, is no plain file."""
    if not is_plain(path):
        raise RecordingError(path, "it is no plain file" if os.path.lexists(path) else "there is no such file")
    for suffix in ("-wal", "-journal", "-shm"):
        other = path.with_name(f"{path.name}{suffix}")
        if os.path.lexists(other) and not is_plain(other):
            raise RecordingError(path, f"{other.name} is no plain file")


def limit_work(path: Path, connection: sqlite3.Connection) -> None:
    """Ends a query that takes far longer than any recording of this size could need: damaged pages may form a cycle."""
    log = path.with_name(f"{path.name}-wal")
    size = path.stat().st_size + (log.stat().st_size if log.exists() else 0)
    left = (MOST_STEPS + STEPS_A_BYTE * size) // STEPS_A_CALL

    def count() -> bool:
        nonlocal left
        left -= 1
        return left < 0

    connection.set_progress_handler(count, STEPS_A_CALL)


def has_only_stored_tables(connection: sqlite3.Connection) -> bool:
    """Whether the file holds nothing but tables of stored rows, which end: no view, trigger or computed column."""
    return all(
        (kind == "table" and root and not _COMPUTED.search(str(sql)))
        or (kind == "index" and sql in (None, DIGEST_INDEX))
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
        plain = has_only_stored_tables(connection)
    if not plain:
        raise RecordingError(path, "it holds what no recording does", damaged=True)


def connect_to_write(path: Path) -> sqlite3.Connection:
    """A connection that may write, and waits up to 5 s for others that do."""
    connection = sqlite3.connect(path, timeout=BUSY_TIMEOUT_S, isolation_level=None, check_same_thread=False)
    try:
        connection.execute("PRAGMA synchronous = FULL")
    except BaseException:
        connection.close()
        raise
    return connection


def begin(connection: sqlite3.Connection) -> None:
    """Begins a transaction that may write, unless one is under way."""
    if not connection.in_transaction:
        connection.execute("BEGIN IMMEDIATE")


def fold(path: Path) -> bool:
    """Folds a finished recording's WAL into its file, so that the file alone is the cook.

    Returns False while a reader is connected; nothing is lost, and it can be tried again later.
    """
    with errors_named(path), closing(connect_to_write(path)) as connection:
        connection.execute("PRAGMA busy_timeout = 200")
        try:
            connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
            mode: str = connection.execute("PRAGMA journal_mode = DELETE").fetchone()[0]
        except sqlite3.OperationalError:
            return False
        return mode == "delete"
