"""The Parquet tables of a package, read back and held against the recording they came from."""

from collections.abc import Mapping, Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any

from pyarrow import parquet

from tests.exchange.odd_cooks import Contents

TABLES = ("readings", "packs", "events")


def read_back(package: Path) -> dict[str, list[dict[str, Any]]]:
    """The rows of each table; times as whole nanoseconds."""
    found = {}
    for name in TABLES:
        table = parquet.read_table(package / f"{name}.parquet")
        columns = {}
        for field in table.schema:
            timed = str(field.type) == "timestamp[ns, tz=UTC]"
            column = table.column(field.name)
            columns[field.name] = (column.cast("int64") if timed else column).to_pylist()
        found[name] = [dict(zip(columns, row, strict=True)) for row in zip(*columns.values(), strict=True)]
    return found


def seconds(nanoseconds: int) -> float:
    """The nearest 64-bit float of Unix seconds."""
    return float(Fraction(nanoseconds, 1_000_000_000))


def parquet_differences(package: Path, held: Contents, started: float) -> list[str]:
    """Where the tables differ from what the recording holds, in words; nothing where they are the same."""
    tables = read_back(package)
    known = {row[0]: row[1] for row in held["packs"]}
    withdrawn = {row[0]: row[1] for row in held["withdrawals"]}
    compared: list[tuple[str, Sequence[object], Sequence[object]]] = [
        ("readings", [_reading(row, known) for row in tables["readings"]], held["readings"]),
        ("packs", [_pack(row) for row in tables["packs"]], held["packs"]),
        (
            "events",
            [_event(row) for row in tables["events"]],
            [(*row[:4], withdrawn.get(row[0])) for row in held["events"]],
        ),
    ]
    found = [f"{name}: {first}" for name, mine, theirs in compared if (first := _first(mine, theirs)) is not None]
    late = [row for row in tables["readings"] if abs(row["elapsed_s"] - (seconds(row["time"]) - started)) > 1e-6]
    return [*found, *(f"elapsed_s: {row}" for row in late[:1])]


def _reading(row: Mapping[str, Any], known: Mapping[object, object]) -> tuple[object, ...]:
    pack, measured = row["pack"], seconds(row["time"])
    return pack, row["channel"], row["unit"], measured, known.get(pack), repr(row["value"]), row["fault"]


def _pack(row: Mapping[str, Any]) -> tuple[object, ...]:
    return row["pack"], seconds(row["known"]), row["seq"], row["digest"]


def _event(row: Mapping[str, Any]) -> tuple[object, ...]:
    withdrawn = None if row["withdrawn"] is None else seconds(row["withdrawn"])
    return row["uid"], row["event"], seconds(row["time"]), seconds(row["known"]), withdrawn


def _first(mine: Sequence[object], theirs: Sequence[object]) -> object | None:
    if len(mine) != len(theirs):
        return f"{len(mine)} rows and {len(theirs)}"
    return next(((one, other) for one, other in zip(mine, theirs, strict=True) if one != other), None)
