"""A stranger's CSV, read into a recording: columns named by position on the command line."""

import csv
import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo
from pathlib import Path
from zoneinfo import ZoneInfo

from monitor.clock import Anchor
from monitor.exchange import ExchangeError, Progress, from_rfc3339
from monitor.recording import Recorder
from monitor.wire import RELATIVE_BELOW, Column, Pack, Record, parse_columns_spec

_ELAPSED_UNITS = {"s": 1.0, "min": 60.0, "h": 3600.0}
# The order in which a date writes its year, month and day.
_DATE_ORDERS = {"ymd": (0, 1, 2), "dmy": (2, 1, 0), "mdy": (2, 0, 1)}
_TIME_UNITS = ("iso", *_ELAPSED_UNITS, *_DATE_ORDERS, "clock")
_DATE = re.compile(r"(\d{1,4})[-./ ](\d{1,2})[-./ ](\d{1,4})(?!\d)[ T,]*")
_CLOCK = re.compile(r"(\d{1,2})[:.](\d\d)(?:[:.](\d\d)(?:[.,](\d{1,9}))?)?\s*([AaPp])?\.?(?:[Mm]\.?)?\Z")


@dataclass(frozen=True, slots=True)
class Layout:
    """What the columns of a file are.

    columns: None for one to pass over. time_index: which one is the time; date_index: which the date, where it stands
    in a column of its own.
    """

    columns: tuple[Column | None, ...]
    time_index: int
    date_index: int | None = None


def parse_layout(text: str) -> Layout:
    """What ``import --columns`` says: NAME:UNIT for each column in order, ``-`` to pass one over.

    One column is the time: ``time:iso`` (RFC 3339); ``time:s``, ``time:min``, ``time:h`` (from the start; ``s`` beyond
    2^28 counts as Unix seconds); ``time:ymd``, ``time:dmy``, ``time:mdy`` (a date and a time of day, the date in that
    order); or ``time:clock`` beside a column ``date:ymd``, ``date:dmy`` or ``date:mdy``. A temperature in ``degF`` is
    turned into Cel, ``mV`` into V. Raises ValueError naming the part that is wrong.

    >>> parse_layout("time:iso,-,paste:Cel").time_index
    0
    """
    parts = [part.strip() for part in text.split(",")]
    columns = tuple(None if part == "-" else parse_columns_spec(part)[0] for part in parts)
    names = [column.channel if column is not None else None for column in columns]
    told = [name for name in names if name is not None]
    if told.count("time") != 1:
        raise ValueError(f"columns is {text!r}; exactly one column must be the time, such as time:iso or time:min")
    if len(set(told)) < len(told):
        raise ValueError(f"columns is {text!r}, which names a channel twice")
    time_index = names.index("time")
    date_index = names.index("date") if "date" in names else None
    time, date = columns[time_index], None if date_index is None else columns[date_index]
    if time is None or time.unit not in _TIME_UNITS:
        raise ValueError(f"columns is {text!r}; a time is one of {', '.join(_TIME_UNITS)}")
    if (time.unit == "clock") != (date is not None):
        raise ValueError(f"columns is {text!r}; time:clock and a date column go together")
    if date is not None and date.unit not in _DATE_ORDERS:
        raise ValueError(f"columns is {text!r}; a date is one of {', '.join(_DATE_ORDERS)}")
    if len(told) < (2 if date is None else 3):
        raise ValueError(f"columns is {text!r}; beside the time it must name a channel")
    return Layout(columns, time_index, date_index)


def number(cell: str) -> float:
    """A number as people write it: with a decimal point or comma, and with separated thousands.

    Raises ValueError.

    >>> number("94,25"), number("1.234,5"), number("1,234.5"), number("-3")
    (94.25, 1234.5, 1234.5, -3.0)
    """
    text = cell.strip().replace("\u00a0", "").replace(" ", "").replace("\u2212", "-")
    if "," in text:
        thousands, point = (".", ",") if text.rfind(",") > text.rfind(".") else (",", ".")
        text = text.replace(thousands, "").replace(point, ".")
    return float(text)


def import_csv(
    path: Path, layout: Layout, folder: Path, now: float, progress: Progress, zone: tzinfo | None = None
) -> Path:
    """Reads a CSV file into a new, ended recording in ``folder``; its path.

    The delimiter and the encoding are found from the file; first rows that hold no time are taken for a heading. An
    empty cell is no reading, one that is not a number is a fault.
    now: Unix seconds, where the cook ends when its times count from its start. zone: of times that name none, the
    machine's own where it is None.
    Raises ExchangeError, RecordingError.
    """
    rows = read_rows(path)
    parse = _time_parser(layout, zone)
    moments: list[tuple[float, list[str]]] = []
    for row_number, row in enumerate(rows, 1):
        if not any(cell.strip() for cell in row):
            continue
        heading = not moments and row_number <= HEADING_ROWS
        try:
            moment = parse(row)
        except (ValueError, OverflowError, IndexError):
            if heading:
                continue
            cell = row[layout.time_index][:40] if len(row) > layout.time_index else ""
            raise ExchangeError(path, f"row {row_number} has no time in {cell!r}") from None
        if len(row) < len(layout.columns):
            why = f"row {row_number} has {len(row)} cells where {len(layout.columns)} were announced"
            raise ExchangeError(path, why)
        moments.append((moment, row))
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
                if column is not None and i not in (layout.time_index, layout.date_index) and row[i].strip()
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


# Loggers like to say who they are before the table begins.
HEADING_ROWS = 20


def read_rows(path: Path) -> list[list[str]]:
    """All rows of a CSV file, whatever its delimiter and encoding. Raises ExchangeError."""
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise ExchangeError(path, (error.strerror or str(error)).lower()) from None
    if b"\0" in raw[:1000] and not raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise ExchangeError(path, "it is not text")
    text = _decoded(raw)
    try:
        return list(csv.reader(text.splitlines(), delimiter=_delimiter(text)))
    except csv.Error as error:
        raise ExchangeError(path, f"it is not CSV: {error}") from None


def _decoded(raw: bytes) -> str:
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        return raw.decode("utf-16", errors="replace")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        # What spreadsheets of western Europe write.
        return raw.decode("cp1252", errors="replace")


def _delimiter(text: str) -> str:
    """The one that cuts most lines into the same number of cells, more than one; a comma where none does."""
    lines = [line for line in text[:20_000].splitlines() if line.strip()][:200]
    best, best_score = ",", 0
    for delimiter in (";", "\t", ",", "|"):
        widths = [len(row) for row in csv.reader(lines, delimiter=delimiter)]
        usual = max(set(widths), key=widths.count) if widths else 1
        score = widths.count(usual) if usual > 1 else 0
        if score > best_score:
            best, best_score = delimiter, score
    return best


def _time_parser(layout: Layout, zone: tzinfo | None) -> Callable[[list[str]], float]:
    """From a row to its moment: Unix seconds, or seconds from the start."""
    time_index, date_index = layout.time_index, layout.date_index
    time = layout.columns[time_index]
    date = None if date_index is None else layout.columns[date_index]
    unit = time.unit if time else "s"
    if unit == "iso":
        return lambda row: from_rfc3339(row[time_index])
    if unit in _ELAPSED_UNITS:

        def elapsed(row: list[str]) -> float:
            value = number(row[time_index]) * _ELAPSED_UNITS[unit]
            if not 0.0 <= value < 1e11:
                raise ValueError(f"time is {row[time_index]!r}")
            return value

        return elapsed
    order = date.unit if date is not None else unit
    before = -math.inf

    def local(row: list[str]) -> float:
        nonlocal before
        cell = row[time_index] if date_index is None else f"{row[date_index]} {row[time_index]}"
        moment = local_moment(cell, order, zone, before)
        before = moment
        return moment

    return local


def local_moment(cell: str, order: str, zone: tzinfo | None, before: float = -math.inf) -> float:
    """Unix seconds of a date and a time of day in a zone, the machine's own where it is None.

    order: "ymd", "dmy" or "mdy". before: the moment of the row before; it tells the first 2:30 of the night in which
    the clocks go back from the second. Raises ValueError.

    >>> local_moment("14.03.2026 11:40:00,5", "dmy", ZoneInfo("Europe/Berlin"))
    1773484800.5
    """
    date = _DATE.match(cell.strip())
    clock = _CLOCK.match(cell.strip()[date.end() :]) if date else None
    if date is None or clock is None:
        raise ValueError(f"time is {cell[:40]!r}")
    year, month, day = (int(date.group(i + 1)) for i in _DATE_ORDERS[order])
    hour, minute, second = int(clock.group(1)), int(clock.group(2)), int(clock.group(3) or 0)
    if clock.group(5):
        if not 1 <= hour <= 12:
            raise ValueError(f"time is {cell[:40]!r}")
        hour = hour % 12 + (12 if clock.group(5) in "Pp" else 0)
    naive = datetime(year + 2000 if year < 100 else year, month, day, hour, minute, second, tzinfo=UTC)
    fraction = float(f"0.{clock.group(4)}") if clock.group(4) else 0.0
    moments = [_in_zone(naive, zone, fold) + fraction for fold in (0, 1)]
    # Half an hour of grace for rows that are merely out of order.
    return moments[1] if moments[0] < before - 1800.0 < moments[1] else moments[0]


def _in_zone(wall: datetime, zone: tzinfo | None, fold: int) -> float:
    plain = wall.replace(tzinfo=None, fold=fold)
    if zone is None:
        return plain.astimezone().timestamp()
    offset = zone.utcoffset(plain) or timedelta()
    return wall.timestamp() - offset.total_seconds()


def zone_named(name: str) -> tzinfo:
    """A time zone by its name in the tz database, such as Europe/Berlin, or UTC. Raises ValueError."""
    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError):
        raise ValueError(f"zone is {name[:40]!r}; it must be a name such as Europe/Berlin or UTC") from None


def _record(column: Column, cell: str) -> Record:
    unit = {"degF": "Cel", "mV": "V"}.get(column.unit, column.unit)
    try:
        value = number(cell)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        return Record(column.channel, unit, None, cell.strip()[:200], None)
    if column.unit == "degF":
        value = (value - 32.0) / 1.8
    elif column.unit == "mV":
        value /= 1000.0
    return Record(column.channel, unit, value, None, None)
