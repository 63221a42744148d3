"""Writes the rows that were read of a damaged recording into a new, ended one; rows that make no sense are left out."""

import math
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

from monitor.model import Event
from monitor.protocol import Pack, SenmlRecord
from monitor.runtime import Anchor
from monitor.storage.connections import RecordingError
from monitor.storage.contents import fields_of
from monitor.storage.salvage_report import SalvageReport
from monitor.storage.salvage_rows import Row
from monitor.storage.writer import Recorder

# A cook's moments lie within this of its start.
LONGEST_S = 30 * 86_400.0


def write_salvaged(
    damaged: Path, folder: Path, tables: dict[str, list[Row]], about: dict[str, str], report: SalvageReport
) -> None:
    """Makes a new recording in ``folder`` of what was read.

    damaged: the recording that it was read from. tables: name to rows. about: the pairs of the ``about`` table.
    report: gains what was written and left out. Raises RecordingError where nothing tells when the cook began.
    """
    arrivals = [row[1] for row in tables["pack"] if _is_moment(row[1])]
    started = _number(about.get("started"))
    report.header_lost = not {"rig", "source"} <= about.keys() or started is None
    if started is None:
        if not arrivals:
            raise RecordingError(damaged, "nothing of a cook can be read in it", damaged=True)
        started = float(min(arrivals))
    is_plausible = _PlausibleTime(started)
    sheets = [(known, text) for _, known, text in tables["sheet"] if is_plausible(known) and isinstance(text, str)]
    recorder = Recorder.create(
        folder,
        Anchor(started, started, "", 0.0),
        rig=about.get("rig", "cooker"),
        source=about.get("source", "rescued"),
        title=damaged.stem[:40],
    )
    report.path = recorder.path
    try:
        for known, text in sheets:
            recorder.add_sheet(text, known)
        last = _write_packs(recorder, tables, is_plausible, report)
        last = max(last, _write_events(recorder, tables, is_plausible, report))
        for _, cook_time, wall, boot_id, boot_s, rate in tables["clock"]:
            numbers = isinstance(boot_s, float) and isinstance(rate, float)
            if numbers and is_plausible(cook_time) and isinstance(boot_id, str) and _is_moment(wall):
                recorder.tie_clock(Anchor(cook_time, wall, boot_id, boot_s, rate))
        if not recorder.is_finished():
            recorder.end(_number(about.get("ended")) or max(last, started))
        recorder.finish()
    except BaseException:
        recorder.abandon()
        raise


@dataclass(frozen=True)
class _PlausibleTime:
    """Tells whether a value from a row can be a moment of a cook that started at ``started`` (Unix seconds)."""

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


def _write_packs(
    recorder: Recorder, tables: dict[str, list[Row]], is_plausible: _PlausibleTime, report: SalvageReport
) -> float:
    """Writes the packs with their readings; returns when the last became known, Unix seconds."""
    channels = {id_: (name, unit) for id_, name, unit in tables["channel"] if isinstance(name, str)}
    pack_rows: dict[int, tuple[float, int | None, int | None]] = {}
    for id_, known, seq, digest in tables["pack"]:
        if is_plausible(known) and all(value is None or isinstance(value, int) for value in (seq, digest)):
            pack_rows[id_] = (known, seq, digest)
        else:
            report.doubtful += 1
    by_pack: dict[int, list[SenmlRecord]] = {id_: [] for id_ in pack_rows}
    for _, pack, channel, measured, value, fault in tables["reading"]:
        fits = measured is None or is_plausible(measured)
        good = isinstance(value, float) and math.isfinite(value) and fault is None
        if not (isinstance(pack, int) and fits and (good or (value is None and isinstance(fault, str)))):
            report.doubtful += 1
            continue
        name, unit = channels.get(channel, (f"channel-{channel}", ""))
        record = SenmlRecord(name, str(unit), value, fault, measured)
        by_pack.setdefault(pack, []).append(record)
    known = is_plausible.started
    for pack in sorted(by_pack):
        records = by_pack[pack]
        if pack in pack_rows:
            known, seq, digest = pack_rows[pack]
        else:
            times = [record.time for record in records if record.time is not None]
            known, seq, digest = max([known, *times]), None, None
            report.packless += len(records)
        recorder.add_pack(Pack(tuple(records), known, seq, digest))
        report.readings += len(records)
    return known


def _write_events(
    recorder: Recorder, tables: dict[str, list[Row]], is_plausible: _PlausibleTime, report: SalvageReport
) -> float:
    """Writes the events; returns when the last became known, Unix seconds."""
    latest = is_plausible.started
    for _, uid, kind, measured, known, fields in tables["event"]:
        try:
            fields_by_name = fields_of(str(fields))
        except (TypeError, ValueError, RecursionError):
            fields_by_name = None
        if not (
            isinstance(uid, str)
            and isinstance(kind, str)
            and is_plausible(measured)
            and is_plausible(known)
            and fields_by_name is not None
        ):
            report.doubtful += 1
            continue
        recorder.add_event(Event(uid, kind, measured, known, MappingProxyType(fields_by_name)))
        report.events += 1
        latest = max(latest, known)
    for _, uid, known in tables["withdrawal"]:
        if isinstance(uid, str) and is_plausible(known):
            recorder.add_withdrawal(uid, known)
    return latest
