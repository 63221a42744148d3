"""The tables of a data package as Parquet beside their CSV, for programs that read columns.

One file a table, with the same columns in the same order, typed: times are nanoseconds in UTC, numbers are 64-bit
floats, what is missing is null. Nothing reads these files back here; the CSV is the cook.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from itertools import islice
from pathlib import Path
from types import MappingProxyType
from typing import Any, TypeAlias

import numpy as np

from monitor.exchange.timestamps import TIMES
from monitor.runtime import MonitorError

# Rows that are in memory at once. ``DataFrame.to_parquet`` takes a table whole, which for a million rows came to
# 579 MB instead of 212.
BATCH_ROWS = 65_536
# A column -> its type in pandas, where missing whole numbers do not become floats.
_NUMBERS: Mapping[str, str] = MappingProxyType(
    {"elapsed_s": "float64", "value": "float64", "said": "float64", "pack": "Int64", "seq": "Int64", "digest": "Int64"}
)

# Writes a table: its file, its columns, its rows (times as Unix seconds, None for what is missing).
WriteTable: TypeAlias = Callable[[Path, Sequence[str], Iterable[Sequence[object]]], None]


class ParquetError(MonitorError):
    """Parquet that cannot be written here; one sentence why."""


def parquet_writer() -> WriteTable:
    """What writes a table as Parquet. Raises ParquetError where the library for it is not installed.

    The writer raises ParquetError for a time beyond April 2262, which Parquet's nanoseconds do not reach.
    """
    try:
        import pyarrow
        from pyarrow import parquet
    except ImportError:
        raise ParquetError(
            "Parquet takes a library that is not installed here; `pip install pyarrow` in kettleside's environment "
            "brings it."
        ) from None

    def write(path: Path, columns: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
        schema = pyarrow.schema([(name, _type(pyarrow, name)) for name in columns])
        remaining = iter(rows)
        with parquet.ParquetWriter(path, schema) as file:
            while batch := list(islice(remaining, BATCH_ROWS)):
                frame = _frame(columns, batch)
                file.write_table(pyarrow.Table.from_pandas(frame, schema, preserve_index=False))

    return write


def _type(pyarrow: Any, column: str) -> Any:
    if column in TIMES:
        return pyarrow.timestamp("ns", tz="UTC")
    return getattr(pyarrow, _NUMBERS.get(column, "string").lower())()


def _frame(columns: Sequence[str], rows: Sequence[Sequence[object]]) -> Any:
    """Some rows of a table as a pandas frame."""
    import pandas as pd

    from monitor.exchange.frames import LAST_NS_S, utc_index

    found = {}
    for name, cells in zip(columns, zip(*rows, strict=True), strict=True):
        if name in TIMES:
            moments = np.array(cells, dtype=np.float64)
            if np.any(np.abs(moments) > LAST_NS_S):
                raise ParquetError(
                    "A time in this cook is beyond the year 2262, which Parquet's nanoseconds do not reach."
                )
            found[name] = pd.Series(utc_index(moments))
        else:
            found[name] = pd.Series(list(cells), dtype=_NUMBERS.get(name, "str"))
    return pd.DataFrame(found)
