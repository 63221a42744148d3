"""A data package that an export wrote, back into a recording without loss.

A package may come from anybody: its files are plain ones of a bounded size, and what is wrong names its line.
"""

import csv
import io
import json
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from decimal import InvalidOperation
from itertools import groupby
from pathlib import Path
from types import MappingProxyType
from typing import Any, BinaryIO, TextIO

from monitor.exchange.calibrations import FILE, calibration_rows, import_calibrations, left_out_text, read_lines
from monitor.exchange.metadata import field_values, finite, moment, read_metadata, whole
from monitor.exchange.package_format import EVENTS, PACKS, READINGS, READINGS_SAID, ExchangeError, Progress, silent
from monitor.exchange.timestamps import from_rfc3339
from monitor.model import Event
from monitor.probes import CalibrationRecord, Retraction
from monitor.protocol import Pack, SenmlRecord
from monitor.runtime import open_plain, read_bounded
from monitor.storage import Recorder, building, read_batch

# Far beyond a day of ten channels, a year of batch sheets and the longest note.
MOST_TABLE_BYTES = 1_000_000_000
MOST_METADATA_BYTES = 50_000_000
LONGEST_LINE = 1_000_000
CHUNK_BYTES = 1 << 20


def import_package(
    package: Path, folder: Path, progress: Progress = silent, tell: Callable[[str], None] = lambda _: None
) -> Path:
    """Reads a data package that ``export_package`` wrote into a new recording in ``folder``; its path.

    tell: called with a sentence about calibrations that were left out.
    Raises ExchangeError that names the file and the row where the package is wrong; then nothing is left behind.
    """
    try:
        metadata = read_metadata(_read_json(package / "batch.json"))
    except (KeyError, TypeError, ValueError, AttributeError):
        raise ExchangeError(package / "batch.json", "it is not what an export writes") from None
    calibrations = _read_calibrations(package / FILE)
    first = read_batch(metadata.sheets[0][1]) if metadata.sheets else None
    title = first.title if first else None
    with building(folder) as space:
        recorder = Recorder.create(space, metadata.clocks[0], rig=metadata.rig, source=metadata.source, title=title)
        try:
            for known, text in metadata.sheets:
                recorder.add_sheet(text, known)
            _import_readings(package, recorder, progress)
            _import_events(package, recorder)
            for anchor in metadata.clocks[1:]:
                recorder.tie_clock(anchor)
            if metadata.ended is not None:
                recorder.end(metadata.ended)
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
            pack = Pack(
                (),
                moment(from_rfc3339(row["known"])),
                whole(row["seq"]),
                whole(row["digest"]),
            )
        if pending is not None and pending[0] == row["pack"]:
            pack = replace(pack, records=_records(path, pending[1], pack.arrived))
            pending = next(by_pack, None)
        recorder.add_pack(pack, copied=True)
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
        value = json.loads(read_bounded(path, MOST_METADATA_BYTES).decode())
    except OSError as error:
        raise ExchangeError(path, (error.strerror or str(error)).lower()) from None
    except (ValueError, RecursionError):
        raise ExchangeError(path, "it is not JSON") from None
    if not isinstance(value, dict):
        raise ExchangeError(path, "it is not a JSON object")
    return value
