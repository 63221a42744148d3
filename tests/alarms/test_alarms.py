"""Alarms: few and true in normal cooks, soon in faulty ones, and their states as people answer them."""

import math
from dataclasses import replace

import numpy as np
import pytest

from monitor.alarms.active import DueTimes, active_alarms
from monitor.alarms.intervals import Exceedance, debounce
from monitor.model import History, cut, make_event, series_from
from tests.alarms.cooks import normal_cook, rule_of_thumb
from tests.alarms.faults import faulty_cook
from tests.alarms.pots import START, answered, paste_of, standing, steady


# The last six once raised a lid left off, a boil-over, a lid again, a frozen probe, wall and paste apart, and a lid.
@pytest.mark.parametrize(
    ("strange", "seed"),
    [
        *((False, 3000), (False, 3001), (True, 3001), (True, 3005)),
        *((True, 7067), (True, 7097), (True, 7092), (True, 5028), (True, 5033), (True, 9247)),
    ],
)
def test_a_normal_cook_raises_nothing(strange: bool, seed: int) -> None:
    one = normal_cook(strange, seed)
    history, start = one.history, one.start
    for now in np.arange(start, history.as_of, 300.0).tolist():
        known = cut(history, now)
        assert active_alarms(known, now, rule_of_thumb(known, start)) == ()


@pytest.mark.parametrize(
    "fault",
    [
        *("probe open", "probe shorted", "probe frozen", "probe jumps", "impossible value", "no data"),
        *("boil-over", "power cut", "lid left off"),
    ],
)
def test_a_fault_is_raised_within_a_minute(fault: str) -> None:
    made = faulty_cook(fault, False, 3001)
    assert made is not None
    before = cut(made.history, made.begins - 30.0)
    assert not active_alarms(before, before.as_of)
    soon = made.visible + 60.0
    assert set(standing(cut(made.history, soon), soon)) & set(made.expected)


def test_overdue_by_the_due_times_alone() -> None:
    history = paste_of(*steady(7200.0))
    now = history.as_of
    assert standing(history, now, DueTimes(now - 3599.0, now - 1199.0)) == {}
    assert set(standing(history, now, DueTimes(now - 3601.0, now - 1201.0))) == {"stir overdue", "check overdue"}


def test_who_stirs_often_is_missed_sooner() -> None:
    stirs = [make_event(f"s{i}", "stirred", START + 1800.0 * i, START + 1800.0 * i) for i in (1, 2, 3)]
    history = paste_of(*steady(10_000.0), *stirs)
    due = DueTimes(START + 5400.0 + 2100.0)
    assert standing(history, START + 5400.0 + 3299.0, due) == {}
    assert standing(history, START + 5400.0 + 3301.0, due) == {"stir overdue": "unacknowledged"}


@pytest.mark.parametrize(("every_s", "limit_s"), [(1.0, 15.0), (10.0, 40.0), (60.0, 240.0)])
def test_silence_goes_by_the_usual_interval(every_s: float, limit_s: float) -> None:
    history = paste_of(*steady(7200.0, every_s))
    last = history.as_of
    assert standing(history, last + limit_s - 1.0) == {}
    assert standing(history, last + limit_s) == {"no data": "unacknowledged"}


def test_a_cook_faster_than_life_may_be_silent_for_longer() -> None:
    history = paste_of(*steady(7200.0))
    now = history.as_of + 1199.0
    assert standing(history, now) == {"no data": "unacknowledged"}
    assert active_alarms(history, now, silence_s=1200.0) == ()
    assert [one.name for one in active_alarms(history, now + 1.0, silence_s=1200.0)] == ["no data"]


def test_packs_of_many_readings_are_no_silence() -> None:
    at, value = steady(7200.0)
    known = np.ceil((at - START) / 60.0) * 60.0 + START
    history = replace(
        paste_of(at, value), series={"paste": series_from("paste", "Cel", at, known, value)}, as_of=float(known[-1])
    )
    assert standing(history, history.as_of + 100.0) == {}


def test_no_data_at_all() -> None:
    assert standing(History(START, START), START + 14.0) == {}
    assert standing(History(START, START), START + 15.0) == {"no data": "unacknowledged"}


def broken(till_s: float | None = None) -> History:
    """Open from 4000 s on, perhaps mended later."""
    at, value = steady(9000.0)
    wrong = (at - START >= 4000.0) & (at - START < (till_s or math.inf))
    return paste_of(at, np.where(wrong, np.nan, value))


def test_the_states_of_an_alarm() -> None:
    name = "paste probe open"
    history = broken()
    assert standing(history, START + 4004.0) == {}
    assert standing(history, START + 4005.0) == {name: "unacknowledged"}
    acknowledged = answered(history, "acknowledged", 4100.0, condition=name)
    assert standing(acknowledged, START + 4099.0) == {name: "unacknowledged"}
    assert standing(acknowledged, START + 4100.0) == {name: "acknowledged"}
    shelved = answered(history, "shelved", 4100.0, condition=name, minutes=10.0)
    assert standing(shelved, START + 4699.0) == {name: "shelved"}
    assert standing(shelved, START + 4701.0) == {name: "unacknowledged"}
    other = answered(history, "acknowledged", 4100.0, condition="paste cold")
    assert standing(other, START + 4200.0) == {name: "unacknowledged"}


def test_an_alarm_that_returned_unacknowledged_is_shown_for_an_hour() -> None:
    name = "paste probe open"
    history = broken(till_s=4300.0)
    assert standing(history, START + 4299.0) == {name: "unacknowledged"}
    found = active_alarms(history, START + 4400.0)
    assert [(one.name, one.state, one.since, one.until) for one in found] == [
        (name, "returned unacknowledged", START + 4000.0, START + 4300.0)
    ]
    assert standing(history, START + 4300.0 + 3601.0) == {}
    seen = answered(history, "acknowledged", 4400.0, condition=name)
    assert standing(seen, START + 4401.0) == {}


def test_an_answer_holds_for_a_single_interval() -> None:
    at, value = steady(9000.0)
    elapsed = at - START
    twice = ((elapsed >= 4000.0) & (elapsed < 4300.0)) | (elapsed >= 5000.0)
    history = answered(
        paste_of(at, np.where(twice, np.nan, value)), "acknowledged", 4100.0, condition="paste probe open"
    )
    assert standing(history, START + 5010.0) == {"paste probe open": "unacknowledged"}


def test_a_long_interval_keeps_its_beginning() -> None:
    (found,) = active_alarms(broken(), START + 8999.0)
    assert found.since == START + 4000.0


def test_a_crackle_of_one_reading_is_nothing() -> None:
    at, value = steady(5000.0)
    value[4000] = np.nan
    history = paste_of(at, value)
    assert all(standing(history, START + s) == {} for s in (4000.5, 4001.0, 4010.0))


def test_what_the_probe_says_is_told() -> None:
    at, value = steady(5000.0)
    history = paste_of(at, np.where(at >= START + 4000.0, np.nan, value), fault="short to ground")
    (found,) = active_alarms(history, START + 4100.0)
    assert found.name == "paste probe shorted"
    assert "short to ground" in found.words


def test_cold_and_the_switch() -> None:
    at, value = steady(9000.0)
    value = np.where(at >= START + 5000.0, 65.0 + (value - 94.0), value)
    lid = make_event("stir", "stirred", START + 4990.0, START + 4990.0)
    history = paste_of(at, value, lid)
    assert standing(history, START + 5100.0) == {"paste cold": "unacknowledged"}
    off = answered(history, "heat off", 4900.0)
    assert standing(off, START + 5100.0) == {}
    on = answered(off, "heat", 5000.0, setting="high")
    assert standing(on, START + 5100.0) == {"paste cold": "unacknowledged"}


def fallen(back_s: float) -> History:
    """A probe that reads thirty degrees less from 4000 s on, for so long."""
    at, value = steady(9000.0)
    low = (at >= START + 4000.0) & (at < START + 4000.0 + back_s)
    return paste_of(at, np.where(low, value - 30.0, value))


def test_a_probe_moved_at_a_stir_is_wrong_only_when_it_is_not_put_back() -> None:
    name = "paste probe jumped"
    assert name in standing(fallen(5000.0), START + 4001.0)
    left_out = answered(fallen(5000.0), "stirred", 4100.0)
    assert name not in standing(left_out, START + 4399.0)
    assert standing(left_out, START + 4400.0)[name] == "unacknowledged"
    assert standing(left_out, START + 8000.0)[name] == "unacknowledged"
    put_back = answered(fallen(200.0), "stirred", 4100.0)
    assert all(name not in standing(put_back, START + s) for s in (4399.0, 4400.0, 5000.0))
    late = answered(answered(fallen(900.0), "stirred", 4100.0), "stirred", 4910.0)
    assert standing(late, START + 5000.0)[name] == "returned unacknowledged"


def test_one_reading_of_a_boil_is_none() -> None:
    at, value = steady(6000.0, 10.0)
    value += 5.5
    value[500] = 102.0
    assert standing(paste_of(at, value), START + 5020.0) == {}
    assert standing(paste_of(at, np.where(at >= START + 5000.0, 101.5, value)), START + 5075.0) == {
        "near boil-over": "unacknowledged"
    }


def test_a_shelved_alarm_comes_back_when_its_time_is_up() -> None:
    name = "paste probe open"
    shelved = answered(broken(), "shelved", 4100.0, condition=name, minutes=10.0)
    for at_s, state, in_sight in ((4099.0, "unacknowledged", True), (4600.0, "shelved", False)):
        (found,) = active_alarms(shelved, START + at_s)
        assert (found.state, found.in_sight) == (state, in_sight)
    (found,) = active_alarms(shelved, START + 4700.0)
    assert (found.state, found.in_sight, found.since) == ("unacknowledged", True, START + 4000.0)
    # One that went away while it was shelved is not brought up again.
    mended = answered(broken(till_s=4300.0), "shelved", 4100.0, condition=name, minutes=10.0)
    assert active_alarms(mended, START + 4800.0) == ()


def test_a_lid_logged_off_and_left() -> None:
    history = answered(paste_of(*steady(9000.0)), "lid off", 5000.0)
    assert standing(history, START + 5599.0) == {}
    assert standing(history, START + 5600.0) == {"lid left off": "unacknowledged"}
    assert standing(answered(history, "lid on", 5700.0), START + 5701.0) == {}


def test_nothing_is_wrong_with_a_finished_cook() -> None:
    assert standing(answered(broken(), "finished", 8000.0), START + 8999.0) == {}


def test_debounce_keeps_to_deadband_and_delays() -> None:
    at = np.arange(10.0)
    level = np.array([0, 5, 0, 5, 5, 5, 3, 5, 0, 0.0])
    found = debounce(at, level >= 5, level <= 1, 2.0, 2.0, 10.0)
    # The lone 5 is too short, the 3 is inside the deadband, and two zeros end it.
    assert found == [Exceedance(3.0, 8.0)]
    assert debounce(at, level >= 5, level <= 1, 2.0, 3.0, 10.0) == [Exceedance(3.0, None)]
