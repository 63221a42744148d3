"""Reads the rows of a damaged recording, and gives up only those on spoilt pages.

Each table is read by row number; where SQLite meets a spoilt page the range is halved, and halved again, until only
the rows on that page are left.
"""

import sqlite3
from collections.abc import Iterator
from typing import Any, TypeAlias

TABLES = {
    "sheet": "id, known, text",
    "clock": "id, cook_time, wall, boot_id, boot_s, rate",
    "channel": "id, name, unit",
    "pack": "id, known, seq, digest",
    "reading": "id, pack, channel, measured, value, fault",
    "event": "id, uid, kind, measured, known, fields",
    "withdrawal": "id, uid, known",
}
# A higher row number is taken for damage: 24 h of eight channels at 10 Hz have a tenth of this number of readings.
MOST_ROWS = 2**26
SHORTEST_ROW_BYTES = 12
# SQLite raises the first; Python the second, where the spoilt bytes stand in a text.
UNREADABLE = (sqlite3.DatabaseError, UnicodeDecodeError)

Row: TypeAlias = tuple[Any, ...]


def readable_rows(connection: sqlite3.Connection, table: str, lost: dict[str, list[tuple[int, int]]]) -> Iterator[Row]:
    """Every row of a table that can be read, in order. lost: gains the ranges of row numbers that cannot."""
    last = _last_row(connection, table)
    pending = [(1, last)] if last else []
    while pending:
        first, last = pending.pop()
        query = f"SELECT {TABLES[table]} FROM {table} WHERE id BETWEEN ? AND ? ORDER BY id"
        try:
            rows = connection.execute(query, (first, last)).fetchall()
        except UNREADABLE:
            if first == last:
                _extend_ranges(lost.setdefault(table, []), first)
                continue
            middle = (first + last) // 2
            pending += [(middle + 1, last), (first, middle)]
            continue
        yield from rows


def _extend_ranges(ranges: list[tuple[int, int]], row: int) -> None:
    if ranges and ranges[-1][1] == row - 1:
        ranges[-1] = (ranges[-1][0], row)
    else:
        ranges.append((row, row))


def _last_row(connection: sqlite3.Connection, table: str) -> int:
    """The highest row number, or a bound above it where that cannot be read."""
    try:
        last = connection.execute(f"SELECT max(id) FROM {table}").fetchone()[0]
        return min(int(last or 0), MOST_ROWS)
    except (sqlite3.DatabaseError, TypeError, ValueError):
        pass
    # No row is shorter than this, so the file cannot hold more.
    pages, page_bytes = (connection.execute(f"PRAGMA {name}").fetchone()[0] for name in ("page_count", "page_size"))
    return min(int(pages) * int(page_bytes) // SHORTEST_ROW_BYTES, MOST_ROWS)


def readable_about(connection: sqlite3.Connection) -> dict[str, str]:
    """The pairs of the ``about`` table that can be read."""
    pairs: dict[str, str] = {}
    for key in ("rig", "source", "started", "ended"):
        try:
            row = connection.execute("SELECT value FROM about WHERE key = ?", (key,)).fetchone()
        except UNREADABLE:
            continue
        if row and isinstance(row[0], str):
            pairs[key] = row[0]
    return pairs
