"""A stranger's CSV, read into a recording: columns named by position on the command line."""

import csv
import math
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from monitor.clock import Anchor
from monitor.exchange import ExchangeError, Progress, from_rfc3339
from monitor.recording import Recorder
from monitor.wire import RELATIVE_BELOW, Column, Pack, Record, parse_columns_spec

_TIME_UNITS = {"s": 1.0, "min": 60.0, "h": 3600.0}


@dataclass(frozen=True, slots=True)
class Layout:
    """What the columns of a file are. columns: None for one to pass over. time_index: which one is the time."""

    columns: tuple[Column | None, ...]
    time_index: int


def parse_layout(text: str) -> Layout:
    """What ``import --columns`` says: NAME:UNIT for each column in order, ``-`` to pass one over.

    One column is ``time:iso`` (RFC 3339) or ``time:s``, ``time:min``, ``time:h`` (from the start; ``s`` beyond
    2^28 counts as Unix seconds). A temperature in ``degF`` is turned into degC.
    Raises ValueError naming the part that is wrong.

    >>> parse_layout("time:iso,-,paste:Cel").time_index
    0
    """
    parts = [part.strip() for part in text.split(",")]
    columns = tuple(None if part == "-" else parse_columns_spec(part)[0] for part in parts)
    names = [column.channel for column in columns if column is not None]
    if names.count("time") != 1:
        raise ValueError(f"columns is {text!r}; exactly one column must be time:iso, time:s, time:min or time:h")
    if len(set(names)) < len(names):
        raise ValueError(f"columns is {text!r}, which names a channel twice")
    index = next(i for i, column in enumerate(columns) if column is not None and column.channel == "time")
    time = columns[index]
    if time is None or (time.unit != "iso" and time.unit not in _TIME_UNITS):
        raise ValueError(f"columns is {text!r}; a time is in iso, s, min or h")
    if len(names) < 2:
        raise ValueError(f"columns is {text!r}; beside the time it must name a channel")
    return Layout(columns, index)


def import_csv(path: Path, layout: Layout, folder: Path, now: float, progress: Progress) -> Path:
    """Reads a CSV file into a new, ended recording in ``folder``; its path.

    The delimiter is found from the file; a first row that holds no time is taken for a heading. An empty cell is no
    reading, one that is not a number is a fault.
    now: Unix seconds, where the cook ends when its times count from its start.
    Raises ExchangeError, RecordingError.
    """
    rows = _read(path)
    parse = _time_parser(layout.columns[layout.time_index])
    moments: list[tuple[float, list[str]]] = []
    for number, row in enumerate(rows, 1):
        if not any(cell.strip() for cell in row):
            continue
        if len(row) < len(layout.columns):
            raise ExchangeError(path, f"row {number} has {len(row)} cells where {len(layout.columns)} were announced")
        try:
            moments.append((parse(row[layout.time_index]), row))
        except ValueError:
            if moments or number > 1:
                raise ExchangeError(path, f"row {number} has no time in {row[layout.time_index][:40]!r}") from None
    if not moments:
        raise ExchangeError(path, "it holds no reading")
    moments.sort(key=lambda moment: moment[0])
    shift = 0.0 if moments[0][0] >= RELATIVE_BELOW else now - moments[-1][0]
    start, end = moments[0][0] + shift, moments[-1][0] + shift
    recorder = Recorder.create(folder, Anchor(start, start, "", 0.0), rig=path.stem[:60] or "cooker", source=path.name)
    try:
        for done, (moment, row) in enumerate(moments, 1):
            records = tuple(
                _record(column, row[i])
                for i, column in enumerate(layout.columns)
                if column is not None and i != layout.time_index and row[i].strip()
            )
            if records:
                recorder.add_pack(Pack(records, moment + shift, None, None))
            progress(done, len(moments))
        recorder.end(end)
        recorder.finish()
    except BaseException:
        recorder.abandon()
        for left in folder.glob(recorder.path.name + "*"):
            left.unlink()
        raise
    return recorder.path


def _read(path: Path) -> list[list[str]]:
    try:
        text = path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise ExchangeError(path, (error.strerror or str(error)).lower()) from None
    except UnicodeDecodeError:
        raise ExchangeError(path, "it is not UTF-8 text") from None
    try:
        dialect: type[csv.Dialect] = csv.Sniffer().sniff(text[:4096], delimiters=",;\t")
    except csv.Error:
        dialect = csv.excel
    try:
        return list(csv.reader(text.splitlines(), dialect))
    except csv.Error as error:
        raise ExchangeError(path, f"it is not CSV: {error}") from None


def _time_parser(column: Column | None) -> Callable[[str], float]:
    unit = column.unit if column else "s"
    if unit == "iso":
        return from_rfc3339

    def parse(cell: str) -> float:
        value = float(cell) * _TIME_UNITS[unit]
        if not 0.0 <= value < 1e11:
            raise ValueError(f"time is {cell!r}")
        return value

    return parse


def _record(column: Column, cell: str) -> Record:
    try:
        value = float(cell)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        return Record(column.channel, _unit(column), None, cell.strip()[:200], None)
    if column.unit == "degF":
        value = (value - 32.0) / 1.8
    return Record(column.channel, _unit(column), value, None, None)


def _unit(column: Column) -> str:
    return "Cel" if column.unit == "degF" else column.unit
