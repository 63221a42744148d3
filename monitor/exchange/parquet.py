"""The tables of a data package as Parquet beside their CSV, for programs that read columns.

One file a table, with the same columns in the same order, typed: times are nanoseconds in UTC, numbers are 64-bit
floats, what is missing is null. Nothing reads these files back here; the CSV is the cook.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from decimal import Decimal
from itertools import islice
from pathlib import Path
from types import MappingProxyType
from typing import Any

from monitor.runtime import MonitorError

# Rows that are in memory at once.
BATCH_ROWS = 65_536
# What 64 bits of nanoseconds hold: up to April 2262.
LAST_S = 9_223_372_036
TIMES = frozenset({"time", "known", "withdrawn"})
_NUMBERS: Mapping[str, str] = MappingProxyType(
    {"elapsed_s": "float64", "value": "float64", "said": "float64", "pack": "int64", "seq": "int64", "digest": "int64"}
)


class ParquetError(MonitorError):
    """Parquet that cannot be written here; one sentence why."""


def nanoseconds(moment: float) -> int:
    """Unix seconds as whole nanoseconds, finer than a 64-bit float of them tells apart. Raises ParquetError.

    >>> nanoseconds(1773484800.25)
    1773484800250000000
    """
    if not -LAST_S <= moment <= LAST_S:
        raise ParquetError("A time in this cook is beyond the year 2262, which Parquet's nanoseconds do not reach.")
    return round(Decimal(moment) * 1_000_000_000)


def writer() -> Callable[[Path, Sequence[str], Iterable[Sequence[object]]], None]:
    """What writes a table: its file, its columns, its rows (times as Unix seconds, None for what is missing).

    Raises ParquetError where the library for it is not installed.
    """
    try:
        import pyarrow as arrow
        from pyarrow import parquet
    except ImportError:
        raise ParquetError(
            "Parquet takes a library that is not installed here; `pip install pyarrow` in kettleside's environment "
            "brings it."
        ) from None

    def write(path: Path, columns: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
        schema = arrow.schema([(name, _type(arrow, name)) for name in columns])
        left = iter(rows)
        with parquet.ParquetWriter(path, schema) as file:
            while batch := list(islice(left, BATCH_ROWS)):
                cells = zip(columns, zip(*batch, strict=True), strict=True)
                arrays = [arrow.array(_typed(name, column), type=_type(arrow, name)) for name, column in cells]
                file.write_table(arrow.Table.from_arrays(arrays, schema=schema))

    return write


def _type(arrow: Any, column: str) -> Any:
    if column in TIMES:
        return arrow.timestamp("ns", tz="UTC")
    return getattr(arrow, _NUMBERS.get(column, "string"))()


def _typed(column: str, cells: Sequence[Any]) -> Sequence[Any]:
    if column not in TIMES:
        return cells
    return [None if cell is None else nanoseconds(cell) for cell in cells]
