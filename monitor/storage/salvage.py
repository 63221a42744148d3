"""A damaged recording: all that can still be read, into a new one, with an account of what could not.

Each table is read row by row number; where SQLite meets a spoilt page the range is halved, and halved again, until
only the rows on that page are given up. A spoilt first page, which holds the plan of the file, is replaced by that
of a fresh recording, whose plan is the same.
"""

import math
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import Any, TypeAlias

from monitor.model import Event
from monitor.protocol import Pack, SenmlRecord
from monitor.runtime import Anchor, is_plain
from monitor.storage.errors import RecordingError, errors_named
from monitor.storage.index import fields_of
from monitor.storage.schema import APPLICATION_ID, has_plain_plan
from monitor.storage.staging import building
from monitor.storage.writer import Recorder

_TABLES = {
    "sheet": "id, known, text",
    "clock": "id, cook_time, wall, boot_id, boot_s, rate",
    "channel": "id, name, unit",
    "pack": "id, known, seq, digest",
    "reading": "id, pack, channel, measured, value, fault",
    "event": "id, uid, kind, measured, known, fields",
    "withdrawal": "id, uid, known",
}
# Row numbers beyond this are not believed: 24 h of eight channels, ten times a second, is a tenth of it.
MOST_ROWS = 2**26
PAGE_BYTES = 4096
SHORTEST_ROW_BYTES = 12
# A cook's moments lie within this of its start.
LONGEST_S = 30 * 86_400.0

# The second where spoilt bytes stand in a text.
_UNREADABLE = (sqlite3.DatabaseError, UnicodeDecodeError)

Row: TypeAlias = tuple[Any, ...]


@dataclass
class SalvageReport:
    """What was read and what was not. path: the new recording. lost: table to the ranges of row numbers given up.

    doubtful: rows that were read but hold what no recording would. packless: readings whose moment of arrival was
    lost, and that took the one before.
    """

    path: Path
    readings: int = 0
    events: int = 0
    lost: dict[str, list[tuple[int, int]]] = field(default_factory=dict)
    doubtful: int = 0
    packless: int = 0
    plan_lost: bool = False
    head_lost: bool = False

    @property
    def whole(self) -> bool:
        """Whether nothing was missing."""
        return not (self.lost or self.doubtful or self.plan_lost or self.head_lost)

    def in_words(self) -> list[str]:
        """A line for what was read and one for each thing that was not."""
        lines = [f"Read {self.readings} readings and {self.events} events."]
        if self.whole:
            return [*lines, "Nothing was missing."]
        if self.plan_lost:
            lines.append("The first page, with the plan of the file, was spoilt and was put back.")
        if self.head_lost:
            lines.append("The head could not be read: the cooker's name is lost, and the start is the first reading's.")
        for table, ranges in self.lost.items():
            rows = sum(last - first + 1 for first, last in ranges)
            where = ", ".join(f"{first} to {last}" for first, last in ranges[:5])
            more = f" and {len(ranges) - 5} more places" if len(ranges) > 5 else ""
            lines.append(f"Could not read up to {rows} rows of {_WORDS[table]}: numbers {where}{more}.")
        if self.doubtful:
            lines.append(f"Left out {self.doubtful} rows that hold what no recording would.")
        if self.packless:
            lines.append(f"{self.packless} readings lost their moment of arrival and took the one before them.")
        return lines


_WORDS = {
    "sheet": "the batch sheets",
    "clock": "the ties to the clock",
    "channel": "the channels",
    "pack": "the packs",
    "reading": "the readings",
    "event": "the events",
    "withdrawal": "the events taken back",
}


def salvage_recording(damaged: Path, folder: Path) -> SalvageReport:
    """Reads all that can be read of a recording into a new, ended one in ``folder``; the old file is not touched.

    Raises RecordingError where there is no file, or nothing of a recording in it.
    """
    if not is_plain(damaged):
        raise RecordingError(damaged, "there is no such file")
    with tempfile.TemporaryDirectory(prefix="kettleside-") as space, errors_named(damaged):
        copy = Path(space) / "copy.cook"
        shutil.copyfile(damaged, copy)
        log = damaged.with_name(f"{damaged.name}-wal")
        if is_plain(log):
            shutil.copyfile(log, copy.with_name(f"{copy.name}-wal"))
        result = SalvageReport(damaged)
        if not _opens(copy):
            _put_plan_back(copy, Path(space))
            result.plan_lost = True
            if not _opens(copy):
                raise RecordingError(damaged, "nothing of a recording can be found in it", damaged=True)
        with closing(sqlite3.connect(copy)) as connection:
            connection.execute("PRAGMA cell_size_check = ON")
            tables = {name: list(_rows(connection, name, result)) for name in _TABLES}
            about = _about(connection)
    with building(folder) as space_in_folder:
        _write(damaged, space_in_folder, tables, about, result)
    result.path = folder / result.path.name
    return result


def _opens(copy: Path) -> bool:
    """Whether the file's first page is that of a recording."""
    try:
        with closing(sqlite3.connect(copy)) as connection:
            names = {row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
            known = connection.execute("PRAGMA application_id").fetchone()[0] == APPLICATION_ID
            return known and names >= _TABLES.keys() and has_plain_plan(connection)
    except _UNREADABLE:
        return False


def _put_plan_back(copy: Path, space: Path) -> None:
    """Writes the first page of a fresh recording over that of the copy; the plan of every recording is the same."""
    fresh = Recorder.create(space / "fresh", Anchor(0.0, 0.0, "", 0.0), rig="rescue", source="rescue")
    fresh.finish()
    page = bytearray(fresh.path.read_bytes()[:PAGE_BYTES])
    raw = copy.read_bytes()
    # Header, SQLite file format: how many pages there are, and none of them free.
    page[28:32] = (len(raw) // PAGE_BYTES).to_bytes(4, "big")
    page[32:40] = bytes(8)
    copy.write_bytes(bytes(page) + raw[PAGE_BYTES:])


def _rows(connection: sqlite3.Connection, table: str, result: SalvageReport) -> Iterator[Row]:
    """Every row of a table that can be read, in order."""
    last = _last_row(connection, table)
    pending = [(1, last)] if last else []
    while pending:
        first, last = pending.pop()
        query = f"SELECT {_TABLES[table]} FROM {table} WHERE id BETWEEN ? AND ? ORDER BY id"
        try:
            rows = connection.execute(query, (first, last)).fetchall()
        except _UNREADABLE:
            if first == last:
                _lose(result.lost.setdefault(table, []), first)
                continue
            middle = (first + last) // 2
            pending += [(middle + 1, last), (first, middle)]
            continue
        yield from rows


def _lose(ranges: list[tuple[int, int]], row: int) -> None:
    if ranges and ranges[-1][1] == row - 1:
        ranges[-1] = (ranges[-1][0], row)
    else:
        ranges.append((row, row))


def _last_row(connection: sqlite3.Connection, table: str) -> int:
    """The highest row number, or a bound above it where that cannot be read."""
    try:
        found = connection.execute(f"SELECT max(id) FROM {table}").fetchone()[0]
        return min(int(found or 0), MOST_ROWS)
    except (sqlite3.DatabaseError, TypeError, ValueError):
        pass
    # No row is shorter than this, so the file cannot hold more.
    pages, page_bytes = (connection.execute(f"PRAGMA {name}").fetchone()[0] for name in ("page_count", "page_size"))
    return min(int(pages) * int(page_bytes) // SHORTEST_ROW_BYTES, MOST_ROWS)


def _about(connection: sqlite3.Connection) -> dict[str, str]:
    found: dict[str, str] = {}
    for key in ("rig", "source", "started", "ended"):
        try:
            row = connection.execute("SELECT value FROM about WHERE key = ?", (key,)).fetchone()
        except _UNREADABLE:
            continue
        if row and isinstance(row[0], str):
            found[key] = row[0]
    return found


def _write(
    damaged: Path, folder: Path, tables: dict[str, list[Row]], about: dict[str, str], result: SalvageReport
) -> None:
    knowns = [row[1] for row in tables["pack"] if _is_moment(row[1])]
    started = _number(about.get("started"))
    result.head_lost = not {"rig", "source"} <= about.keys() or started is None
    if started is None:
        if not knowns:
            raise RecordingError(damaged, "nothing of a cook can be read in it", damaged=True)
        started = float(min(knowns))
    near = _Near(started)
    sheets = [(float(known), text) for _, known, text in tables["sheet"] if near(known) and isinstance(text, str)]
    recorder = Recorder.create(
        folder,
        Anchor(started, started, "", 0.0),
        rig=about.get("rig", "cooker"),
        source=about.get("source", "rescued"),
        title=damaged.stem[:40],
    )
    result.path = recorder.path
    try:
        for known, text in sheets:
            recorder.add_sheet(text, known)
        last = _write_packs(recorder, tables, near, result)
        last = max(last, _write_events(recorder, tables, near, result))
        for _, cook_time, wall, boot_id, boot_s, rate in tables["clock"]:
            numbers = isinstance(boot_s, float) and isinstance(rate, float)
            if numbers and near(cook_time) and isinstance(boot_id, str) and _is_moment(wall):
                recorder.tie_clock(Anchor(cook_time, wall, boot_id, boot_s, rate))
        if not recorder.is_finished():
            recorder.end(_number(about.get("ended")) or max(last, started))
        recorder.finish()
    except BaseException:
        recorder.abandon()
        raise


@dataclass(frozen=True)
class _Near:
    """Whether a moment can be one of a cook that started then."""

    started: float

    def __call__(self, moment: object) -> bool:
        return isinstance(moment, float) and abs(moment - self.started) < LONGEST_S


def _is_moment(value: object) -> bool:
    return isinstance(value, float) and 0.0 <= value < 1e11


def _number(text: str | None) -> float | None:
    try:
        value = float(text or "")
    except ValueError:
        return None
    return value if _is_moment(value) else None


def _write_packs(recorder: Recorder, tables: dict[str, list[Row]], near: _Near, result: SalvageReport) -> float:
    """Writes the packs with their readings; when the last became known, Unix seconds."""
    channels = {id_: (name, unit) for id_, name, unit in tables["channel"] if isinstance(name, str)}
    heads: dict[int, tuple[float, int | None, int | None]] = {}
    for id_, known, seq, digest in tables["pack"]:
        if near(known) and all(value is None or isinstance(value, int) for value in (seq, digest)):
            heads[id_] = (known, seq, digest)
        else:
            result.doubtful += 1
    by_pack: dict[int, list[SenmlRecord]] = {id_: [] for id_ in heads}
    for _, pack, channel, measured, value, fault in tables["reading"]:
        fits = measured is None or near(measured)
        good = isinstance(value, float) and math.isfinite(value) and fault is None
        if not (isinstance(pack, int) and fits and (good or (value is None and isinstance(fault, str)))):
            result.doubtful += 1
            continue
        name, unit = channels.get(channel, (f"channel-{channel}", ""))
        record = SenmlRecord(name, str(unit), value, fault, measured)
        by_pack.setdefault(pack, []).append(record)
    known = near.started
    for pack in sorted(by_pack):
        records = by_pack[pack]
        if pack in heads:
            known, seq, digest = heads[pack]
        else:
            times = [record.time for record in records if record.time is not None]
            known, seq, digest = max([known, *times]), None, None
            result.packless += len(records)
        recorder.add_pack(Pack(tuple(records), known, seq, digest))
        result.readings += len(records)
    return known


def _write_events(recorder: Recorder, tables: dict[str, list[Row]], near: _Near, result: SalvageReport) -> float:
    """Writes the events; when the last became known, Unix seconds."""
    latest = near.started
    for _, uid, kind, measured, known, fields in tables["event"]:
        try:
            told = fields_of(str(fields))
        except (TypeError, ValueError, RecursionError):
            told = None
        if not (isinstance(uid, str) and isinstance(kind, str) and near(measured) and near(known) and told is not None):
            result.doubtful += 1
            continue
        recorder.add_event(Event(uid, kind, measured, known, MappingProxyType(told)))
        result.events += 1
        latest = max(latest, known)
    for _, uid, known in tables["withdrawal"]:
        if isinstance(uid, str) and near(known):
            recorder.add_withdrawal(uid, known)
    return latest
