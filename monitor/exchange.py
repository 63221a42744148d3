"""A cook as a Frictionless Data Package: out to a folder, and back without loss.

Files: readings.csv, packs.csv, events.csv, batch.json, datapackage.json, and calibrations.jsonl where the cook has any
(see ``carried``). Times are RFC 3339 in UTC to seven
decimals, which tells any two moments apart that a 64-bit float of Unix seconds can.
"""

import csv
import json
import math
import re
import sqlite3
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import asdict
from datetime import UTC, datetime
from decimal import Decimal, InvalidOperation
from itertools import groupby
from pathlib import Path
from types import MappingProxyType
from typing import Any, TypeAlias

from monitor.carried import FILE, carried, entries_of, left_out_in_words, read_lines, take_in
from monitor.catalogue import read_about, read_batch, read_events
from monitor.clock import Anchor
from monitor.errors import MonitorError
from monitor.probes.facts import Fact, TakenBack
from monitor.recording import Recorder, connect_read_only, errors_named
from monitor.records import Event
from monitor.wire import Pack, Record

READINGS = ("time", "elapsed_s", "channel", "unit", "value", "fault", "pack")
PACKS = ("pack", "known", "seq", "digest")
EVENTS = ("time", "known", "event", "fields", "uid", "withdrawn")

_TYPES = {
    "time": "string",
    "known": "string",
    "withdrawn": "string",
    "elapsed_s": "number",
    "value": "number",
    "pack": "integer",
    "seq": "integer",
    # Beyond what every reader's integers hold.
    "digest": "string",
}
# What a reader may rely on: which columns tell the rows apart, and which row of packs a reading belongs to.
_KEYS: Mapping[str, Mapping[str, object]] = MappingProxyType(
    {
        "readings.csv": {"foreignKeys": [{"fields": ["pack"], "reference": {"resource": "packs", "fields": ["pack"]}}]},
        "packs.csv": {"primaryKey": ["pack"]},
        "events.csv": {"primaryKey": ["uid"]},
    }
)
_RFC3339 = re.compile(r"(\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d)(\.\d+)?(Z|[+-]\d\d:\d\d)\Z")


Progress: TypeAlias = Callable[[int, int], None]


def _silent(_done: int, _total: int) -> None:
    return None


class ExchangeError(MonitorError):
    """A package that cannot be written or read. place: file or folder; why: one clause."""

    def __init__(self, place: Path, why: str) -> None:
        self.place = place
        self.why = why
        super().__init__(f"{place}: {why}.")


def rfc3339(moment: float) -> str:
    """Unix seconds as RFC 3339 in UTC.

    >>> rfc3339(1773484800.25)
    '2026-03-14T10:40:00.2500000Z'
    """
    whole = math.floor(moment)
    fraction = f"{Decimal(moment) - whole:.7f}"
    if fraction.startswith("1"):
        whole, fraction = whole + 1, "0.0000000"
    return datetime.fromtimestamp(whole, UTC).strftime("%Y-%m-%dT%H:%M:%S") + fraction[1:] + "Z"


def from_rfc3339(text: str) -> float:
    """Unix seconds of an RFC 3339 moment. Raises ValueError.

    >>> from_rfc3339("2026-03-14T11:40:00.25+01:00")
    1773484800.25
    """
    match = _RFC3339.match(text.strip())
    if match is None:
        raise ValueError(f"time is {text[:40]!r}; it must be RFC 3339 such as 2026-03-14T10:40:00Z")
    whole = datetime.fromisoformat(match.group(1) + match.group(3).replace("Z", "+00:00")).timestamp()
    return float(Decimal(int(whole)) + Decimal(match.group(2) or 0))


def export_package(recording: Path, folder: Path, progress: Progress = _silent) -> None:
    """Writes a recording as a data package into ``folder``, which must be new or empty.

    progress: told (rows written, rows in all). Raises RecordingError, ExchangeError.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise ExchangeError(folder, "the folder is not empty")
    calibrations = carried(recording)
    with closing(connect_read_only(recording)) as connection, errors_named(recording):
        connection.execute("BEGIN")
        about = read_about(recording, connection)
        try:
            folder.mkdir(parents=True, exist_ok=True)
            _write_csv(folder / "readings.csv", READINGS, _reading_rows(connection, about.started, progress))
            _write_csv(
                folder / "packs.csv",
                PACKS,
                (
                    (id_, rfc3339(known), seq, digest)
                    for id_, known, seq, digest in connection.execute(
                        "SELECT id, known, seq, digest FROM pack ORDER BY id"
                    )
                ),
            )
            withdrawn = dict(connection.execute("SELECT uid, min(known) FROM withdrawal GROUP BY uid"))
            _write_csv(folder / "events.csv", EVENTS, (_event_row(e, withdrawn) for e in read_events(connection)))
            batch = {
                "rig": about.rig,
                "source": about.source,
                "started": about.started,
                "ended": about.ended,
                "sheets": [
                    {"known": known, "text": text}
                    for known, text in connection.execute("SELECT known, text FROM sheet ORDER BY id")
                ],
                "clock": asdict(about.anchor),
            }
            _write_json(folder / "batch.json", batch)
            if calibrations:
                (folder / FILE).write_text("\n".join(calibrations) + "\n", encoding="utf-8")
            _write_json(folder / "datapackage.json", _descriptor(recording, bool(calibrations)))
        except OSError as error:
            raise ExchangeError(folder, (error.strerror or str(error)).lower()) from None


def _reading_rows(connection: sqlite3.Connection, started: float, progress: Progress) -> Iterator[tuple[object, ...]]:
    total = connection.execute("SELECT count(*) FROM reading").fetchone()[0]
    rows = connection.execute(
        "SELECT coalesce(measured, known), name, unit, value, fault, pack.id FROM reading "
        "JOIN pack ON pack.id = reading.pack JOIN channel ON channel.id = reading.channel ORDER BY reading.id"
    )
    for done, (measured, name, unit, value, fault, pack) in enumerate(rows, 1):
        elapsed = round(measured - started, 6)
        yield rfc3339(measured), elapsed, name, unit, "" if value is None else repr(value), fault, pack
        progress(done, total)


def _event_row(event: Event, withdrawn: dict[str, float]) -> tuple[object, ...]:
    taken_back = rfc3339(withdrawn[event.uid]) if event.uid in withdrawn else ""
    fields = json.dumps(dict(event.fields), ensure_ascii=False)
    return rfc3339(event.measured), rfc3339(event.known), event.kind, fields, event.uid, taken_back


def _write_csv(path: Path, header: tuple[str, ...], rows: Iterator[tuple[object, ...]]) -> None:
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(header)
        writer.writerows(rows)


def _write_json(path: Path, value: object) -> None:
    path.write_text(json.dumps(value, indent=2, ensure_ascii=False) + "\n", encoding="utf-8")


def _descriptor(recording: Path, calibrated: bool) -> dict[str, object]:
    name = re.sub(r"[^a-z0-9._-]+", "-", recording.stem.lower())
    return {
        "profile": "tabular-data-package",
        "name": name,
        "title": f"Cook {recording.stem}",
        "batch": "batch.json",
        **({"calibrations": FILE} if calibrated else {}),
        "resources": [
            {
                "name": file.removesuffix(".csv"),
                "path": file,
                "profile": "tabular-data-resource",
                "format": "csv",
                "mediatype": "text/csv",
                "encoding": "utf-8",
                "schema": {
                    "fields": [{"name": field, "type": _TYPES.get(field, "string")} for field in header],
                    **_KEYS[file],
                },
            }
            for file, header in (("readings.csv", READINGS), ("packs.csv", PACKS), ("events.csv", EVENTS))
        ],
    }


def import_package(
    package: Path, folder: Path, progress: Progress = _silent, tell: Callable[[str], None] = lambda _: None
) -> Path:
    """Reads a data package that ``export_package`` wrote into a new recording in ``folder``; its path.

    tell: told a sentence about calibrations that were left out.
    Raises ExchangeError that names the file and the row where the package is wrong; then nothing is left behind.
    """
    batch = _read_json(package / "batch.json")
    try:
        anchor = Anchor(**batch["clock"])
        started, ended = float(batch["started"]), batch["ended"]
        sheets = [(float(sheet["known"]), str(sheet["text"])) for sheet in batch["sheets"]]
        rig, source = str(batch["rig"]), str(batch["source"])
    except (KeyError, TypeError, ValueError):
        raise ExchangeError(package / "batch.json", "it is not what an export writes") from None
    calibrations = _read_calibrations(package / FILE)
    begun = Anchor(started, anchor.wall, anchor.boot_id, anchor.boot_s, anchor.rate)
    first = read_batch(sheets[0][1]) if sheets else None
    recorder = Recorder.create(folder, begun, rig=rig, source=source, title=first.title if first else None)
    try:
        for known, text in sheets:
            recorder.add_sheet(text, known)
        _import_readings(package, recorder, progress)
        _import_events(package, recorder)
        recorder.tie_clock(anchor)
        if ended is not None:
            recorder.end(float(ended))
        if recorder.is_finished():
            recorder.finish()
        else:
            recorder.close()
    except BaseException:
        recorder.abandon()
        for left in folder.glob(recorder.path.name + "*"):
            left.unlink()
        raise
    left_out = take_in(calibrations, recorder.path)
    if left_out:
        tell(left_out_in_words(left_out))
    return recorder.path


def _read_calibrations(path: Path) -> list[Fact | TakenBack]:
    try:
        return entries_of(read_lines(path))
    except OSError as error:
        raise ExchangeError(path, (error.strerror or str(error)).lower()) from None
    except ValueError as error:
        raise ExchangeError(path, str(error)) from None


def _import_readings(package: Path, recorder: Recorder, progress: Progress) -> None:
    path = package / "packs.csv"
    packs: dict[str, Pack] = {}
    for line, row in _rows(path, PACKS):
        with _row_named(path, line):
            packs[row["pack"]] = Pack(
                (),
                from_rfc3339(row["known"]),
                int(row["seq"]) if row["seq"] else None,
                int(row["digest"]) if row["digest"] else None,
            )
    path = package / "readings.csv"
    by_pack = groupby(_rows(path, READINGS), lambda numbered: numbered[1]["pack"])
    for stored, (pack, rows) in enumerate(by_pack, 1):
        if pack not in packs:
            raise ExchangeError(path, f"pack {pack!r} is not in packs.csv")
        head = packs.pop(pack)
        records = []
        for line, row in rows:
            with _row_named(path, line):
                measured = from_rfc3339(row["time"])
                value = float(row["value"]) if row["value"] else None
                if value is None and not row["fault"]:
                    raise ValueError("it holds neither a value nor a fault")
                time = None if measured == head.arrived else measured
                records.append(Record(row["channel"], row["unit"], value, row["fault"] or None, time))
        recorder.add_pack(Pack(tuple(records), head.arrived, head.seq, head.digest))
        progress(stored, stored + len(packs))
    for head in packs.values():
        recorder.add_pack(head)


def _import_events(package: Path, recorder: Recorder) -> None:
    path = package / "events.csv"
    for line, row in _rows(path, EVENTS):
        with _row_named(path, line):
            fields = json.loads(row["fields"])
            if not isinstance(fields, dict):
                raise ValueError("fields is not a JSON object")
            event = Event(
                row["uid"],
                row["event"],
                from_rfc3339(row["time"]),
                from_rfc3339(row["known"]),
                MappingProxyType(fields),
            )
            recorder.add_event(event)
            if row["withdrawn"]:
                recorder.add_withdrawal(row["uid"], from_rfc3339(row["withdrawn"]))


@contextmanager
def _row_named(path: Path, line: int) -> Iterator[None]:
    """Turns what is wrong with a row into an ExchangeError that names it."""
    try:
        yield
    except (ValueError, InvalidOperation, OverflowError, TypeError) as error:
        raise ExchangeError(path, f"line {line} is wrong: {error}") from None


def _rows(path: Path, header: tuple[str, ...]) -> Iterator[tuple[int, dict[str, str]]]:
    try:
        with path.open(newline="", encoding="utf-8") as file:
            reader = csv.DictReader(file, strict=True)
            if tuple(reader.fieldnames or ()) != header:
                raise ExchangeError(path, f"its columns must be {', '.join(header)}")
            for row in reader:
                if None in row or None in row.values():
                    raise ExchangeError(path, f"line {reader.line_num} has not as many cells as columns")
                yield reader.line_num, row
    except OSError as error:
        raise ExchangeError(path, (error.strerror or str(error)).lower()) from None
    except (csv.Error, UnicodeDecodeError) as error:
        raise ExchangeError(path, f"it is not CSV in UTF-8: {error}") from None


def _read_json(path: Path) -> dict[str, Any]:
    try:
        value = json.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise ExchangeError(path, (error.strerror or str(error)).lower()) from None
    except (ValueError, RecursionError):
        raise ExchangeError(path, "it is not JSON") from None
    if not isinstance(value, dict):
        raise ExchangeError(path, "it is not a JSON object")
    return value
