"""Lines of bare numbers, as a simple sketch prints them, whose columns a person has announced."""

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from monitor.model import allowed_units, is_announceable_unit, role
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


def parse_bare_columns(text: str, columns: Sequence[ColumnSpec], arrived: float) -> Pack:
    """The pack in a row of numbers with blanks, commas, semicolons or tabs between; one that is no number is refused.

    arrived: Unix seconds. Raises PackError.
    """
    parts = [part.strip() for part in _SEPARATOR.split(re.sub(r"\s*([,;\t])\s*", r"\1", text.strip()))]
    if len(parts) != len(columns):
        raise PackError(f"it has {len(parts)} columns where {len(columns)} were announced")
    records = []
    for part, column in zip(parts, columns, strict=True):
        try:
            value = float(part)
        except ValueError:
            raise PackError("a column is not a number") from None
        if not math.isfinite(value):
            # Sketches print nan for an open probe: a fault, not a number.
            records.append(SenmlRecord(column.channel, column.unit, None, f"sent {part.lower()[:20]}", None))
        else:
            records.append(SenmlRecord(column.channel, column.unit, value, None, None))
    return Pack(tuple(records), arrived, None, None)
