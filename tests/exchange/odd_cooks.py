"""Cooks as odd as a recording can hold, from a seed: every kind of event, and texts, numbers and times at their ends."""

import math
import random
from contextlib import closing
from pathlib import Path

from monitor.exchange.calibrations import calibrations_for
from monitor.model import ANSWERS, PERSON_EVENTS, Number, make_event
from monitor.model.event_kinds import LOGGER_EVENTS, FieldRule, OneOf
from monitor.probes import (
    ICE,
    BathPoint,
    BufferPoint,
    CalibrationRecord,
    FieldCheck,
    PhCalibration,
    Retraction,
    SensorConfig,
)
from monitor.protocol import Pack, SenmlRecord
from monitor.runtime import Anchor
from monitor.storage import CalibrationLog, Recorder, connect_read_only

START = 1_773_484_800.0
LETTERS = "ab 09,;\"'\\=\t\r\n\0\x1b\x85\u00a0éß°\u0301\u200f\u2028\ufeff漢😀"
NAMES = ("paste", "wall", "room", "ph", "urn:dev:kitchen:paste", "rig/wall", "", " ", "-", "time", "NULL", "nan")
UNITS = ("Cel", "V", "K", "pH", "mS/cm", "", "%RH", "°F")
VALUES = (0.0, -0.0, 5e-324, -5e-324, math.pi, 1e-7, 94.25, -273.15, 2.0**53 + 1, 1.7976931348623157e308, -1e308)
SHEET = 'title = "{title}"\n[[oil]]\nname = "rapeseed"\ngrams = {grams}\n'

Contents = dict[str, list[tuple[object, ...]]]


def recorded(folder: Path, draw: random.Random, most_packs: int = 12) -> Path:
    """A recording in ``folder``, which must be new: another for every state of ``draw``."""
    started = START + draw.uniform(0.0, 1e7)
    rig = _text(draw, 1, 12)
    anchor = Anchor(started, started + draw.uniform(-1e6, 1e6), _text(draw, 0, 8), draw.uniform(0.0, 1e6), 60.0)
    sheet = _sheet(draw) if draw.random() < 0.6 else None
    recorder = Recorder.create(folder, anchor, rig=rig, source=_text(draw, 0, 30), sheet=sheet)
    now = started
    names = [*NAMES, *(_text(draw, 1, 20) for _ in range(4))]
    for _ in range(draw.randint(0, most_packs)):
        # Several at one moment, and now and then a clock that goes back.
        now += draw.choice([0.0, 1.0, draw.uniform(0.0, 60.0), -0.5])
        records = tuple(_record(draw, names, now) for _ in range(draw.choice([0, 1, 1, 2, 4])))
        seq = draw.choice([None, draw.randint(0, 2**53)])
        digest = draw.choice([None, draw.randint(-(2**63), 2**63 - 1), draw.randint(0, 3)])
        recorder.add_pack(Pack(records, now, seq, digest), copied=draw.random() < 0.3)
    uids = _add_events(recorder, draw, started)
    for uid in draw.sample(uids, k=draw.randint(0, min(3, len(uids)))):
        recorder.add_withdrawal(uid, started + draw.uniform(0.0, 1e5))
    for _ in range(draw.choice([0, 0, 1, 2])):
        recorder.add_sheet(_sheet(draw), started + draw.uniform(0.0, 1e5))
    for _ in range(draw.choice([0, 0, 1, 3])):
        recorder.tie_clock(Anchor(now, now + draw.uniform(-1e6, 1e6), _text(draw, 0, 8), draw.uniform(0.0, 1e6)))
    if draw.random() < 0.5:
        recorder.end(now + draw.uniform(0.0, 100.0))
    recorder.finish()
    if draw.random() < 0.3:
        _calibrate(CalibrationLog(folder), draw, rig, started)
    return recorder.path


def _text(draw: random.Random, shortest: int, longest: int) -> str:
    return "".join(draw.choices(LETTERS, k=draw.randint(shortest, longest)))


def _sheet(draw: random.Random) -> str:
    title = "".join(letter for letter in _text(draw, 1, 20) if letter.isprintable() and letter not in '"\\')
    return SHEET.format(title=title + ".", grams=draw.randint(1, 2000))


def _record(draw: random.Random, names: list[str], now: float) -> SenmlRecord:
    # Known long after it was measured, at once, before it (a board whose clock is ahead), or decades off.
    measured = draw.choice([None, now, now - draw.uniform(0.0, 7200.0), now + 3.7, 268_435_456.0, 9e9])
    name, unit = draw.choice(names), draw.choice(UNITS)
    if draw.random() < 0.2:
        return SenmlRecord(name, unit, None, _text(draw, 1, 30), measured)
    wide = draw.uniform(-1.0, 1.0) * 10.0 ** draw.randint(-300, 300)
    return SenmlRecord(name, unit, draw.choice([draw.choice(VALUES), draw.uniform(-40.0, 130.0), wide]), None, measured)


def _add_events(recorder: Recorder, draw: random.Random, started: float) -> list[str]:
    kinds = {**PERSON_EVENTS, **ANSWERS, **LOGGER_EVENTS}
    uids: list[str] = []
    for kind in draw.sample(sorted(kinds), k=draw.randint(0, len(kinds))):
        required, optional = kinds[kind]
        asked = {**required, **{name: rule for name, rule in optional.items() if draw.random() < 0.5}}
        fields = {name: _field(draw, rule) for name, rule in asked.items()}
        measured = started + draw.choice([0.0, 60.0, draw.uniform(-3600.0, 1e5)])
        known = measured + draw.choice([0.0, 0.0, draw.uniform(0.0, 1e4)])
        uid = f"{kind} {_text(draw, 0, 6)}"
        recorder.add_event(make_event(uid, kind, measured, known, fields, by_logger=kind in LOGGER_EVENTS))
        uids.append(uid)
    return uids


def _field(draw: random.Random, rule: FieldRule) -> str | float:
    if isinstance(rule, Number):
        return draw.choice([rule.low, rule.high, draw.uniform(rule.low, rule.high)])
    if isinstance(rule, OneOf):
        return draw.choice(rule.words)
    return _text(draw, 0, min(60, rule.longest))


def _calibrate(calibration_log: CalibrationLog, draw: random.Random, rig: str, started: float) -> None:
    def uid() -> str:
        return f"{draw.getrandbits(64):x}"

    slope = draw.uniform(-0.0615, -0.0540)
    points = (BufferPoint("7.00", 25.0, 0.0), BufferPoint("10.01", 25.0, 3.01 * slope))
    facts: list[CalibrationRecord] = [
        PhCalibration(uid(), rig, "ph", started - draw.uniform(0.0, 1e6), points, _text(draw, 0, 12)),
        FieldCheck(uid(), rig, "paste", started - draw.uniform(0.0, 1e6), (BathPoint(ICE, draw.uniform(-1.5, 1.5)),)),
        SensorConfig(uid(), rig, "paste", started - 1.0, draw.choice("KJT"), draw.choice([1, 2])),
    ]
    for fact in draw.sample(facts, k=draw.randint(1, 3)):
        calibration_log.add(fact)
        if draw.random() < 0.3:
            calibration_log.add(Retraction(uid(), fact.uid, started + draw.uniform(0.0, 100.0)))


def contents(path: Path) -> Contents:
    """All that a recording holds and the calibrations it is seen by, but for internal numbers.

    A reading without a time of its own is one measured when it became known, and an event taken back twice is one
    taken back the first time: every view has it so.
    """
    queries = {
        "readings": "SELECT pack, name, unit, coalesce(measured, known), known, value, fault FROM reading "
        "JOIN pack ON pack.id = reading.pack JOIN channel ON channel.id = reading.channel ORDER BY reading.id",
        "packs": "SELECT id, known, seq, digest FROM pack ORDER BY id",
        "events": "SELECT uid, kind, measured, known, fields FROM event ORDER BY measured, known, id",
        "withdrawals": "SELECT uid, min(known) FROM withdrawal GROUP BY uid ORDER BY uid",
        "sheets": "SELECT known, text FROM sheet ORDER BY id",
        "clocks": "SELECT cook_time, wall, boot_id, boot_s, rate FROM clock ORDER BY id",
        "about": "SELECT key, value FROM about ORDER BY key",
    }
    with closing(connect_read_only(path)) as connection:
        held = {name: connection.execute(query).fetchall() for name, query in queries.items()}
    # As text, which tells nought from minus nought.
    held["readings"] = [(*row[:5], repr(row[5]), row[6]) for row in held["readings"]]
    return {**held, "calibrations": [(line,) for line in calibrations_for(path)]}


def differences(one: Contents, other: Contents) -> list[str]:
    """Where two recordings differ, in words; nothing where they are the same."""
    found = []
    for name, rows in one.items():
        if rows != other[name]:
            pairs = [(mine, theirs) for mine, theirs in zip(rows, other[name], strict=False) if mine != theirs]
            found.append(f"{name}: {len(rows)} and {len(other[name])} rows; {pairs[:1]}")
    return found
