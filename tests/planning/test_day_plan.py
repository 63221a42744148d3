"""The planned day: its hours, what has passed, the latest start, and the calendar as an outside reader has it."""

import time
from datetime import UTC, datetime, timedelta

import icalendar
import pytest

from monitor.chemistry import OutOfRangeError
from monitor.estimation import CookForecast, Costs, first_prior, forecast_cook
from monitor.model import local
from monitor.planning import DayPlan, PlanError, clear_by_for_bottles, latest_start, plan_day

# Saturday, 14 March 2026, 12:00 in UTC.
NOON = 1_773_489_600.0
HOUR = 3600.0


def forecast_at(lid_on: float) -> CookForecast:
    found = forecast_cook(first_prior(), Costs(), None, lid_on, 75.0)
    assert found is not None
    return found


@pytest.fixture(scope="module")
def plan() -> DayPlan:
    return plan_day(forecast_at(NOON + 2 * HOUR), "Hand soap; olive, coconut", now=NOON, prepare_min=45.0)


def test_the_steps_follow_each_other_from_the_oils_to_the_bottles(plan: DayPlan) -> None:
    kinds = list(dict.fromkeys(step.kind for step in plan.steps))
    assert kinds == ["prepare", "lid on", "stir", "check", "dilute", "look", "bottle"]
    assert plan.start == plan.lid_on - 45 * 60.0
    assert [step.at for step in plan.steps] == sorted(step.at for step in plan.steps)
    assert all(step.until >= step.at for step in plan.steps)


def test_the_paste_rests_a_night_and_the_soap_a_week(plan: DayPlan) -> None:
    look = next(step for step in plan.steps if step.kind == "look")
    bottle = next(step for step in plan.steps if step.kind == "bottle")
    assert look.at - plan.diluted_at >= 8 * HOUR and local(look.at).hour == 9
    assert (local(bottle.at).date() - local(look.at).date()).days == 7 and local(bottle.at).hour == 9


def test_a_visit_is_counted_once_for_a_stir_and_a_check_together(plan: DayPlan) -> None:
    early, usual, late = plan.visits
    stirs = sum(step.kind == "stir" for step in plan.steps)
    assert early <= usual <= late
    assert late <= stirs + sum(step.kind == "check" for step in plan.steps)
    assert plan.longest_away_s <= 2100.0 + 420.0


def test_what_only_a_late_cook_takes_is_told_apart(plan: DayPlan) -> None:
    for step in plan.steps:
        if step.kind == "stir":
            # A stir after the clear check of a usual cook is one of a late cook's.
            done = next(one.at for one in plan.steps if one.kind == "dilute")
            assert (step.need == "perhaps") == (step.at >= done - 15 * 60.0)


def test_the_latest_start_is_clear_in_nine_of_ten_and_a_minute_later_is_not() -> None:
    by = NOON + 12 * HOUR
    start = latest_start(forecast_at, by, now=NOON, prepare_min=45.0)
    assert by - 60.0 <= forecast_at(start + 45 * 60.0).late.clear_at <= by
    assert start % 60.0 == 0.0


def test_times_that_have_passed_are_refused_in_one_sentence() -> None:
    with pytest.raises(PlanError, match=r"the start, Saturday 14 March, .* has passed; it is Saturday 14 March"):
        plan_day(forecast_at(NOON), "Soap", now=NOON)
    with pytest.raises(PlanError, match="in nine cooks of ten it has to start at"):
        latest_start(forecast_at, NOON + HOUR, now=NOON)


def test_a_start_of_this_very_minute_has_not_passed() -> None:
    assert plan_day(forecast_at(NOON + 45 * 60.0 - 59.0), "Soap", now=NOON).start < NOON


@pytest.mark.parametrize(("prepare_min", "rest_days"), [(1.0, 7.0), (45.0, -1.0), (45.0, 61.0)])
def test_lengths_are_held_to_their_ranges(prepare_min: float, rest_days: float) -> None:
    with pytest.raises(OutOfRangeError):
        plan_day(forecast_at(NOON + 2 * HOUR), "Soap", now=NOON, prepare_min=prepare_min, rest_days=rest_days)


def test_bottles_on_a_day_mean_clear_in_the_evening_eight_days_before() -> None:
    clear_by = local(clear_by_for_bottles(NOON + 10 * 86_400.0))
    assert (clear_by.hour, clear_by.date()) == (22, local(NOON + 2 * 86_400.0).date())


def test_an_outside_reader_understands_the_calendar(plan: DayPlan) -> None:
    # The package icalendar reads and checks RFC 5545.
    calendar = icalendar.Calendar.from_ical(plan.calendar)
    dates = calendar.walk("VEVENT")
    assert calendar.errors == [] and all(date.errors == [] for date in dates)
    wanted = [step for step in plan.steps if step.need != "perhaps"]
    assert [date.decoded("DTSTART") for date in dates] == [
        datetime.fromtimestamp(step.at, UTC).replace(microsecond=0) for step in wanted
    ]
    assert len({date["UID"] for date in dates}) == len(dates)
    assert str(dates[0]["SUMMARY"]) == f"Hand soap; olive, coconut: {wanted[0].what}"
    assert all(date.walk("VALARM")[0].decoded("TRIGGER") == timedelta(0) for date in dates)
    assert all(len(line.encode()) <= 75 for line in plan.calendar.split("\r\n"))


def test_the_hour_of_the_bottles_stays_when_the_clocks_are_changed(monkeypatch: pytest.MonkeyPatch) -> None:
    # A zone whose clocks go forward on the last Sunday of March, as POSIX writes it; 29 March in 2026.
    monkeypatch.setenv("TZ", "CET-1CEST,M3.5.0,M10.5.0/3")
    time.tzset()
    try:
        plan = plan_day(forecast_at(NOON + 10 * 86_400.0), "Soap", now=NOON)
        look = next(step for step in plan.steps if step.kind == "look")
        bottle = next(step for step in plan.steps if step.kind == "bottle")
        assert local(look.at).utcoffset() != local(bottle.at).utcoffset()
        assert (local(look.at).hour, local(bottle.at).hour) == (9, 9)
    finally:
        monkeypatch.undo()
        time.tzset()
