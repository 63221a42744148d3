"""Writes into a recording from a process that is not its logger: events, withdrawals of events, batch sheets."""

import json
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from monitor.formulation import read_sheet
from monitor.model import Event
from monitor.storage.connections import RecordingError, check_identity, connect_to_write, errors_named


def log_event(path: Path, event: Event) -> None:
    """Adds one event and commits it; for a process that is not the logger."""
    with _transaction(path) as connection:
        write_event(connection, event)


def withdraw_event(path: Path, uid: str, known: float) -> None:
    """Takes an event back as of ``known`` (Unix seconds); a view of an earlier moment still has it.

    Raises RecordingError when the recording has no such event.
    """
    with _transaction(path) as connection:
        if connection.execute("SELECT 1 FROM event WHERE uid = ?", (uid,)).fetchone() is None:
            raise RecordingError(path, "it has no such event to take back")
        connection.execute("INSERT INTO withdrawal (uid, known) VALUES (?, ?)", (uid, known))


def write_sheet(path: Path, text: str, known: float) -> None:
    """Adds a batch sheet that replaces the earlier one from ``known`` (Unix seconds) on.

    Raises SheetError when it is wrong and RecordingError when it cannot be written.
    """
    read_sheet(text)
    with _transaction(path) as connection:
        connection.execute("INSERT INTO sheet (known, text) VALUES (?, ?)", (known, text))


@contextmanager
def _transaction(path: Path) -> Iterator[sqlite3.Connection]:
    with errors_named(path):
        if not path.is_file():
            raise RecordingError(path, "there is no such file")
        with closing(connect_to_write(path)) as connection:
            check_identity(path, connection)
            connection.execute("BEGIN IMMEDIATE")
            yield connection
            connection.execute("COMMIT")


def write_event(connection: sqlite3.Connection, event: Event) -> None:
    """Adds an event within the transaction of the caller, unless its uid is there already."""
    connection.execute(
        "INSERT INTO event (uid, kind, measured, known, fields) VALUES (?, ?, ?, ?, ?) ON CONFLICT (uid) DO NOTHING",
        (event.uid, event.kind, event.measured, event.known, json.dumps(dict(event.fields), allow_nan=False)),
    )
