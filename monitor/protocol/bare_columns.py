"""Lines of bare numbers, as a simple sketch prints them, whose columns a person has announced."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from monitor.model import allowed_units, is_announceable_unit, role
from monitor.protocol.layouts import ParsedValue, parse_value
from monitor.protocol.senml import CHANNEL_NAME, Pack, PackError, SenmlRecord, parse_pack


@dataclass(frozen=True, slots=True)
class ColumnSpec:
    """One bare column of a sketch that prints numbers: its channel and unit."""

    channel: str
    unit: str


@dataclass(frozen=True, slots=True)
class Columns:
    """Rows of numbers, one column a channel. A pack of SenML among them is read as a pack."""

    columns: tuple[ColumnSpec, ...]

    def pack(self, text: str, arrived: float) -> Pack:
        """See PayloadLayout."""
        if text.lstrip().startswith("["):
            return parse_pack(text, arrived)
        return parse_bare_columns(text, self.columns, arrived)


def parse_columns_spec(text: str) -> Columns:
    """What ``--columns`` says.

    Raises ValueError naming the part that is wrong.

    >>> parse_columns_spec("paste:Cel,ph:V").columns[1]
    ColumnSpec(channel='ph', unit='V')
    """
    columns = []
    for part in text.split(","):
        channel, colon, unit = part.strip().rpartition(":")
        if not colon or not CHANNEL_NAME.match(channel) or not unit:
            raise ValueError(f"columns has the part {part!r}; each part is NAME:UNIT, such as paste:Cel")
        if not is_announceable_unit(role(channel), unit):
            raise ValueError(f"columns has the part {part!r}; {role(channel)} comes in {allowed_units(role(channel))}")
        columns.append(ColumnSpec(channel, unit))
    if len({column.channel for column in columns}) < len(columns):
        raise ValueError(f"columns is {text!r}, which names a channel twice")
    return Columns(tuple(columns))


_SEPARATOR = re.compile(r"[,;\t]|(?<=\S) +(?=\S)")


def parse_row(text: str) -> tuple[ParsedValue | None, ...]:
    """The cells of a row with blanks, commas, semicolons or tabs between; None for one that is no number.

    >>> [cell and cell.value for cell in parse_row("94.25; nan,x")]
    [94.25, None, None]
    """
    parts = _SEPARATOR.split(re.sub(r"\s*([,;\t])\s*", r"\1", text.strip()))
    cells = [parse_value(part) if part.strip() else None for part in parts]
    return tuple(None if cell is None or cell.unit else cell for cell in cells)


def parse_bare_columns(text: str, columns: Sequence[ColumnSpec], arrived: float) -> Pack:
    """The pack in a row of numbers; a cell that is none is refused, a word such as nan in its place is a fault.

    arrived: Unix seconds. Raises PackError.
    """
    cells = parse_row(text)
    if len(cells) != len(columns):
        raise PackError(f"it has {len(cells)} columns where {len(columns)} were announced")
    records = []
    for cell, column in zip(cells, columns, strict=True):
        if cell is None:
            raise PackError("a column is not a number")
        records.append(SenmlRecord(column.channel, column.unit, cell.value, cell.fault, None))
    return Pack(tuple(records), arrived, None, None)
