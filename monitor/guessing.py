"""What the columns of a stranger's CSV probably are, for a person to confirm."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from monitor.exchange import from_rfc3339
from monitor.foreign import HEADING_ROWS, local_moment, number, parse_layout

# Words in headings, in the languages of common loggers (judgement).
_TIME = re.compile(r"time|date|zeit|datum|uhr|heure|elapsed|stamp|^(t|s|sec\w*|min\w*|hours?)$", re.I)
_WALL = re.compile(r"wall|crock|wand|topf|base|2\b", re.I)
_ROOM = re.compile(r"room|ambient|raum|umgebung|luft|air|cold.?j", re.I)
_PH = re.compile(r"\bph\b", re.I)
_VOLT = re.compile(r"\bm?v\b|volt", re.I)
_FAHRENHEIT = re.compile(r"°\s*f|\bdeg\s*f|fahrenheit|\(f\)|\bf\b", re.I)
_TEMPERATURE = re.compile(r"temp|°|celsius|fahrenheit|paste|seife|soap|probe|fühler|sonde|\bt\d|kanal|chan", re.I)
_COUNT = re.compile(r"^(no|nr|n|id|index|#|row|sample|record)\W*$", re.I)
HOTTEST_C, COLDEST_C = 130.0, -20.0


@dataclass(frozen=True)
class Guess:
    """columns: one part of ``--columns`` for each. why: a few words for each. first_row: where the readings begin,
    counted from 0. sure: whether a time and a channel were found."""

    columns: tuple[str, ...]
    why: tuple[str, ...]
    first_row: int
    sure: bool

    @property
    def spec(self) -> str:
        """What to give to ``--columns``."""
        return ",".join(self.columns)


def guess(rows: Sequence[Sequence[str]]) -> Guess:
    """What the columns of these rows probably are; the first rows may be headings."""
    width, first_row = _table(rows)
    heading = rows[first_row - 1] if first_row and len(rows[first_row - 1]) == width else [""] * width
    body = [row for row in rows[first_row : first_row + 200] if len(row) >= width]
    columns, why = ["-"] * width, ["passed over"] * width
    times = [(_time_unit([row[i] for row in body], heading[i]), i) for i in range(width)]
    time = next(((unit, i) for unit, i in times if unit is not None), None)
    if time is not None:
        unit, place = time
        if unit.startswith("date:"):
            columns[place], why[place] = unit, "looks like dates"
            clock = next((i for u, i in times if u == "clock"), None)
            if clock is not None:
                columns[clock], why[clock] = "time:clock", "looks like times of day"
        else:
            columns[place], why[place] = f"time:{unit}", _TIME_WORDS[unit]
    taken: set[str] = set()
    for i in range(width):
        if columns[i] != "-" or _COUNT.match(heading[i].strip()):
            continue
        found = _channel([row[i] for row in body], heading[i], taken)
        if found is not None:
            name, unit, reason = found
            taken.add(name)
            columns[i], why[i] = f"{name}:{unit}", reason
    try:
        parse_layout(",".join(columns))
    except ValueError:
        return Guess(tuple(columns), tuple(why), first_row, False)
    return Guess(tuple(columns), tuple(why), first_row, True)


_TIME_WORDS = {
    "iso": "looks like RFC 3339",
    "ymd": "looks like year, month, day and a time",
    "dmy": "looks like day, month, year and a time",
    "mdy": "looks like month, day, year and a time",
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
        if len(row) == width and any(_is_number(cell) or re.match(r"\s*\d", cell) for cell in row):
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
    if _all(from_rfc3339, full):
        return "iso"
    for order in _orders(full):
        if _all(lambda cell, order=order: local_moment(cell, order, None), full):
            return order
        if _all(lambda cell, order=order: local_moment(f"{cell} 0:00", order, None), full):
            return f"date:{order}"
    if all(re.match(r"\s*\d{1,2}:\d\d", cell) for cell in full):
        return "clock"
    if not (_TIME.search(heading.strip()) and all(_is_number(cell) for cell in full)):
        return None
    values = [number(cell) for cell in full]
    if any(later < earlier for earlier, later in pairwise(values)) or values[0] < 0:
        return None
    if re.search(r"\bh\b|hour|stund", heading, re.I):
        return "h"
    return "min" if re.search(r"\bmin", heading, re.I) else "s"


def _orders(cells: list[str]) -> tuple[str, ...]:
    """The orders a date may be in: the year first where it has four digits there; a month is at most 12."""
    firsts = [re.match(r"\s*(\d{1,4})[-./ ](\d{1,2})", cell) for cell in cells]
    if any(match is not None and len(match.group(1)) == 4 for match in firsts):
        return ("ymd",)
    if any(match is not None and int(match.group(2)) > 12 for match in firsts):
        return ("mdy",)
    return ("dmy", "mdy")


def _all(parse: object, cells: list[str]) -> bool:
    assert callable(parse)
    try:
        for cell in cells:
            parse(cell)
    except (ValueError, OverflowError):
        return False
    return True


def _channel(cells: list[str], heading: str, taken: set[str]) -> tuple[str, str, str] | None:
    """Name, unit and why of a column of readings, or None for one that seems to hold none."""
    values = [number(cell) for cell in cells if cell.strip() and _is_number(cell)]
    if len(values) < 0.5 * sum(bool(cell.strip()) for cell in cells) or not values:
        return None
    low, high = min(values), max(values)
    if _PH.search(heading) and low >= 0.0 and high <= 14.0:
        return ("ph", "pH", "headed pH, between 0 and 14") if "ph" not in taken else None
    if _VOLT.search(heading):
        unit = "mV" if re.search(r"\bmv\b|milli", heading, re.I) else "V"
        return ("ph", unit, "headed as a voltage") if "ph" not in taken else None
    fahrenheit = bool(_FAHRENHEIT.search(heading)) or (bool(_TEMPERATURE.search(heading)) and high > HOTTEST_C)
    if fahrenheit:
        low, high = (low - 32.0) / 1.8, (high - 32.0) / 1.8
    if not COLDEST_C <= low <= high <= HOTTEST_C or (
        heading.strip()
        and not _TEMPERATURE.search(heading)
        and not _WALL.search(heading)
        and not _ROOM.search(heading)
        and not fahrenheit
    ):
        return None
    name = "room" if _ROOM.search(heading) else "wall" if _WALL.search(heading) else "paste"
    if name in taken:
        name = next((other for other in ("paste", "wall", "room") if other not in taken), "")
    if not name:
        return None
    return name, "degF" if fahrenheit else "Cel", f"could be a temperature, {low:.0f} to {high:.0f} °C"
