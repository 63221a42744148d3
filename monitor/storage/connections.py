"""Connections to a recording: one that can only read, one that writes, and the end of the write-ahead log."""

import os
import sqlite3
from contextlib import closing
from pathlib import Path

from monitor.runtime import is_plain
from monitor.storage.errors import RecordingError, errors_named
from monitor.storage.schema import check_identity

BUSY_TIMEOUT_S = 5.0
# Steps of SQLite's virtual machine (sqlite3_progress_handler). A whole cook is exported in some 5 a byte; a query may
# take the last number, and 200 for each byte of the file. They are counted in portions of the first number.
STEPS_A_CALL = 100_000
STEPS_A_BYTE = 200
MOST_STEPS = 10_000_000


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
