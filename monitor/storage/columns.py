"""Readings held in memory as columns that grow."""

from collections.abc import Iterator

import numpy as np

from monitor.model import Floats, Series, Unit, series_from, unit_as_sent
from monitor.protocol import AHEAD_S, OLDEST_S, fits


class ChannelColumns:
    """The channels of a cook, each found by the name and unit under which its readings were sent.

    Names differ in more than case, and what is sent in degC and later in degF goes on in one column. A name that
    comes in two kinds of unit is two channels, and the later one has its unit behind its name.
    """

    def __init__(self) -> None:
        self._columns: dict[tuple[str, str], GrowableColumn] = {}

    def __iter__(self) -> Iterator["GrowableColumn"]:
        return iter(self._columns.values())

    def appender(self, name: str, sent_unit: str) -> "ColumnAppender":
        """What takes in the readings of the channel of this name and unit."""
        unit = unit_as_sent(sent_unit)
        key = name.lower(), unit.symbol
        if key not in self._columns:
            taken = any(other == key[0] for other, _ in self._columns)
            self._columns[key] = GrowableColumn(f"{name} ({sent_unit or 'no unit'})" if taken else name, unit.symbol)
        return ColumnAppender(self._columns[key], unit, sent_unit)


class ColumnAppender:
    """Takes in what was sent in one unit, and keeps it in that of its column."""

    def __init__(self, column: "GrowableColumn", unit: Unit, sent_unit: str) -> None:
        self._column = column
        self._unit = unit
        self._sent = "" if sent_unit == unit.symbol else sent_unit

    def append(self, measured: float, known: float, value: float, fault: str | None) -> None:
        """One reading: Unix seconds, and its value as it was sent, NaN at a fault."""
        self._column.sent_unit = self._sent
        self._column.append(measured, known, self._unit.value(value), fault)

    def extend(self, rows: Floats, faults: list[tuple[int, str]]) -> None:
        """rows: measured, known, value as it was sent; shape (3, n). faults: (index into rows, words)."""
        self._column.sent_unit = self._sent
        if not self._unit.is_plain:
            rows = np.stack([rows[0], rows[1], self._unit.value(rows[2])])
        self._column.extend(rows, faults)


class GrowableColumn:
    """One channel's readings in arrays that double when they are full; one more costs the same however many.

    A time that does not fit when the reading became known gives way to that, as recordings hold such times that were
    made before their logger judged them, or elsewhere.
    """

    def __init__(self, name: str, unit: str) -> None:
        self.name = name
        self.unit = unit
        self.sent_unit = ""
        self._rows = np.empty((3, 1024))
        self._count = 0
        self._faults: list[tuple[int, str]] = []
        self._in_order = True

    def __len__(self) -> int:
        return self._count

    def append(self, measured: float, known: float, value: float, fault: str | None) -> None:
        """One reading: Unix seconds, and its value, NaN at a fault."""
        self._make_room(1)
        if fault is not None:
            self._faults.append((self._count, fault))
        rows, place = self._rows, self._count
        if not fits(measured, known):
            measured = known
        rows[0, place], rows[1, place], rows[2, place] = measured, known, value
        # Only what is new, and the reading before it, can break the order.
        if place and not measured >= rows[0, place - 1]:
            self._in_order = False
        self._count += 1

    def extend(self, rows: Floats, faults: list[tuple[int, str]]) -> None:
        """rows: measured, known, value; shape (3, n). faults: (index into rows, words)."""
        count = rows.shape[1]
        self._make_room(count)
        own = self._rows[:, self._count : self._count + count]
        own[:] = rows
        ahead_s = own[0] - own[1]
        np.copyto(own[0], own[1], where=~((ahead_s <= AHEAD_S) & (ahead_s >= -OLDEST_S)))
        # Only what is new, and the reading before it, can break the order.
        measured = self._rows[0, max(0, self._count - 1) : self._count + count]
        self._in_order = self._in_order and bool((measured[1:] >= measured[:-1]).all())
        self._faults.extend((self._count + place, words) for place, words in faults)
        self._count += count

    def _make_room(self, count: int) -> None:
        while self._count + count > self._rows.shape[1]:
            self._rows = np.concatenate([self._rows, np.empty_like(self._rows)], axis=1)

    def series(self) -> Series:
        """The readings so far, ordered by the time they were measured; a view, not a copy, where they came in order."""
        measured, known, value = self._rows[:, : self._count]
        if self._in_order:
            faults = tuple(self._faults)
            return Series(self.name, self.unit, measured, known, value, faults, sent_unit=self.sent_unit)
        return series_from(self.name, self.unit, measured, known, value, self._faults, self.sent_unit)
