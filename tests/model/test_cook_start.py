"""When a cook begins, by what was logged and by the paste's temperature."""

import numpy as np
import pytest

from monitor.model import Event, History, cook_start, series_from

START = 1_773_484_800.0


def event(kind: str, minute: float) -> Event:
    moment = START + 60.0 * minute
    fields = {"result": "cloudy"} if kind == "checked" else {}
    return Event(f"{kind} {minute}", kind, moment, moment, fields)


def begun_min(*logged: tuple[str, float], now_min: float = 100.0, warm: bool = True) -> float | None:
    """The start in minutes from START; the paste is above 60 degC from minute 10 on, or never."""
    times = START + np.arange(0.0, 60.0 * now_min, 30.0)
    value = np.where(times >= START + 600.0, 70.0 if warm else 50.0, 40.0)
    series = {"paste": series_from("paste", "Cel", times, times, value)}
    events = tuple(event(kind, minute) for kind, minute in logged if minute <= now_min)
    start = cook_start(History(START, START + 60.0 * now_min, series, events))
    return None if start is None else (start - START) / 60.0


@pytest.mark.parametrize(
    ("logged", "begun"),
    [
        ([], 10.0),
        ([("stirred", 5.0)], 10.0),
        ([("lye in", 1.0)], None),
        ([("lid on", 30.0)], 30.0),
        ([("lye in", 1.0), ("thick trace", 20.0), ("lid on", 30.0), ("stirred", 60.0)], 30.0),
        ([("lid on", 5.0), ("thick trace", 20.0)], 5.0),
        ([("lye in", 1.0), ("thick trace", 20.0), ("stirred", 40.0)], 20.0),
        ([("lye in", 1.0), ("checked", 60.0)], 10.0),
        ([("lye in", 20.0), ("stirred", 60.0)], 20.0),
        ([("lye in", 20.0), ("stirred", 15.0)], None),
        ([("thick trace", 95.0), ("stirred", 96.0)], 95.0),
        # Stirred while blending, before thick trace: that is no sign of a lid.
        ([("thick trace", 95.0), ("stirred", 90.0)], None),
    ],
)
def test_the_start_by_what_was_logged(logged: list[tuple[str, float]], begun: float | None) -> None:
    assert begun_min(*logged) == begun


def test_thick_trace_without_a_lid_is_the_start_after_half_an_hour() -> None:
    logged = (("lye in", 1.0), ("thick trace", 20.0))
    assert begun_min(*logged, now_min=49.9) is None
    assert begun_min(*logged, now_min=50.0) == 20.0
    # The lid was logged after all.
    assert begun_min(*logged, ("lid on", 55.0), now_min=60.0) == 55.0


def test_a_cold_paste_that_nobody_logged_has_not_begun() -> None:
    assert begun_min(warm=False) is None
    assert begun_min(("lye in", 1.0), ("stirred", 60.0), warm=False) is None


def test_the_moment_asked_for_goes_before_the_last_one_known() -> None:
    history = History(START, START, {}, (event("thick trace", 0.0),))
    assert cook_start(history) is None
    assert cook_start(history, START + 1800.0) == START
