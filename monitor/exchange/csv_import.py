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

# Loggers like to say who they are before the table begins, and what was the most after it ends.
HEADING_ROWS = FOOTING_ROWS = 20
COMMITTED_ROWS = 10_000
# The mean year of the calendar.
YEAR_S = 31_556_952.0


@dataclass(slots=True)
class ParsedTable:
    """What was read of a table, by columns, so that a million rows stay small.

    moments: Unix seconds, or from the start. values: for each of the layout's channels, NaN where there is none.
    faults: for each, the words of a cell that is no number, by row. passed_over: what stands after the last reading,
    as row and cell.
    """

    layout: TableLayout
    moments: "array[float]" = field(default_factory=lambda: array("d"))
    values: "list[array[float]]" = field(default_factory=list)
    faults: list[dict[int, str]] = field(default_factory=list)
    passed_over: list[tuple[int, str]] = field(default_factory=list)

    @property
    def dated(self) -> bool:
        """Whether its times say when it was, and not only how long it took."""
        return min(self.moments) >= RELATIVE_BELOW

    def order(self) -> list[int] | range:
        """The rows by their moments; those of one moment stay in order."""
        moments = self.moments
        if all(moments[i - 1] <= moments[i] for i in range(1, len(moments))):
            return range(len(moments))
        return sorted(range(len(moments)), key=moments.__getitem__)

    def records(self, row: int) -> tuple[SenmlRecord, ...]:
        """What one row measured; an empty cell is no record."""
        found = []
        for (_, column), values, faults in zip(self.layout.channels, self.values, self.faults, strict=True):
            unit, fault = stored_unit(column.unit), faults.get(row)
            if fault is not None:
                found.append(SenmlRecord(column.channel, unit, None, fault, None))
            elif not math.isnan(values[row]):
                found.append(SenmlRecord(column.channel, unit, values[row], None, None))
        return tuple(found)

    def in_words(self) -> list[str]:
        """What a person is told beside that it was read."""
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
    taken = ParsedTable(layout)
    taken.values = [array("d") for _ in layout.channels]
    taken.faults = [{} for _ in layout.channels]
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
            if taken.moments or row_number > HEADING_ROWS:
                taken.passed_over.append(
                    (row_number, row[layout.time_index][:40] if len(row) > layout.time_index else "")
                )
                if len(taken.passed_over) > FOOTING_ROWS:
                    raise _no_time(path, taken) from None
            continue
        if taken.passed_over:
            raise _no_time(path, taken)
        widest = max(widest, len(row))
        _take_row(taken, moment, row)
    if not taken.moments:
        if taken.passed_over:
            raise _no_time(path, taken)
        raise ExchangeError(path, "it holds no reading")
    if widest < len(layout.columns):
        raise ExchangeError(path, f"its rows have {widest} cells where {len(layout.columns)} were announced")
    return taken


def _no_time(path: Path, taken: ParsedTable) -> ExchangeError:
    row, cell = taken.passed_over[0]
    return ExchangeError(path, f"row {row} has no time in {cell!r}")


def _take_row(taken: ParsedTable, moment: float, row: list[str]) -> None:
    place = len(taken.moments)
    taken.moments.append(moment)
    for (i, column), values, faults in zip(taken.layout.channels, taken.values, taken.faults, strict=True):
        # Cells that are missing at the end of a row are empty ones.
        cell = row[i] if i < len(row) else ""
        value = math.nan
        if cell and not cell.isspace():
            try:
                value = _converted(cell, column.unit)
            except (ValueError, OverflowError):
                faults[place] = cell.strip()[:200]
        values.append(value)


def _converted(cell: str, unit: str) -> float:
    """The number in a cell, in the unit that is stored. Raises ValueError for what is none."""
    value = number(cell)
    if not math.isfinite(value):
        raise ValueError(f"value is {cell[:40]!r}")
    if not cell[-1].isdigit():
        # What stands in the cell is nearer the truth than what was typed for the column.
        said = unit_behind(cell) or unit
        if said != unit:
            return _as(_stored(value, said), stored_unit(said), stored_unit(unit))
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


def store_table(taken: ParsedTable, path: Path, folder: Path, now: float, progress: Progress) -> Path:
    """Writes what was read of a file into a new, ended recording in ``folder``; its path.

    now: Unix seconds, where the cook ends when its times count from its start. Raises ExchangeError where it would
    have begun before 1970, RecordingError where it cannot be written.
    """
    order, moments = taken.order(), taken.moments
    shift = 0.0 if taken.dated else now - moments[order[-1]]
    start, end = moments[order[0]] + shift, moments[order[-1]] + shift
    if start < 0.0:
        raise ExchangeError(path, f"its times reach over {(end - start) / YEAR_S:.0f} years: are they in another unit?")
    with building(folder) as space:
        recorder = Recorder.create(
            space, Anchor(start, start, "", 0.0), rig=path.stem[:60] or "cooker", source=path.name
        )
        try:
            for done, row in enumerate(order, 1):
                records = taken.records(row)
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
