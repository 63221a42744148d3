"""Salvages a damaged recording: all that can still be read goes into a new one, with a report on what could not.

A spoilt first page, which holds the schema, is replaced by that of a fresh recording, whose schema is the same.
"""

import shutil
import sqlite3
import tempfile
from contextlib import closing
from pathlib import Path

from monitor.runtime import Anchor, is_plain
from monitor.storage.connections import RecordingError, errors_named, has_only_stored_tables
from monitor.storage.salvage_report import SalvageReport
from monitor.storage.salvage_rows import TABLES, UNREADABLE, readable_about, readable_rows
from monitor.storage.salvage_writer import write_salvaged
from monitor.storage.schema import APPLICATION_ID
from monitor.storage.staging import building
from monitor.storage.writer import Recorder

PAGE_BYTES = 4096


def salvage_recording(damaged: Path, folder: Path) -> SalvageReport:
    """Reads all that can be read of a recording into a new, ended one in ``folder``; the old file is not touched.

    Raises RecordingError where there is no file, or nothing of a recording in it.
    """
    if not is_plain(damaged):
        raise RecordingError(damaged, "there is no such file")
    with tempfile.TemporaryDirectory(prefix="kettleside-") as space, errors_named(damaged):
        copy = Path(space) / "copy.cook"
        shutil.copyfile(damaged, copy)
        log = damaged.with_name(f"{damaged.name}-wal")
        if is_plain(log):
            shutil.copyfile(log, copy.with_name(f"{copy.name}-wal"))
        report = SalvageReport(damaged)
        if not _has_schema(copy):
            _replace_first_page(copy, Path(space))
            report.schema_lost = True
            if not _has_schema(copy):
                raise RecordingError(damaged, "nothing of a recording can be found in it", damaged=True)
        with closing(sqlite3.connect(copy)) as connection:
            connection.execute("PRAGMA cell_size_check = ON")
            tables = {name: list(readable_rows(connection, name, report.lost)) for name in TABLES}
            about = readable_about(connection)
    with building(folder) as staging:
        write_salvaged(damaged, staging, tables, about, report)
    report.path = folder / report.path.name
    return report


def _has_schema(copy: Path) -> bool:
    """Whether the file's first page is that of a recording."""
    try:
        with closing(sqlite3.connect(copy)) as connection:
            names = {row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
            is_recording = connection.execute("PRAGMA application_id").fetchone()[0] == APPLICATION_ID
            return is_recording and names >= TABLES.keys() and has_only_stored_tables(connection)
    except UNREADABLE:
        return False


def _replace_first_page(copy: Path, space: Path) -> None:
    """Writes the first page of a fresh recording over that of the copy; the schema of every recording is the same."""
    fresh = Recorder.create(space / "fresh", Anchor(0.0, 0.0, "", 0.0), rig="rescue", source="rescue")
    fresh.finish()
    page = bytearray(fresh.path.read_bytes()[:PAGE_BYTES])
    raw = copy.read_bytes()
    # Bytes 28 to 31 of the header count the pages, 32 to 39 those that are free (SQLite file format, section 1.3).
    page[28:32] = (len(raw) // PAGE_BYTES).to_bytes(4, "big")
    page[32:40] = bytes(8)
    copy.write_bytes(bytes(page) + raw[PAGE_BYTES:])
