"""A cook out to a folder as a Frictionless Data Package, without loss."""

import csv
import json
import re
import sqlite3
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing
from pathlib import Path
from types import MappingProxyType
from typing import Any, TextIO, TypeAlias

from monitor.exchange.calibrations import (
    FILE,
    calibrations_for,
)
from monitor.exchange.metadata import PackageMetadata
from monitor.exchange.package_format import EVENTS, PACKS, READINGS, READINGS_SAID, ExchangeError, Progress, silent
from monitor.exchange.parquet import parquet_writer
from monitor.exchange.timestamps import TIMES, rfc3339
from monitor.runtime import Anchor
from monitor.storage import connect_read_only, errors_named, header_from, read_events

_TYPES = {
    "time": "string",
    "known": "string",
    "withdrawn": "string",
    "elapsed_s": "number",
    "value": "number",
    "said": "number",
    "pack": "integer",
    "seq": "integer",
    # Beyond what every reader's integers hold.
    "digest": "string",
}
# What a reader may rely on: which columns tell the rows apart, and which row of packs a reading belongs to.
_KEYS: Mapping[str, Mapping[str, object]] = MappingProxyType(
    {
        "readings": {"foreignKeys": [{"fields": ["pack"], "reference": {"resource": "packs", "fields": ["pack"]}}]},
        "packs": {"primaryKey": ["pack"]},
        "events": {"primaryKey": ["uid"]},
    }
)


def export_package(recording: Path, folder: Path, progress: Progress = silent, *, parquet: bool = False) -> None:
    """Writes a recording as a data package into ``folder``, which must be new or empty.

    progress: called with (rows written, rows in all). parquet: whether the tables are written as Parquet too.
    Raises RecordingError, ExchangeError, ParquetError.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise ExchangeError(folder, "the folder is not empty")
    write_parquet = parquet_writer() if parquet else None
    calibrations = calibrations_for(recording)
    with closing(connect_read_only(recording)) as connection, errors_named(recording):
        connection.execute("BEGIN")
        about = header_from(recording, connection)
        try:
            folder.mkdir(parents=True, exist_ok=True)
            tables = _tables(connection)
            for name, (columns, rows) in tables.items():
                _write_csv(folder / f"{name}.csv", columns, rows(connection, about.started, progress))
                if write_parquet is not None:
                    # Read once more, so that no table is ever whole in memory.
                    write_parquet(folder / f"{name}.parquet", columns, rows(connection, about.started, silent))
            sheets = connection.execute("SELECT known, text FROM sheet ORDER BY id").fetchall()
            metadata = PackageMetadata(
                about.rig, about.source, about.started, about.ended, tuple(sheets), _clocks(connection)
            )
            _write_json(folder / "batch.json", metadata.as_json())
            if calibrations:
                (folder / FILE).write_text("\n".join(calibrations) + "\n", encoding="utf-8")
            _write_json(folder / "datapackage.json", _descriptor(recording, bool(calibrations), parquet, tables))
        except OSError as error:
            raise ExchangeError(folder, (error.strerror or str(error)).lower()) from None


def _clocks(connection: sqlite3.Connection) -> tuple[Anchor, ...]:
    """How cook time went with the clock, at each start of the logger."""
    rows = connection.execute("SELECT cook_time, wall, boot_id, boot_s, rate FROM clock ORDER BY id")
    return tuple(Anchor(*row) for row in rows)


_Row: TypeAlias = tuple[Any, ...]


def _readings(connection: sqlite3.Connection, started: float, progress: Progress) -> Iterator[_Row]:
    total = connection.execute("SELECT count(*) FROM reading").fetchone()[0]
    rows = connection.execute(
        "SELECT coalesce(measured, known), name, unit, value, fault, pack.id FROM reading "
        "JOIN pack ON pack.id = reading.pack JOIN channel ON channel.id = reading.channel ORDER BY reading.id"
    )
    for done, (measured, *rest) in enumerate(rows, 1):
        yield measured, round(measured - started, 6), *rest
        progress(done, total)


def _readings_said(connection: sqlite3.Connection, started: float, progress: Progress) -> Iterator[_Row]:
    said = connection.execute("SELECT said FROM reading ORDER BY id")
    for row, (own,) in zip(_readings(connection, started, progress), said, strict=True):
        yield *row, own


def _packs(connection: sqlite3.Connection, _started: float, _progress: Progress) -> Iterator[_Row]:
    yield from connection.execute("SELECT id, known, seq, digest FROM pack ORDER BY id")


def _events(connection: sqlite3.Connection, _started: float, _progress: Progress) -> Iterator[_Row]:
    withdrawn = dict(connection.execute("SELECT uid, min(known) FROM withdrawal GROUP BY uid"))
    for event in read_events(connection):
        fields = json.dumps(dict(event.fields), ensure_ascii=False)
        yield event.measured, event.known, event.kind, fields, event.uid, withdrawn.get(event.uid)


_Tables: TypeAlias = Mapping[
    str, tuple[tuple[str, ...], Callable[[sqlite3.Connection, float, Progress], Iterator[_Row]]]
]


def _tables(connection: sqlite3.Connection) -> _Tables:
    """By name, how rows are had, with times as Unix seconds and None for what is missing."""
    readings = (READINGS_SAID, _readings_said) if _has_said(connection) else (READINGS, _readings)
    return {"readings": readings, "packs": (PACKS, _packs), "events": (EVENTS, _events)}


def _has_said(connection: sqlite3.Connection) -> bool:
    # Recordings of older programs lack the column.
    if "said" not in {row[1] for row in connection.execute("PRAGMA table_info(reading)")}:
        return False
    return connection.execute("SELECT 1 FROM reading WHERE said IS NOT NULL LIMIT 1").fetchone() is not None


class _UnixLines:
    """Ends rows with a line feed alone; the writer, told of both, quotes a cell that holds either."""

    def __init__(self, file: TextIO) -> None:
        self._file = file

    def write(self, row: str) -> int:
        return self._file.write(row.removesuffix("\r\n") + "\n")


def _write_csv(path: Path, header: tuple[str, ...], rows: Iterator[_Row]) -> None:
    times = [i for i, column in enumerate(header) if column in TIMES]
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(_UnixLines(file), lineterminator="\r\n")
        writer.writerow(header)
        for row in rows:
            cells = list(row)
            for i in times:
                cells[i] = "" if cells[i] is None else rfc3339(cells[i])
            writer.writerow(cells)


def _write_json(path: Path, value: object) -> None:
    path.write_text(json.dumps(value, indent=2, ensure_ascii=False) + "\n", encoding="utf-8")


def _descriptor(recording: Path, calibrated: bool, parquet: bool, tables: _Tables) -> dict[str, object]:
    name = re.sub(r"[^a-z0-9._-]+", "-", recording.stem.lower())
    return {
        "profile": "tabular-data-package",
        "name": name,
        "title": f"Cook {recording.stem}",
        "batch": "batch.json",
        **({"calibrations": FILE} if calibrated else {}),
        **({"parquet": [f"{table}.parquet" for table in tables]} if parquet else {}),
        "resources": [
            {
                "name": table,
                "path": f"{table}.csv",
                "profile": "tabular-data-resource",
                "format": "csv",
                "mediatype": "text/csv",
                "encoding": "utf-8",
                "schema": {
                    "fields": [{"name": field, "type": _TYPES.get(field, "string")} for field in header],
                    **_KEYS[table],
                },
            }
            for table, (header, _) in tables.items()
        ],
    }
