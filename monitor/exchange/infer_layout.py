"""What the columns of a CSV file from elsewhere probably are, for a person to confirm."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise

from monitor.exchange.cell_parsers import DATE_ORDERS, local_moment, number, stopwatch_s, unit_behind, zoned_moment
from monitor.exchange.csv_import import HEADING_ROWS
from monitor.exchange.table_layout import parse_layout
from monitor.model import to_celsius

# Words in headings, in the languages of common loggers (judgement).
_TIME = re.compile(r"time|date|zeit|datum|uhr|heure|elapsed|stamp|^(t|s|sec\w*|min\w*|hours?)$", re.I)
_WALL = re.compile(r"wall|crock|wand|topf|base|2\b", re.I)
_ROOM = re.compile(r"room|ambient|raum|umgebung|luft|air|cold.?j", re.I)
_PH = re.compile(r"\bph\b", re.I)
_VOLT = re.compile(r"\bm?v\b|volt", re.I)
_FAHRENHEIT = re.compile(r"°\s*f|\bdeg\s*f|fahrenheit|\(f\)|\bf\b", re.I)
_TEMPERATURE = re.compile(r"temp|°|celsius|fahrenheit|paste|seife|soap|probe|fühler|sonde|\bt\d|kanal|chan", re.I)
_COUNT = re.compile(r"^(no|nr|n|id|index|#|row|sample|record)\W*$", re.I)
_KELVIN = re.compile(r"kelvin|\(k\)|\[k\]|\bk\b", re.I)
_TWELVE_HOURS = re.compile(r"\s*\d{1,2}/.*[ap]\.?m\.?\s*\Z", re.I)
_UTC = re.compile(r"\butc\b|\bgmt\b|zulu", re.I)
HOTTEST_C, COLDEST_C = 130.0, -20.0
# A thermocouple in kelvin never reads a household's degC or degF (judgement).
COLDEST_K, HOTTEST_K = 253.0, 403.0
# 2001 and 2100: numbers between them in a table of a cook are Unix times.
EARLIEST_UNIX_S, LATEST_UNIX_S = 978_307_200.0, 4_102_444_800.0
STARTED_WITHIN_S = 120.0
SAMPLE_ROWS = 200


@dataclass(frozen=True)
class InferredLayout:
    """What the columns of a table probably are.

    columns, why, headings: for each column its part of ``--columns``, the reason in a few words, and its heading.
    first_row: the row in which the readings begin, counted from 0. sure: whether a time and a channel were found.
    zone: the time zone that a heading names, or None. either_way: whether day and month of the dates could be the
    other way round. dateless: whether the table has times of day and no date.
    """

    columns: tuple[str, ...]
    why: tuple[str, ...]
    headings: tuple[str, ...]
    first_row: int
    sure: bool
    zone: str | None = None
    either_way: bool = False
    dateless: bool = False

    @property
    def spec(self) -> str:
        """The whole argument for ``--columns``."""
        return ",".join(self.columns)

    @property
    def zoneless(self) -> bool:
        """Whether the times are local ones whose zone neither they nor a heading name."""
        return times_without_zone(self.spec) and self.zone is None


def times_without_zone(spec: str) -> bool:
    """Whether the times in these columns are local ones that name no zone."""
    return any(part.split(":")[-1] in (*DATE_ORDERS, "clock") for part in spec.split(","))


# A time that says most is taken before one that says less.
_RANKS = ("iso", "unix s", "unix ms", "ymd", "dmy", "mdy", "date:ymd", "date:dmy", "date:mdy")
_COUNTING = ("hms", "h", "min", "s", "ms", "clock")


def infer_table_layout(rows: Sequence[Sequence[str]]) -> InferredLayout:
    """What the columns of these rows probably are; the first rows may be headings."""
    width, first_row = _table(rows)
    heading = list(rows[first_row - 1]) if first_row and len(rows[first_row - 1]) == width else [""] * width
    body = [[*row, *[""] * (width - len(row))] for row in rows[first_row : first_row + SAMPLE_ROWS]]
    columns, why = ["-"] * width, ["passed over"] * width
    times = {i: unit for i in range(width) if (unit := _time_unit([row[i] for row in body], heading[i])) is not None}
    place = min(times, key=lambda i: (*_RANKS, *_COUNTING).index(times[i]), default=None)
    dates: list[str] = []
    if place is not None:
        unit = times[place]
        dates = [row[place] for row in body if row[place].strip()]
        if unit.startswith("date:"):
            clock = next((i for i, other in times.items() if other in ("clock", "hms")), None)
            columns[place], why[place] = unit, "looks like dates"
            if clock is not None:
                columns[clock], why[clock] = "time:clock", "looks like times of day"
        else:
            columns[place], why[place] = f"time:{unit.removeprefix('unix ')}", _TIME_WORDS[unit]
    used: set[str] = set()
    for i in range(width):
        if i in times or _COUNT.match(heading[i].strip()):
            continue
        channel = _channel([row[i] for row in body], heading[i], used)
        if channel is not None:
            name, unit, reason = channel
            used.add(name)
            columns[i], why[i] = f"{name}:{unit}", reason
    for i in times:
        if columns[i] == "-":
            why[i] = "a time too, passed over"
    spec = ",".join(columns)
    dateless = "time:clock" in columns and not any(column.startswith("date:") for column in columns)
    try:
        parse_layout(spec, day=date.min if dateless else None)
    except ValueError:
        sure = False
    else:
        sure = True
    time_headings = " ".join(heading[i] for i in range(width) if columns[i].startswith(("time:", "date:")))
    return InferredLayout(
        tuple(columns),
        tuple(why),
        tuple(cell.strip() for cell in heading),
        first_row,
        sure,
        "UTC" if times_without_zone(spec) and _UTC.search(time_headings) else None,
        any(column.endswith((":dmy", ":mdy")) for column in columns) and len(_orders(dates)) > 1,
        dateless,
    )


_TIME_WORDS = {
    "iso": "looks like dates and times with their offset",
    "unix s": "looks like Unix seconds",
    "unix ms": "looks like Unix milliseconds",
    "ymd": "looks like year, month, day and a time",
    "dmy": "looks like day, month, year and a time",
    "mdy": "looks like month, day, year and a time",
    "hms": "rises like a stopwatch",
    "ms": "rises like milliseconds",
    "s": "rises like seconds",
    "min": "rises like minutes",
    "h": "rises like hours",
    "clock": "looks like times of day",
}


def _table(rows: Sequence[Sequence[str]]) -> tuple[int, int]:
    """How many columns the table has and where its readings begin."""
    widths = [len(row) for row in rows[:200] if any(cell.strip() for cell in row)]
    width = max(set(widths), key=widths.count) if widths else 0
    for i, row in enumerate(rows[: HEADING_ROWS + 1]):
        # Empty cells at the end of a row may be left out.
        whole = width / 2 < len(row) <= width
        if whole and any(_is_number(cell) or re.match(r"\s*\d", cell) for cell in row):
            return width, i
    return width, 0


def _is_number(cell: str) -> bool:
    try:
        number(cell)
    except ValueError:
        return False
    return True


def _time_unit(cells: list[str], heading: str) -> str | None:
    """What sort of time a column holds, with "date:" before one that holds the date alone; None for none."""
    full = [cell for cell in cells if cell.strip()]
    if not full:
        return None
    if _all(zoned_moment, full):
        return "iso"
    for order in _orders(full):
        if _all(lambda cell, order=order: local_moment(cell, order, None), full):
            return order
        if _all(lambda cell, order=order: local_moment(f"{cell} 0:00", order, None), full):
            return f"date:{order}"
    if _all(stopwatch_s, full) and _begins_at_nought(full, heading):
        return "hms"
    if all(re.match(r"\s*\d{1,2}:\d\d", cell) for cell in full):
        return "clock"
    if not all(_is_number(cell) for cell in full):
        return None
    values = [number(cell) for cell in full]
    if any(later < earlier for earlier, later in pairwise(values)) or values[0] < 0:
        return None
    for unit, seconds in (("unix s", 1.0), ("unix ms", 0.001)):
        if EARLIEST_UNIX_S <= values[0] * seconds <= LATEST_UNIX_S:
            return unit
    if not _TIME.search(heading.strip()):
        return None
    if re.search(r"\bh\b|hour|stund|heure", heading, re.I):
        return "h"
    if re.search(r"\bms\b|milli", heading, re.I):
        return "ms"
    return "min" if re.search(r"\bmin", heading, re.I) else "s"


def _begins_at_nought(cells: list[str], heading: str) -> bool:
    """Whether times count from the start rather than from midnight."""
    seconds = [stopwatch_s(cell) for cell in cells]
    rising = all(earlier <= later for earlier, later in pairwise(seconds))
    return rising and (seconds[0] < STARTED_WITHIN_S or bool(re.search(r"elapsed|dauer|durée|since", heading, re.I)))


def _orders(cells: list[str]) -> tuple[str, ...]:
    """The orders a date may be in: the year first where it has four digits there; a month is at most 12."""
    if any(re.match(r"\s*\d{4}[-./ ]", cell) for cell in cells):
        return ("ymd",)
    # A month's name leaves no doubt which of the others is the day.
    if any(re.match(r"\s*\d{1,2}[-./ ]+[^\W\d_]{3,}", cell) for cell in cells):
        return ("dmy",)
    if any(re.match(r"\s*[^\W\d_]{3,}", cell) for cell in cells):
        return ("mdy",)
    pairs = [
        match for match in (re.match(r"\s*(\d{1,2})[-./ ]+(\d{1,2})", cell) for cell in cells) if match is not None
    ]
    if any(int(match.group(2)) > 12 for match in pairs):
        return ("mdy",)
    if any(int(match.group(1)) > 12 for match in pairs):
        return ("dmy",)
    # Whoever writes slashes and a clock of twelve hours writes the month first more often than not.
    return ("mdy", "dmy") if any(_TWELVE_HOURS.match(cell) for cell in cells) else ("dmy", "mdy")


def _all(parse: object, cells: list[str]) -> bool:
    assert callable(parse)
    try:
        for cell in cells:
            parse(cell)
    except (ValueError, OverflowError):
        return False
    return True


def _channel(cells: list[str], heading: str, used: set[str]) -> tuple[str, str, str] | None:
    """Name, unit and why of a column of readings, or None for one that seems to hold none."""
    values = [number(cell) for cell in cells if cell.strip() and _is_number(cell)]
    if len(values) < 0.5 * sum(bool(cell.strip()) for cell in cells) or not values:
        return None
    if len(values) > 2 and all(later - earlier == 1.0 for earlier, later in pairwise(values)):
        return None
    low, high = min(values), max(values)
    behind = next((unit for cell in cells if (unit := unit_behind(cell)) is not None), None)
    if (_PH.search(heading) or behind == "pH") and low >= 0.0 and high <= 14.0:
        return ("ph", "pH", "headed pH, between 0 and 14") if "ph" not in used else None
    if _VOLT.search(heading) or behind in ("V", "mV"):
        unit = "mV" if behind == "mV" or re.search(r"\bmv\b|milli", heading, re.I) else "V"
        return ("ph", unit, "given as a voltage") if "ph" not in used else None
    unit = behind or _temperature_unit(heading, low, high)
    low, high = (to_celsius(value, unit) or 0.0 for value in (low, high))
    headed = any(words.search(heading) for words in (_TEMPERATURE, _WALL, _ROOM)) or unit != "Cel" or behind is not None
    if not COLDEST_C <= low <= high <= HOTTEST_C or (heading.strip() and not headed):
        return None
    name = "room" if _ROOM.search(heading) else "wall" if _WALL.search(heading) else "paste"
    if name in used:
        name = next((other for other in ("paste", "wall", "room") if other not in used), "")
    if not name:
        return None
    return name, unit, f"could be a temperature, {low:.0f} to {high:.0f} °C"


def _temperature_unit(heading: str, low: float, high: float) -> str:
    if COLDEST_K < low <= high < HOTTEST_K and (_KELVIN.search(heading) or _TEMPERATURE.search(heading)):
        return "K"
    if _FAHRENHEIT.search(heading) or (_TEMPERATURE.search(heading) and high > HOTTEST_C):
        return "degF"
    return "Cel"
