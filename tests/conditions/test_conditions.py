"""Conditions: few and true in normal cooks, soon in faulty ones, and their states as people answer them."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.conditions import Due, conditions
from monitor.conditions.spells import Stay, stays
from monitor.history import Floats, History, cut, history_from_readings, series_from
from monitor.records import Event, Reading, make_event
from tests.conditions.cooks import faulty_cook, normal_cook, rule_of_thumb

START = 1_780_300_800.0


def steady(length_s: float, every_s: float = 1.0, noise_c: float = 0.2) -> tuple[Floats, Floats]:
    """A paste on its plateau, read every so often."""
    at = START + np.arange(0.0, length_s, every_s)
    value = 94.0 + np.random.default_rng(1).normal(0.0, noise_c, len(at))
    return at, np.round(value * 4.0) / 4.0


def paste_of(at: Floats, value: Floats, *events: Event, fault: str = "open circuit") -> History:
    faults = [(int(i), fault) for i in np.flatnonzero(np.isnan(value))]
    lid = make_event("lid", "lid on", START, START)
    logged = tuple(sorted([lid, *events], key=lambda event: event.measured))
    return History(START, float(at[-1]), {"paste": series_from("paste", "Cel", at, at, value, faults)}, logged)


def standing(history: History, now: float, due: Due | None = None) -> dict[str, str]:
    return {one.name: one.state for one in conditions(history, now, due)}


@pytest.mark.parametrize(("strange", "seed"), [(False, 3000), (False, 3001), (True, 3001), (True, 3005)])
def test_a_normal_cook_raises_nothing(strange: bool, seed: int) -> None:
    history, start, _ = normal_cook(strange, seed)
    for now in np.arange(start, history.as_of, 300.0).tolist():
        known = cut(history, now)
        assert conditions(known, now, rule_of_thumb(known, start)) == ()


@pytest.mark.parametrize(
    "fault",
    ["probe open", "probe shorted", "probe jumps", "impossible value", "no data", "near boil-over", "power cut"],
)
def test_a_fault_is_raised_within_a_minute(fault: str) -> None:
    made = faulty_cook(fault, False, 3001)
    assert made is not None
    before = cut(made.history, made.begins - 30.0)
    assert not conditions(before, before.as_of)
    soon = made.visible + 60.0
    assert set(standing(cut(made.history, soon), soon)) & set(made.expected)


def test_overdue_by_the_due_times_alone() -> None:
    history = paste_of(*steady(7200.0))
    now = history.as_of
    assert standing(history, now, Due(now - 3599.0, now - 1199.0)) == {}
    assert set(standing(history, now, Due(now - 3601.0, now - 1201.0))) == {"stir overdue", "check overdue"}


def test_who_stirs_often_is_missed_sooner() -> None:
    stirs = [make_event(f"s{i}", "stirred", START + 1800.0 * i, START + 1800.0 * i) for i in (1, 2, 3)]
    history = paste_of(*steady(10_000.0), *stirs)
    due = Due(START + 5400.0 + 2100.0)
    assert standing(history, START + 5400.0 + 3299.0, due) == {}
    assert standing(history, START + 5400.0 + 3301.0, due) == {"stir overdue": "unacknowledged"}


@pytest.mark.parametrize(("every_s", "limit_s"), [(1.0, 15.0), (10.0, 40.0), (60.0, 240.0)])
def test_silence_goes_by_the_usual_interval(every_s: float, limit_s: float) -> None:
    history = paste_of(*steady(7200.0, every_s))
    last = history.as_of
    assert standing(history, last + limit_s - 1.0) == {}
    assert standing(history, last + limit_s) == {"no data": "unacknowledged"}


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


def answered(history: History, kind: str, at_s: float, **fields: float | str) -> History:
    event = make_event(f"{kind} {at_s}", kind, START + at_s, START + at_s, fields)
    return replace(history, logged=tuple(sorted([*history.logged, event], key=lambda event: event.measured)))


def test_the_states_of_a_condition() -> None:
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


def test_what_went_away_unseen_is_shown_for_an_hour() -> None:
    name = "paste probe open"
    history = broken(till_s=4300.0)
    assert standing(history, START + 4299.0) == {name: "unacknowledged"}
    found = conditions(history, START + 4400.0)
    assert [(one.name, one.state, one.since, one.until) for one in found] == [
        (name, "returned unacknowledged", START + 4000.0, START + 4300.0)
    ]
    assert standing(history, START + 4300.0 + 3601.0) == {}
    seen = answered(history, "acknowledged", 4400.0, condition=name)
    assert standing(seen, START + 4401.0) == {}


def test_an_answer_holds_for_one_spell_only() -> None:
    at, value = steady(9000.0)
    elapsed = at - START
    twice = ((elapsed >= 4000.0) & (elapsed < 4300.0)) | (elapsed >= 5000.0)
    history = answered(
        paste_of(at, np.where(twice, np.nan, value)), "acknowledged", 4100.0, condition="paste probe open"
    )
    assert standing(history, START + 5010.0) == {"paste probe open": "unacknowledged"}


def test_a_long_spell_keeps_its_beginning() -> None:
    (found,) = conditions(broken(), START + 8999.0)
    assert found.since == START + 4000.0


def test_a_crackle_of_one_reading_is_nothing() -> None:
    at, value = steady(5000.0)
    value[4000] = np.nan
    history = paste_of(at, value)
    assert all(standing(history, START + s) == {} for s in (4000.5, 4001.0, 4010.0))


def test_what_the_probe_says_is_told() -> None:
    at, value = steady(5000.0)
    history = paste_of(at, np.where(at >= START + 4000.0, np.nan, value), fault="short to ground")
    (found,) = conditions(history, START + 4100.0)
    assert found.name == "paste probe shorted"
    assert "short to ground" in found.words


def test_frozen_by_what_the_probe_did_before() -> None:
    at, value = steady(9000.0)
    history = paste_of(at, np.where(at >= START + 8000.0, value[8000], value))
    assert standing(history, START + 8030.0) == {}
    assert standing(history, START + 8300.0) == {"paste probe frozen": "unacknowledged"}
    quiet = np.round(steady(9000.0, noise_c=0.01)[1])
    assert standing(paste_of(at, quiet), START + 8900.0) == {}


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


def test_a_lid_logged_off_and_left() -> None:
    history = answered(paste_of(*steady(9000.0)), "lid off", 5000.0)
    assert standing(history, START + 5599.0) == {}
    assert standing(history, START + 5600.0) == {"lid left off": "unacknowledged"}
    assert standing(answered(history, "lid on", 5700.0), START + 5701.0) == {}


def test_nothing_is_wrong_with_a_finished_cook() -> None:
    assert standing(answered(broken(), "finished", 8000.0), START + 8999.0) == {}


@given(
    st.lists(st.sampled_from([math.nan, -300.0, 0.0, 65.0, 94.0, 101.0, 1024.0, math.inf]), max_size=60),
    st.sampled_from([0.5, 10.0, 90.0]),
)
@settings(max_examples=80, deadline=None)
def test_no_readings_make_it_fail(values: list[float], every_s: float) -> None:
    readings = [
        Reading("paste", "Cel", START + every_s * i, START + every_s * i, None if math.isnan(v) else v, "x")
        for i, v in enumerate(values)
    ]
    history = history_from_readings(readings, [make_event("lid", "lid on", START, START)])
    for now in (START, START + 10.0, START + 10_000.0):
        conditions(history, now, Due(START, START))


def test_stays_keep_to_deadband_and_delays() -> None:
    at = np.arange(10.0)
    level = np.array([0, 5, 0, 5, 5, 5, 3, 5, 0, 0.0])
    found = stays(at, level >= 5, level <= 1, 2.0, 2.0, 10.0)
    # The lone 5 is too short, the 3 is inside the deadband, and two zeros end it.
    assert found == [Stay(3.0, 8.0)]
    assert stays(at, level >= 5, level <= 1, 2.0, 3.0, 10.0) == [Stay(3.0, None)]
