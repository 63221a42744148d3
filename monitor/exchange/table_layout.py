"""What the columns of a table from elsewhere are, and when each of its rows was."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta, tzinfo

from monitor.exchange.cell_parsers import DATE_ORDERS, local_moment, number, stopwatch_s, zoned_moment
from monitor.model import unit_as_sent
from monitor.protocol import ColumnSpec, parse_columns_spec

_ELAPSED_UNITS = {"ms": 0.001, "s": 1.0, "min": 60.0, "h": 3600.0}
_TIME_UNITS = ("iso", *_ELAPSED_UNITS, "hms", *DATE_ORDERS, "clock")
# A clock that stands this much before the row above has passed midnight.
MIDNIGHT_S = 43_200.0


@dataclass(frozen=True, slots=True)
class TableLayout:
    """What the columns of a file are, and what its times do not say themselves.

    columns: None for one to pass over. time_index: which one is the time; date_index: which the date, where it stands
    in a column of its own. zone: of times that name none, the machine's own where it is None. day: on which the table
    begins, where it has times of day and no date.
    """

    columns: tuple[ColumnSpec | None, ...]
    time_index: int
    date_index: int | None = None
    zone: tzinfo | None = None
    day: date | None = None

    @property
    def channels(self) -> tuple[tuple[int, ColumnSpec], ...]:
        """The columns that hold readings, with their places."""
        others = (self.time_index, self.date_index)
        return tuple((i, column) for i, column in enumerate(self.columns) if column is not None and i not in others)


def parse_layout(text: str, zone: tzinfo | None = None, day: date | None = None) -> TableLayout:
    """What ``import --columns`` says: NAME:UNIT for each column in order, ``-`` to pass one over.

    One column is the time: ``time:iso`` (a date and time with its offset); ``time:s``, ``ms``, ``min``, ``h`` (from
    the start; seconds and milliseconds beyond 2^28 s count as Unix time); ``time:hms`` (a stopwatch's); ``time:ymd``,
    ``dmy``, ``mdy`` (a date and a time of day, the date in that order); or ``time:clock`` with a column ``date:ymd``,
    ``date:dmy`` or ``date:mdy``, or with the day on which it begins. A temperature in ``degF`` is turned into Cel,
    ``mV`` into V. Raises ValueError naming the part that is wrong.

    >>> parse_layout("time:iso,-,paste:Cel").time_index
    0
    """
    parts = [part.strip() for part in text.split(",")]
    columns = tuple(None if part == "-" else _column(part) for part in parts)
    names = [column.channel if column is not None else None for column in columns]
    told = [name for name in names if name is not None]
    if told.count("time") != 1:
        raise ValueError(f"columns is {text!r}; exactly one column must be the time, such as time:iso or time:min")
    if len(set(told)) < len(told):
        raise ValueError(f"columns is {text!r}, which names a channel twice")
    time_index = names.index("time")
    date_index = names.index("date") if "date" in names else None
    time, dated = columns[time_index], None if date_index is None else columns[date_index]
    if time is None or time.unit not in _TIME_UNITS:
        raise ValueError(f"columns is {text!r}; a time is one of {', '.join(_TIME_UNITS)}")
    if time.unit == "clock" and dated is None and day is None:
        raise ValueError(f"columns is {text!r}; time:clock takes a date column, or --date for the day it begins")
    if time.unit != "clock" and dated is not None:
        raise ValueError(f"columns is {text!r}; a date column goes with time:clock")
    if dated is not None and dated.unit not in DATE_ORDERS:
        raise ValueError(f"columns is {text!r}; a date is one of {', '.join(DATE_ORDERS)}")
    if len(told) < (2 if dated is None else 3):
        raise ValueError(f"columns is {text!r}; beside the time it must name a channel")
    return TableLayout(columns, time_index, date_index, zone, day)


def _column(part: str) -> ColumnSpec:
    column = parse_columns_spec(part).columns[0]
    return ColumnSpec(column.channel, unit_as_sent(column.unit).name)


_STORED_UNITS = {"degF": "Cel", "mV": "V"}


def stored_unit(unit: str) -> str:
    """The unit in which a column's values are stored: degF becomes Cel, mV becomes V, any other stays."""
    return _STORED_UNITS.get(unit, unit)


def time_parser(layout: TableLayout) -> Callable[[list[str]], float]:
    """From a row to its moment: Unix seconds, or seconds from the start."""
    time_index, date_index, zone = layout.time_index, layout.date_index, layout.zone
    time = layout.columns[time_index]
    dated = None if date_index is None else layout.columns[date_index]
    unit = time.unit if time else "s"
    if unit == "iso":
        return lambda row: zoned_moment(row[time_index])
    if unit == "hms":
        return lambda row: stopwatch_s(row[time_index])
    if unit in _ELAPSED_UNITS:
        return lambda row: number(row[time_index]) * _ELAPSED_UNITS[unit]
    order = dated.unit if dated is not None else unit
    day, before = layout.day, -math.inf

    def local(row: list[str]) -> float:
        nonlocal before
        cell = row[time_index] if date_index is None else f"{row[date_index]} {row[time_index]}"
        before = local_moment(cell, order, zone, before)
        return before

    def on_the_day(row: list[str]) -> float:
        nonlocal before, day
        assert day is not None
        moment = local_moment(f"{day.isoformat()} {row[time_index]}", "ymd", zone, before)
        if moment < before - MIDNIGHT_S:
            day += timedelta(days=1)
            moment = local_moment(f"{day.isoformat()} {row[time_index]}", "ymd", zone, before)
        before = moment
        return moment

    return on_the_day if unit == "clock" and dated is None else local
