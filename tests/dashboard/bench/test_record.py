"""The batch record: all it prints comes from the recording."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from dashboard.bench.record import record_of
from monitor.model import make_event
from monitor.protocol import Pack, SenmlRecord
from monitor.runtime import Anchor, Clock
from monitor.runtime.clock import JumpClock
from monitor.session import Cook
from tests.dashboard.seeded import SHEET, Maker


@pytest.fixture
def clock() -> JumpClock:
    return JumpClock()


@pytest.fixture
def maker(tmp_path: Path, clock: JumpClock) -> Iterator[Maker]:
    made = Maker(tmp_path, clock, hours=3.0)
    yield made
    made.recorder.close()


@pytest.fixture
def cook(maker: Maker, clock: JumpClock) -> Cook:
    def clock_for(_tie: Anchor) -> Clock:
        return clock

    return Cook(maker.path, clock_for)


def test_a_plain_cook_has_a_curve_and_no_deviations(cook: Cook, maker: Maker) -> None:
    record = record_of(cook)
    assert record.deviations == () and record.trouble == "" and record.ended is None
    assert [row.what for row in record.materials] == ["rapeseed", "potassium hydroxide", "water, for the lye"]
    # 600 g x 188.6 mg/g x 1.03 / 0.90, by hand.
    assert record.materials[1].used == "129.5 g"
    assert [moment.what for moment in record.operations[:3]] == ["Lye in", "Thick trace", "Lid on"]
    assert [moment.details for moment in record.checks] == ["hazy"]
    assert record.curve is not None and record.curve.address.startswith("data:image/svg+xml,")
    assert "at 08:50, read hazy" in record.curve.words
    assert {probe.name: probe.readings for probe in record.probes}["paste"] == 10800


def test_later_additions_are_in_the_materials_and_the_yield(cook: Cook, maker: Maker, clock: JumpClock) -> None:
    before = dict(record_of(cook).result)
    maker.log("water added", 9500, {"grams": 900})
    maker.log("neutraliser added", 9600, {"reagent": "citric acid", "grams": 2})
    maker.log("added", 9700, {"what": "glycerol", "grams": 40})
    maker.log("ph read", 9800, {"ph": 9.8})
    clock.moment += 5
    cook.look()
    record = record_of(cook)
    assert [(row.what, row.used) for row in record.materials[3:]] == [
        ("water, for dilution", "900.0 g"),
        ("citric acid", "2.00 g"),
        ("glycerol", "40.0 g"),
    ]
    total = "In the pot by mass balance, nothing boiled off"
    gained = float(dict(record.result)[total].split()[0]) - float(before[total].split()[0])
    assert gained == pytest.approx(942.0, abs=0.11)
    assert [(moment.what, moment.details) for moment in record.ph] == [("pH read", "9.8")]
    assert record.label is not None and record.label.common_list.startswith("water, potassium soap of rapeseed oil")


def test_everything_unplanned_is_a_deviation(cook: Cook, maker: Maker, clock: JumpClock) -> None:
    moment = clock.moment
    maker.recorder.add_pack(Pack((SenmlRecord("paste", "Cel", None, "open circuit", moment),), moment, 90_000, None))
    maker.recorder.add_event(
        make_event("lost", "packs lost", maker.started + 4000, maker.started + 4000, {"count": 3}, by_logger=True)
    )
    maker.recorder.add_sheet(SHEET.format(title="Kitchen batch").replace("600", "610"), moment)
    stirred = next(event for event in cook.history().events if event.kind == "stirred")
    maker.recorder.add_withdrawal(stirred.uid, moment)
    maker.recorder.commit()
    clock.moment += 5
    cook.look()
    record = record_of(cook)
    assert [(each.what, each.details) for each in record.deviations] == [
        ("Packs of readings were lost", "3"),
        ("An entry was taken back", "stirred"),
        ("The batch sheet was written anew", ""),
        ("Probe paste: open circuit", "1 readings in all"),
    ]
    assert (record.materials[0].planned, record.materials[0].used) == ("600.0 g", "610.0 g")
    assert len([each for each in record.operations if each.what == "Stirred"]) == 3


def test_the_record_ends_where_the_cook_was_finished(cook: Cook, maker: Maker, clock: JumpClock) -> None:
    maker.log("finished", 10_800)
    clock.moment += 5
    cook.look()
    first = record_of(cook)
    clock.moment += 7 * 86_400
    cook.look()
    record = record_of(cook)
    assert record.ended == round(maker.started + 10800)
    assert record.curve is not None and record.curve.words.startswith("Course of the cook")
    # A week later it is the same picture.
    assert record.curve == first.curve


def test_a_record_without_a_batch_sheet_says_so(tmp_path: Path, clock: JumpClock) -> None:
    from monitor.storage import Recorder

    recorder = Recorder.create(tmp_path, clock.anchor(), rig="cooker", source="rig:", sheet=None)
    recorder.close()
    record = record_of(Cook(recorder.path, lambda _tie: clock))
    assert "no batch sheet" in record.trouble
    assert record.materials == () and record.curve is None and record.label is None


def test_outcome_and_keeping_stand_on_the_record_and_not_among_the_operations(
    cook: Cook, maker: Maker, clock: JumpClock
) -> None:
    assert record_of(cook).after == () and record_of(cook).keeping == ""
    maker.log("outcome", 9900, {"look": "clear", "thickness": "like honey"})
    maker.log("keeping", 9950, {"preservative": "one of mine, 0.5 %", "months": 12.0, "assessed_by": "an assessor"})
    clock.moment += 5
    cook.look()
    record = record_of(cook)
    assert [(row.what, row.details) for row in record.after] == [
        ("Outcome", "clear; thickness like honey"),
        ("Keeping", "one of mine, 0.5 %, 12 months from filling, an assessor"),
    ]
    assert not {"Outcome", "Keeping"} & {row.what for row in record.operations}
    assert record.keeping == "Use within 12 months of filling"
