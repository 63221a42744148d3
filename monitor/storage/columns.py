"""The readings of a cook in memory, as arrays that grow."""

from collections.abc import Mapping

import numpy as np

from monitor.model import Floats, Series, Unit, series_from, unit_as_sent
from monitor.protocol import AHEAD_S, OLDEST_S

# Up to this number readings are appended faster one by one than as arrays.
MOST_SINGLE = 24


class ChannelColumns:
    """The channels of a cook, found by the name and the unit under which their readings were sent.

    Names that differ only in case are one channel, and readings sent in degC and later in degF go into one column. A
    name that comes with units of two kinds is two channels; the later one has its unit behind its name.
    """

    def __init__(self) -> None:
        self._columns: dict[tuple[str, str], GrowableColumn] = {}

    def series(self) -> dict[str, Series]:
        """By channel name, the readings of each channel that has any."""
        return {column.name: column.series() for column in self._columns.values() if len(column)}

    def appender(self, name: str, sent_unit: str) -> "ColumnAppender":
        """Appends the readings that are sent under this name and in this unit."""
        unit = unit_as_sent(sent_unit)
        key = name.lower(), unit.symbol
        if key not in self._columns:
            taken = any(other == key[0] for other, _ in self._columns)
            self._columns[key] = GrowableColumn(f"{name} ({sent_unit or 'no unit'})" if taken else name, unit.symbol)
        return ColumnAppender(self._columns[key], unit, sent_unit)


class ColumnAppender:
    """Appends readings that are sent in one unit to a column, converted into the unit of the column."""

    def __init__(self, column: "GrowableColumn", unit: Unit, sent_unit: str) -> None:
        self._column = column
        self._converted = None if unit.is_plain else unit.value
        self._sent_unit = "" if sent_unit == unit.symbol else sent_unit

    def append(self, measured: float, known: float, value: float, fault: str | None) -> None:
        """One reading. measured, known: Unix seconds. value: as it was sent, NaN at a fault, which ``fault`` words."""
        self._column.sent_unit = self._sent_unit
        self._column.append(measured, known, value if self._converted is None else self._converted(value), fault)

    def extend(self, rows: Floats, faults: list[tuple[int, str]]) -> None:
        """rows: measured, known, value as it was sent; shape (3, n). faults: (column of rows, words)."""
        self._column.sent_unit = self._sent_unit
        if self._converted is not None:
            rows = np.stack([rows[0], rows[1], self._converted(rows[2])])
        self._column.extend(rows, faults)


def append_recorded(appenders: Mapping[int, ColumnAppender], readings: Floats, faults: list[tuple[int, str]]) -> None:
    """Appends what a recording holds to the columns of its channels.

    appenders: by channel id. readings: columns channel id, measured, known, value as it was sent (NaN at a fault),
    shape (n, 4). faults: (row of readings, words). A time of measurement that is not plausible for its time of arrival
    (as ``monitor.protocol.fits``) is replaced by that: recordings made elsewhere, or by loggers of before that check,
    hold such times.
    """
    if not len(readings):
        return
    ids, measured, known, value = readings.T
    ahead_s = measured - known
    measured = np.where((ahead_s <= AHEAD_S) & (ahead_s >= -OLDEST_S), measured, known)
    fault_texts = dict(faults)
    if len(readings) <= MOST_SINGLE:
        rows = zip(ids.tolist(), measured.tolist(), known.tolist(), value.tolist(), strict=True)
        for row, (id_, measured_at, known_at, sent) in enumerate(rows):
            appenders[id_].append(measured_at, known_at, sent, fault_texts.get(row))
        return
    for id_ in sorted(set(ids.tolist())):
        own = np.flatnonzero(ids == id_)
        # There are hardly ever faults, and thousands of rows.
        worded = [(i, fault_texts[row]) for i, row in enumerate(own.tolist()) if row in fault_texts] if faults else []
        appenders[id_].extend(np.stack([measured[own], known[own], value[own]]), worded)


class GrowableColumn:
    """The readings of one channel, in arrays that double when they are full."""

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
        """One reading. measured, known: Unix seconds. value: in ``unit``, NaN at a fault, which ``fault`` words."""
        self._grow(1)
        if fault is not None:
            self._faults.append((self._count, fault))
        rows, index = self._rows, self._count
        rows[0, index], rows[1, index], rows[2, index] = measured, known, value
        # Only the new readings and the last one before them can break the order.
        if index and not measured >= rows[0, index - 1]:
            self._in_order = False
        self._count += 1

    def extend(self, rows: Floats, faults: list[tuple[int, str]]) -> None:
        """rows: measured, known, value in ``unit``; shape (3, n). faults: (column of rows, words)."""
        count = rows.shape[1]
        self._grow(count)
        self._rows[:, self._count : self._count + count] = rows
        # Only the new readings and the last one before them can break the order.
        measured = self._rows[0, max(0, self._count - 1) : self._count + count]
        self._in_order = self._in_order and bool((measured[1:] >= measured[:-1]).all())
        self._faults.extend((self._count + index, words) for index, words in faults)
        self._count += count

    def _grow(self, count: int) -> None:
        while self._count + count > self._rows.shape[1]:
            self._rows = np.concatenate([self._rows, np.empty_like(self._rows)], axis=1)

    def series(self) -> Series:
        """The readings ordered by the time of measurement; a view, not a copy, where they arrived in that order."""
        measured, known, value = self._rows[:, : self._count]
        if self._in_order:
            faults = tuple(self._faults)
            return Series(self.name, self.unit, measured, known, value, faults, sent_unit=self.sent_unit)
        return series_from(self.name, self.unit, measured, known, value, self._faults, self.sent_unit)
