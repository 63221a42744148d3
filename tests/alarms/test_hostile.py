"""Whatever a history holds, looking for what is wrong never fails."""

import math
from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.alarms.active import DueTimes, active_alarms
from monitor.model import Event, History, Reading, Series, history_from_readings, make_event, series_from
from tests.alarms.pots import START, paste_of, standing, steady

ODD = [math.nan, -300.0, 0.0, 65.0, 94.0, 101.0, 1024.0, math.inf, -math.inf, 1e308]
NOWS = (START, START + 10.0, START + 4000.0, START + 10_000.0)


@given(st.lists(st.sampled_from(ODD), max_size=60), st.sampled_from([0.0, 0.5, 10.0, 90.0]))
@settings(max_examples=80, deadline=None)
def test_no_values_make_it_fail(values: list[float], every_s: float) -> None:
    readings = [
        Reading("paste", "Cel", START + every_s * i, START + every_s * i, None if math.isnan(v) else v, "x")
        for i, v in enumerate(values)
    ]
    history = history_from_readings(readings, [make_event("lid", "lid on", START, START)])
    for now in NOWS:
        active_alarms(history, now, DueTimes(START, START))


moments = st.one_of(
    st.floats(START - 100.0, START + 9000.0), st.sampled_from([math.nan, math.inf, -math.inf, 0.0, 1e18, START])
)


@given(
    st.dictionaries(
        st.sampled_from(["paste", "wall", "rig/paste", "room", "ph"]),
        st.lists(st.tuples(moments, moments, st.sampled_from(ODD)), max_size=30),
    ),
    st.lists(st.tuples(st.sampled_from(["lid on", "lid off", "stirred", "checked", "heat", "shelved"]), moments)),
    st.booleans(),
)
@settings(max_examples=120, deadline=None)
def test_no_times_make_it_fail(
    channels: dict[str, list[tuple[float, float, float]]], events: list[tuple[str, float]], in_order: bool
) -> None:
    series: dict[str, Series] = {}
    for name, rows in channels.items():
        measured, known, value = np.array(rows, dtype=float).reshape(-1, 3).T
        # Series promises order; one that breaks the promise must not break this.
        make = series_from if in_order else Series
        with np.errstate(invalid="ignore"):
            series[name] = make(name, "V" if name == "ph" else "Cel", measured, known, value)
    logged = tuple(Event(str(i), kind, at, at, {"condition": "no data"}) for i, (kind, at) in enumerate(events))
    for now in NOWS:
        active_alarms(History(START, now, series, logged), now, DueTimes(START, START))


def test_readings_out_of_order_are_put_in_order() -> None:
    at, value = steady(7200.0)
    mixed = np.random.default_rng(4).permutation(len(at))
    history = paste_of(at, value)
    shuffled = replace(history, series={"paste": series_from("paste", "Cel", at[mixed], at[mixed], value[mixed])})
    assert standing(shuffled, START + 7199.0) == standing(history, START + 7199.0) == {}


def test_a_wall_probe_that_comes_late_or_never_is_nothing() -> None:
    at, value = steady(9000.0)
    late = at >= START + 6000.0
    wall = series_from("wall", "Cel", at[late], at[late], value[late] + 6.0)
    history = paste_of(at, value)
    both = replace(history, series={**history.series, "wall": wall})
    only_wall = replace(history, series={"wall": wall})
    for now in np.arange(START + 6000.0, START + 9000.0, 200.0).tolist():
        assert standing(history, now) == {}
        assert standing(both, now) == {}
        told = now >= START + 6000.0 + 120.0
        assert set(standing(only_wall, now)) == ({"no paste temperature"} if told else set())


def test_a_channel_in_another_unit_is_no_temperature() -> None:
    at, value = steady(4000.0)
    history = replace(paste_of(at, value), series={"paste": series_from("paste", "V", at, at, value)})
    assert set(standing(history, START + 3999.0)) == {"no paste temperature"}
    kelvin = replace(history, series={"paste": series_from("paste", "K", at, at, value + 273.15)})
    assert standing(kelvin, START + 3999.0) == {}


def test_no_moment_makes_it_fail() -> None:
    for now in (math.nan, -1.0, 0.0, START - 1e9, START + 1e9):
        active_alarms(paste_of(*steady(1000.0)), now, DueTimes(START, START))
