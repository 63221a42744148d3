"""A CSV file that another program wrote, read by its layout and stored as a recording."""

import math
from array import array
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

from monitor.exchange.cell_parsers import number, unit_behind
from monitor.exchange.csv_reader import rows
from monitor.exchange.package_format import ExchangeError, Progress
from monitor.exchange.table_layout import TableLayout, stored_unit, time_parser
from monitor.model import ABSOLUTE_ZERO_C, unit_as_sent
from monitor.protocol import RELATIVE_BELOW, Pack, SenmlRecord
from monitor.runtime import Anchor
from monitor.storage import Recorder, building

# Many loggers write who they are before the table, and a summary after it.
HEADING_ROWS = FOOTING_ROWS = 20
COMMITTED_ROWS = 10_000
# The mean year of the calendar.
YEAR_S = 31_556_952.0


@dataclass(slots=True)
class ParsedTable:
    """The contents of a table by columns of doubles, so that a million rows take little memory.

    moments: Unix seconds, or seconds from the start. values: for each channel of the layout, NaN where there is
    none. faults: for each channel, row -> text of a cell that is not a number. passed_over: the rows after the last
    reading that hold no time, each with the cell where the time would be.
    """

    layout: TableLayout
    moments: "array[float]" = field(default_factory=lambda: array("d"))
    values: "list[array[float]]" = field(default_factory=list)
    faults: list[dict[int, str]] = field(default_factory=list)
    passed_over: list[tuple[int, str]] = field(default_factory=list)

    @property
    def dated(self) -> bool:
        """Whether the times are dates, and not only seconds from the start."""
        return min(self.moments) >= RELATIVE_BELOW

    def order(self) -> list[int] | range:
        """The row numbers ordered by time; rows of the same time keep their order."""
        moments = self.moments
        if all(moments[i - 1] <= moments[i] for i in range(1, len(moments))):
            return range(len(moments))
        return sorted(range(len(moments)), key=moments.__getitem__)

    def records(self, row: int) -> tuple[SenmlRecord, ...]:
        """The readings of one row; an empty cell gives none."""
        found = []
        for (_, column), values, faults in zip(self.layout.channels, self.values, self.faults, strict=True):
            unit, fault = stored_unit(column.unit), faults.get(row)
            if fault is not None:
                found.append(SenmlRecord(column.channel, unit, None, fault, None))
            elif not math.isnan(values[row]):
                found.append(SenmlRecord(column.channel, unit, values[row], None, None))
        return tuple(found)

    def in_words(self) -> list[str]:
        """Sentences about rows that were passed over."""
        if not self.passed_over:
            return []
        (row, cell), count = self.passed_over[0], len(self.passed_over)
        many, were = (f"{count} rows", "were") if count > 1 else ("1 row", "was")
        return [f"{many} after the last reading had no time and {were} passed over, from row {row}: {cell!r}."]


def parse_table(path: Path, layout: TableLayout, progress: Progress) -> ParsedTable:
    """Reads a CSV file by its layout. See ``parse_rows``."""
    return parse_rows(path, layout, rows(path, progress))


def parse_rows(path: Path, layout: TableLayout, table: Iterable[list[str]]) -> ParsedTable:
    """What rows of a file are by its layout. Raises ExchangeError that names the row where they do not fit.

    First rows that hold no time are taken for a heading, last ones for what a logger says at its end. An empty cell
    is no reading, one that is not a number is a fault.
    """
    parsed = ParsedTable(layout)
    parsed.values = [array("d") for _ in layout.channels]
    parsed.faults = [{} for _ in layout.channels]
    parse = time_parser(layout)
    widest = 0
    for row_number, row in enumerate(table, 1):
        if not any(cell.strip() for cell in row):
            continue
        try:
            moment = parse(row)
            if not 0.0 <= moment < 1e11:
                raise ValueError(f"time is {moment!r} in Unix seconds")
        except (ValueError, OverflowError, IndexError):
            if parsed.moments or row_number > HEADING_ROWS:
                parsed.passed_over.append(
                    (row_number, row[layout.time_index][:40] if len(row) > layout.time_index else "")
                )
                if len(parsed.passed_over) > FOOTING_ROWS:
                    raise _no_time(path, parsed) from None
            continue
        if parsed.passed_over:
            raise _no_time(path, parsed)
        widest = max(widest, len(row))
        _append_row(parsed, moment, row)
    if not parsed.moments:
        if parsed.passed_over:
            raise _no_time(path, parsed)
        raise ExchangeError(path, "it holds no reading")
    if widest < len(layout.columns):
        raise ExchangeError(path, f"its rows have {widest} cells where {len(layout.columns)} were announced")
    return parsed


def _no_time(path: Path, parsed: ParsedTable) -> ExchangeError:
    row, cell = parsed.passed_over[0]
    return ExchangeError(path, f"row {row} has no time in {cell!r}")


def _append_row(parsed: ParsedTable, moment: float, row: list[str]) -> None:
    row_index = len(parsed.moments)
    parsed.moments.append(moment)
    for (i, column), values, faults in zip(parsed.layout.channels, parsed.values, parsed.faults, strict=True):
        # Cells that are missing at the end of a row are empty ones.
        cell = row[i] if i < len(row) else ""
        value = math.nan
        if cell and not cell.isspace():
            try:
                value = _converted(cell, column.unit)
            except (ValueError, OverflowError):
                faults[row_index] = cell.strip()[:200]
        values.append(value)


def _converted(cell: str, unit: str) -> float:
    """The number in a cell, in the unit that is stored. Raises ValueError for what is none."""
    value = number(cell)
    if not math.isfinite(value):
        raise ValueError(f"value is {cell[:40]!r}")
    if not cell[-1].isdigit():
        # What stands in the cell is nearer the truth than what was typed for the column.
        cell_unit = unit_behind(cell) or unit
        if cell_unit != unit:
            return _as(_stored(value, cell_unit), stored_unit(cell_unit), stored_unit(unit))
    return _stored(value, unit)


def _stored(value: float, unit: str) -> float:
    return value / 1000.0 if unit == "mV" else unit_as_sent(unit).value(value)


def _as(value: float, unit: str, wanted: str) -> float:
    if unit == wanted:
        return value
    if (unit, wanted) == ("K", "Cel"):
        return value + ABSOLUTE_ZERO_C
    if (unit, wanted) == ("Cel", "K"):
        return value - ABSOLUTE_ZERO_C
    raise ValueError(f"unit is {unit!r}")


def store_table(parsed: ParsedTable, path: Path, folder: Path, now: float, progress: Progress) -> Path:
    """Writes what was read of a file into a new, ended recording in ``folder``; its path.

    now: Unix seconds, where the cook ends when its times count from its start. Raises ExchangeError where it would
    have begun before 1970, RecordingError where it cannot be written.
    """
    order, moments = parsed.order(), parsed.moments
    shift = 0.0 if parsed.dated else now - moments[order[-1]]
    start, end = moments[order[0]] + shift, moments[order[-1]] + shift
    if start < 0.0:
        raise ExchangeError(path, f"its times reach over {(end - start) / YEAR_S:.0f} years: are they in another unit?")
    with building(folder) as space:
        recorder = Recorder.create(
            space, Anchor(start, start, "", 0.0), rig=path.stem[:60] or "cooker", source=path.name
        )
        try:
            for done, row in enumerate(order, 1):
                records = parsed.records(row)
                if records:
                    recorder.add_pack(Pack(records, moments[row] + shift, None, None))
                if done % COMMITTED_ROWS == 0:
                    recorder.commit()
                    progress(done, len(order))
            recorder.end(end)
            recorder.finish()
        except BaseException:
            recorder.abandon()
            raise
    return folder / recorder.path.name


def import_csv(path: Path, layout: TableLayout, folder: Path, now: float, progress: Progress) -> Path:
    """Reads a CSV file into a new, ended recording in ``folder``; its path. See ``parse_table`` and ``store_table``."""
    return store_table(parse_table(path, layout, progress), path, folder, now, progress)
