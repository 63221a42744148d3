"""Connections to a recording: one that can only read, one that writes, and the end of the write-ahead log."""

import os
import sqlite3
from contextlib import closing
from pathlib import Path

from monitor.runtime import is_plain
from monitor.storage.errors import RecordingError, errors_named
from monitor.storage.schema import check_identity

BUSY_TIMEOUT_S = 5.0
# SQLite's own steps (sqlite3_progress_handler): a whole cook is exported in some five for each of its bytes.
STEPS_A_LOOK = 100_000
STEPS_A_BYTE = 200
MOST_STEPS = 10_000_000


def connect_read_only(path: Path) -> sqlite3.Connection:
    """A connection that cannot write, by construction, for one thread at a time.

    Close it soon: an open one holds up ``finish``.
    """
    check_files(path)
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


def check_files(path: Path) -> None:
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


def connect_to_write(path: Path) -> sqlite3.Connection:
    """A connection that may write and waits its turn."""
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
