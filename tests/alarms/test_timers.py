"""The timers of a batch's steps: when they ring, what ends them, and that none rings for ever."""

import pytest

from monitor.alarms import UNACKNOWLEDGED, active_alarms, ringing_timers
from monitor.alarms.timers import RINGS_FOR_S, running_timers
from monitor.model import (
    PERSON_EVENTS,
    STEP_TIMERS,
    TIMER_NAMES,
    Event,
    History,
    Priority,
    history_from_readings,
    is_name,
    make_event,
    rank,
)

T0 = 1_773_480_000.0


def logged(*events: tuple[float, str, dict[str, object]]) -> History:
    """A history of events, each so many minutes after the start."""
    made = [
        make_event(f"event-{n:03}", kind, T0 + 60 * at, T0 + 60 * at, fields)
        for n, (at, kind, fields) in enumerate(events)
    ]
    return history_from_readings([], made)


def timer(at_min: float, step: str, minutes: float) -> tuple[float, str, dict[str, object]]:
    return (at_min, "timer set", {"step": step, "minutes": minutes})


def names(history: History, at_min: float) -> list[str]:
    return [alarm.name for alarm in ringing_timers(history, T0 + 60 * at_min)]


def test_it_rings_when_its_time_is_over_and_not_before() -> None:
    history = logged(timer(0, "oils", 10))
    assert names(history, 9.9) == [] and names(history, 10) == ["oils due"]
    (alarm,) = ringing_timers(history, T0 + 900)
    assert alarm.state == UNACKNOWLEDGED and alarm.since == T0 + 600 and "nothing solid" in alarm.words
    # Beside whatever else is wrong while the cook runs, and alone when it is over.
    assert "oils due" in [one.name for one in active_alarms(history, T0 + 900)]


def test_the_step_ends_it_early_and_taking_the_step_back_lets_it_run_again() -> None:
    done = logged(timer(0, "oils", 10), (7, "oils melted", {}))
    assert names(done, 20) == []
    assert names(logged(timer(0, "oils", 10)), 20) == ["oils due"]


def test_work_that_goes_on_while_it_runs_does_not_end_a_rest() -> None:
    rest = timer(0, "rest", 600)
    assert names(logged(rest, (5, "water added", {"grams": 100.0})), 601) == ["paste due"]
    assert names(logged(rest, (610, "water added", {"grams": 100.0})), 620) == []
    assert names(logged(rest, (300, "neutraliser added", {"reagent": "citric acid", "grams": 3.0})), 601) == []


def test_one_set_anew_replaces_the_one_before() -> None:
    again = logged(timer(0, "dose", 15), timer(10, "dose", 15))
    assert names(again, 20) == [] and names(again, 25) == ["reading due"]


def test_seen_ends_it_and_put_aside_it_comes_again() -> None:
    set_ = timer(0, "settling", 10_080)
    seen = logged(set_, (10_081, "acknowledged", {"condition": "settling due"}))
    assert names(seen, 10_090) == []
    aside = logged(set_, (10_081, "shelved", {"condition": "settling due", "minutes": 30.0}))
    states = [ringing_timers(aside, T0 + 60 * at)[0].state for at in (10_090, 10_112)]
    assert states == ["shelved", UNACKNOWLEDGED]
    # What was answered before it rang answered something else.
    early = logged(set_, (5, "acknowledged", {"condition": "settling due"}))
    assert names(early, 10_081) == ["settling due"]


def test_a_batch_whose_cook_is_over_has_no_alarm_but_its_timers() -> None:
    history = logged((0, "lid on", {}), (200, "finished", {}), timer(300, "dose", 15))
    assert active_alarms(history, T0 + 60 * 310) == ()
    assert [one.name for one in active_alarms(history, T0 + 60 * 316)] == ["reading due"]


def test_nothing_rings_for_years() -> None:
    history = logged(timer(0, "oils", 10))
    assert names(history, 10 + RINGS_FOR_S / 60 - 1) == ["oils due"]
    assert names(history, 10 + RINGS_FOR_S / 60 + 1) == []


@pytest.mark.parametrize(
    "fields", [{}, {"step": "tea", "minutes": 3.0}, {"step": "oils"}, {"step": "oils", "minutes": "x"}]
)
def test_a_recording_made_elsewhere_may_hold_anything(fields: dict[str, str | float]) -> None:
    assert running_timers([Event("elsewhere", "timer set", T0, T0, fields)], T0 + 60) == {}


def test_a_clock_that_was_ahead_sets_a_timer_that_does_not_run_yet() -> None:
    assert running_timers(logged(timer(60, "oils", 10)).events, T0) == {}


def test_each_has_a_name_of_its_own_that_is_due_and_is_ended_by_known_kinds() -> None:
    assert len(set(TIMER_NAMES)) == len(STEP_TIMERS)
    assert all(is_name(name) and rank(name)[0] is Priority.DUE for name in TIMER_NAMES)
    kinds = {kind for one in STEP_TIMERS.values() for kind in (*one.over_by, *one.answered_by)}
    assert kinds <= set(PERSON_EVENTS)
