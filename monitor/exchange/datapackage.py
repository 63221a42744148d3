"""A cook as a Frictionless Data Package: out to a folder, and back without loss.

Files: readings.csv, packs.csv, events.csv, batch.json, datapackage.json, and calibrations.jsonl where the cook has any
(see ``calibrations_for``). Times are RFC 3339 in UTC to seven decimals, which tells any two moments apart that a
64-bit float of Unix seconds can. The three tables may stand beside it as Parquet too (see ``parquet``).
"""

import csv
import io
import json
import math
import os
import re
import sqlite3
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from decimal import Decimal, InvalidOperation
from itertools import groupby
from pathlib import Path
from types import MappingProxyType
from typing import Any, BinaryIO, TextIO, TypeAlias

from monitor.exchange.calibrations import (
    FILE,
    calibration_rows,
    calibrations_for,
    import_calibrations,
    left_out_text,
    read_lines,
)
from monitor.exchange.metadata import PackageMetadata, field_values, finite, moment, read_metadata, whole
from monitor.exchange.parquet import TIMES, writer
from monitor.model import Event
from monitor.probes import CalibrationRecord, Retraction
from monitor.protocol import Pack, SenmlRecord
from monitor.runtime import Anchor, MonitorError, open_plain, read_bounded
from monitor.storage import Recorder, building, connect_read_only, errors_named, header_from, read_batch, read_events

READINGS = ("time", "elapsed_s", "channel", "unit", "value", "fault", "pack")
# One column more where a sender's own time was not believed as it stood: Unix seconds, or a count of its own.
READINGS_SAID = (*READINGS, "said")
PACKS = ("pack", "known", "seq", "digest")
EVENTS = ("time", "known", "event", "fields", "uid", "withdrawn")

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
# Far beyond a day of ten channels, a year of batch sheets and the longest note.
MOST_TABLE_BYTES = 1_000_000_000
MOST_HEAD_BYTES = 50_000_000
LONGEST_LINE = 1_000_000
CHUNK_BYTES = 1 << 20
_RFC3339 = re.compile(r"(\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d)(\.\d+)?(Z|[+-]\d\d:\d\d)\Z")


Progress: TypeAlias = Callable[[int, int], None]


def _silent(_done: int, _total: int) -> None:
    return None


class ExchangeError(MonitorError):
    """A package that cannot be written or read. place: file or folder; why: one clause."""

    def __init__(self, place: Path, why: str) -> None:
        self.place = place
        self.why = why
        super().__init__(f"{place}: {why}.")


def rfc3339(moment: float) -> str:
    """Unix seconds as RFC 3339 in UTC.

    >>> rfc3339(1773484800.25)
    '2026-03-14T10:40:00.2500000Z'
    """
    whole = math.floor(moment)
    fraction = f"{Decimal(moment) - whole:.7f}"
    if fraction.startswith("1"):
        whole, fraction = whole + 1, "0.0000000"
    return datetime.fromtimestamp(whole, UTC).strftime("%Y-%m-%dT%H:%M:%S") + fraction[1:] + "Z"


def from_rfc3339(text: str) -> float:
    """Unix seconds of an RFC 3339 moment. Raises ValueError.

    >>> from_rfc3339("2026-03-14T11:40:00.25+01:00")
    1773484800.25
    """
    match = _RFC3339.match(text.strip())
    if match is None:
        raise ValueError(f"time is {text[:40]!r}; it must be RFC 3339 such as 2026-03-14T10:40:00Z")
    whole = datetime.fromisoformat(match.group(1) + match.group(3).replace("Z", "+00:00")).timestamp()
    return float(Decimal(int(whole)) + Decimal(match.group(2) or 0))


def export_package(recording: Path, folder: Path, progress: Progress = _silent, *, parquet: bool = False) -> None:
    """Writes a recording as a data package into ``folder``, which must be new or empty.

    progress: told (rows written, rows in all). parquet: whether the tables are written as Parquet too.
    Raises RecordingError, ExchangeError, ParquetError.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise ExchangeError(folder, "the folder is not empty")
    write_parquet = writer() if parquet else None
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
                    write_parquet(folder / f"{name}.parquet", columns, rows(connection, about.started, _silent))
            sheets = connection.execute("SELECT known, text FROM sheet ORDER BY id").fetchall()
            head = PackageMetadata(
                about.rig, about.source, about.started, about.ended, tuple(sheets), _ties(connection)
            )
            _write_json(folder / "batch.json", head.as_json())
            if calibrations:
                (folder / FILE).write_text("\n".join(calibrations) + "\n", encoding="utf-8")
            _write_json(folder / "datapackage.json", _descriptor(recording, bool(calibrations), parquet, tables))
        except OSError as error:
            raise ExchangeError(folder, (error.strerror or str(error)).lower()) from None


def _ties(connection: sqlite3.Connection) -> tuple[Anchor, ...]:
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


def import_package(
    package: Path, folder: Path, progress: Progress = _silent, tell: Callable[[str], None] = lambda _: None
) -> Path:
    """Reads a data package that ``export_package`` wrote into a new recording in ``folder``; its path.

    tell: told a sentence about calibrations that were left out.
    Raises ExchangeError that names the file and the row where the package is wrong; then nothing is left behind.
    """
    try:
        head = read_metadata(_read_json(package / "batch.json"))
    except (KeyError, TypeError, ValueError, AttributeError):
        raise ExchangeError(package / "batch.json", "it is not what an export writes") from None
    calibrations = _read_calibrations(package / FILE)
    first = read_batch(head.sheets[0][1]) if head.sheets else None
    title = first.title if first else None
    with building(folder) as space:
        recorder = Recorder.create(space, head.clocks[0], rig=head.rig, source=head.source, title=title)
        try:
            for known, text in head.sheets:
                recorder.add_sheet(text, known)
            _import_readings(package, recorder, progress)
            _import_events(package, recorder)
            for anchor in head.clocks[1:]:
                recorder.tie_clock(anchor)
            if head.ended is not None:
                recorder.end(head.ended)
            # Only a file without its log is a whole one that can be moved.
            recorder.finish()
        except BaseException:
            recorder.abandon()
            raise
    path = folder / recorder.path.name
    left_out = import_calibrations(calibrations, path)
    if left_out:
        tell(left_out_text(left_out))
    return path


def _read_calibrations(path: Path) -> list[CalibrationRecord | Retraction]:
    try:
        return calibration_rows(read_lines(path))
    except OSError as error:
        raise ExchangeError(path, (error.strerror or str(error)).lower()) from None
    except ValueError as error:
        raise ExchangeError(path, str(error)) from None


def _import_readings(package: Path, recorder: Recorder, progress: Progress) -> None:
    """Both tables go by the order in which the packs came, so one pack at a time is in memory."""
    path = package / "readings.csv"
    total = _line_count(package / "packs.csv")
    by_pack = groupby(_rows(path, READINGS, READINGS_SAID), lambda numbered: numbered[1]["pack"])
    pending = next(by_pack, None)
    for stored, (line, row) in enumerate(_rows(package / "packs.csv", PACKS), 1):
        with _row_named(package / "packs.csv", line):
            head = Pack(
                (),
                moment(from_rfc3339(row["known"])),
                whole(row["seq"]),
                whole(row["digest"]),
            )
        if pending is not None and pending[0] == row["pack"]:
            head = replace(head, records=_records(path, pending[1], head.arrived))
            pending = next(by_pack, None)
        recorder.add_pack(head, copied=True)
        progress(stored, total)
    if pending is not None:
        raise ExchangeError(path, f"pack {pending[0]!r} is not in packs.csv, or not in the same place there")


def _records(path: Path, rows: Iterator[tuple[int, dict[str, str]]], arrived: float) -> tuple[SenmlRecord, ...]:
    records = []
    for line, row in rows:
        with _row_named(path, line):
            measured = moment(from_rfc3339(row["time"]))
            value = finite(float(row["value"])) if row["value"] else None
            if value is None and not row["fault"]:
                raise ValueError("it holds neither a value nor a fault")
            time = None if measured == arrived else measured
            said = finite(float(row["said"])) if row.get("said") else None
            records.append(
                SenmlRecord(row["channel"], row["unit"], value, row["fault"] or None, time, sender_time=said)
            )
    return tuple(records)


def _line_count(path: Path) -> int:
    """The lines of a file, its heading left out; one where it cannot be read, which its reader then says."""
    try:
        with _opened(path) as file:
            return max(1, sum(chunk.count(b"\n") for chunk in iter(lambda: file.read(CHUNK_BYTES), b"")) - 1)
    except OSError:
        return 1


def _import_events(package: Path, recorder: Recorder) -> None:
    path = package / "events.csv"
    for line, row in _rows(path, EVENTS):
        with _row_named(path, line):
            fields = field_values(json.loads(row["fields"]))
            event = Event(
                row["uid"],
                row["event"],
                moment(from_rfc3339(row["time"])),
                moment(from_rfc3339(row["known"])),
                MappingProxyType(fields),
            )
            recorder.add_event(event)
            if row["withdrawn"]:
                recorder.add_withdrawal(row["uid"], moment(from_rfc3339(row["withdrawn"])))


@contextmanager
def _row_named(path: Path, line: int) -> Iterator[None]:
    """Turns what is wrong with a row into an ExchangeError that names it."""
    try:
        yield
    except (ValueError, InvalidOperation, OverflowError, TypeError, RecursionError) as error:
        raise ExchangeError(path, f"line {line} is wrong: {error}") from None


def _opened(path: Path) -> BinaryIO:
    """A table of a package, which may come from anybody: a plain file of a size that a cook can have."""
    file = os.fdopen(open_plain(path), "rb")
    if os.fstat(file.fileno()).st_size > MOST_TABLE_BYTES:
        file.close()
        raise ExchangeError(path, "it is longer than that of any cook")
    return file


def _short_lines(path: Path, file: TextIO) -> Iterator[str]:
    while line := file.readline(LONGEST_LINE):
        if len(line) == LONGEST_LINE:
            raise ExchangeError(path, f"it has a line of more than {LONGEST_LINE} characters")
        yield line


def _rows(path: Path, *headers: tuple[str, ...]) -> Iterator[tuple[int, dict[str, str]]]:
    try:
        with _opened(path) as raw, io.TextIOWrapper(raw, encoding="utf-8", newline="") as file:
            reader = csv.DictReader(_short_lines(path, file), strict=True)
            if tuple(reader.fieldnames or ()) not in headers:
                raise ExchangeError(path, f"its columns must be {', '.join(headers[0])}")
            for row in reader:
                if None in row or None in row.values():
                    raise ExchangeError(path, f"line {reader.line_num} has not as many cells as columns")
                yield reader.line_num, row
    except OSError as error:
        raise ExchangeError(path, (error.strerror or str(error)).lower()) from None
    except (csv.Error, UnicodeDecodeError) as error:
        raise ExchangeError(path, f"it is not CSV in UTF-8: {error}") from None


def _read_json(path: Path) -> dict[str, Any]:
    try:
        value = json.loads(read_bounded(path, MOST_HEAD_BYTES).decode())
    except OSError as error:
        raise ExchangeError(path, (error.strerror or str(error)).lower()) from None
    except (ValueError, RecursionError):
        raise ExchangeError(path, "it is not JSON") from None
    if not isinstance(value, dict):
        raise ExchangeError(path, "it is not a JSON object")
    return value
