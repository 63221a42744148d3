"""The estimate: what must hold whatever the cook, and what wrong or hostile histories may do to it."""

import math
import re
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.estimation.clear_time import ClearTimeDistribution, clear_times_from
from monitor.estimation.estimate import Estimate
from monitor.estimation.estimator import Estimator
from monitor.estimation.explanations import CheckOutlook, check_reason
from monitor.estimation.prior import first_prior
from monitor.estimation.resample import BlockMedian
from monitor.estimation.scheduling import HEAT_LOST_MIN, Costs, optimal_check_time
from monitor.model import Alkali, Batch, Event, Floats, History, series_from

START = 1_773_484_800.0


def event(kind: str, minute: float, **fields: str | float) -> Event:
    moment = START + 60.0 * minute
    return Event(f"{kind} {minute} {sorted(fields.items())}", kind, moment, moment, fields)


def cook(
    minutes: float,
    events: Sequence[Event] = (),
    plateau_c: float = 95.0,
    step_s: float = 10.0,
    excess: float | None = None,
    shift_c: float = 0.0,
) -> History:
    """A cook that warms from 65 degC to its plateau with a lag of 40 minutes, lid on at START."""
    times = START + np.arange(0.0, 60.0 * minutes, step_s)
    values = plateau_c - (plateau_c - 65.0) * np.exp(-(times - START) / 2400.0) + shift_c
    batch = None if excess is None else Batch("Test", (), Alkali("KOH", 0.9, excess), 0.0)
    end = START + 60.0 * minutes
    every = sorted([event("lid on", 0.0), *events], key=lambda e: e.measured)
    return History(
        START,
        end,
        {"paste": series_from("paste", "Cel", times, times, values)},
        tuple(every),
        sheets=() if batch is None else ((START, batch),),
    )


def think(history: History, minute: float) -> Estimate:
    return Estimator().estimate(history, START + 60.0 * minute)


def stirs(every: float, until: float) -> list[Event]:
    return [event("stirred", minute) for minute in np.arange(every, until, every)]


def test_an_ordinary_cook_is_expected_clear_in_three_to_four_hours() -> None:
    """Common practice, no source: cooks are usually done in 3-4 h."""
    outlook = think(cook(120, stirs(35, 120)), 120)
    low, middle, high = outlook.clear_at
    assert low is not None and middle is not None and high is not None
    assert 180 < (middle - START) / 60 < 240
    assert low < middle < high
    assert outlook.stir_due == START + (105 + 35) * 60
    assert outlook.check_due is not None and outlook.check_due > START + 150 * 60


def test_before_anything_started_it_says_so() -> None:
    times = START + np.arange(0.0, 300.0)
    cold = History(START, times[-1], {"paste": series_from("paste", "Cel", times, times, np.full(300, 21.0))})
    outlook = Estimator().estimate(cold, START + 300)
    assert outlook.elapsed_s is None
    assert outlook.clear_at == (None, None, None)
    assert "lid" in outlook.reasons["stir"]


def test_a_paste_too_cold_to_finish_within_a_day_has_no_clear_time() -> None:
    outlook = think(cook(240, plateau_c=30.0, shift_c=-15.0), 240)
    assert outlook.clear_at == (None, None, None)
    assert outlook.check_due is None
    assert "within a day" in outlook.reasons["check"]


def test_the_heat_turned_off_for_good_leaves_no_clear_time_but_a_power_cut_is_expected_to_end() -> None:
    hot, off_at = cook(60), START + 3600.0
    times = START + np.arange(0.0, 5400.0, 10.0)
    values = np.interp(times, hot.series["paste"].measured, hot.series["paste"].value)
    values = np.where(times > off_at, 22.0 + (values[359] - 22.0) * np.exp(-(times - off_at) / 3600.0), values)
    series = {"paste": series_from("paste", "Cel", times, times, values)}
    told = History(START, times[-1], series, (event("lid on", 0.0), event("heat off", 60.0)))
    untold = History(START, times[-1], series, (event("lid on", 0.0),))
    assert think(told, 90).clear_at == (None, None, None)
    cut = think(untold, 90)
    undisturbed = think(cook(90), 90)
    assert cut.clear_at[1] is not None and undisturbed.clear_at[1] is not None
    assert cut.clear_at[1] > undisturbed.clear_at[1] + 900.0


def test_a_lid_that_is_off_is_not_believed_to_stay_off() -> None:
    hot = cook(60)
    times = START + np.arange(0.0, 4200.0, 10.0)
    full = np.interp(times, hot.series["paste"].measured, hot.series["paste"].value)
    values = np.where(
        times > START + 3600.0, 72.0 + (full[360] - 72.0) * np.exp(-(times - START - 3600.0) / 900.0), full
    )
    series = {"paste": series_from("paste", "Cel", times, times, values)}
    off = History(START, times[-1], series, (event("lid on", 0.0), event("lid off", 60.0)))
    outlook = think(off, 70)
    assert outlook.ahead.middle_c[-1] > 88.0
    assert outlook.clear_at[1] is not None


def test_hazy_says_later_than_nothing_and_cloudy_later_still() -> None:
    times = [
        think(cook(200, [*stirs(35, 200), *extra]), 200).clear_at[1]
        for extra in ([], [event("checked", 190, result="hazy")], [event("checked", 190, result="cloudy")])
    ]
    plain, hazy, cloudy = times
    assert plain is not None and hazy is not None and cloudy is not None
    assert plain < hazy < cloudy


def test_after_a_clear_check_nothing_more_is_due() -> None:
    outlook = think(cook(220, [*stirs(35, 200), event("checked", 210, result="clear")]), 220)
    assert (outlook.stir_due, outlook.check_due) == (None, None)
    assert outlook.converted[1] > 0.985


def test_it_never_nags_within_ten_minutes_of_a_check_that_was_not_clear() -> None:
    for result in ("hazy", "cloudy"):
        due = think(cook(300, [*stirs(35, 300), event("checked", 299, result=result)]), 300).check_due
        assert due is not None and due >= START + 309 * 60


minutes = st.integers(30, 400)


@settings(max_examples=25)
@given(minutes, st.floats(0.5, 8.0))
def test_hotter_is_never_later(minute: int, hotter_c: float) -> None:
    cool, hot = think(cook(minute), minute), think(cook(minute, shift_c=hotter_c), minute)
    for a, b in zip(hot.clear_at, cool.clear_at, strict=True):
        assert b is None or (a is not None and a <= b + 60.0)
    assert all(a >= b - 1e-9 for a, b in zip(hot.converted, cool.converted, strict=True))


@settings(max_examples=25)
@given(st.integers(60, 400), st.sets(st.integers(1, 59), max_size=4), st.integers(1, 59))
def test_more_stirring_is_never_later(minute: int, stirred: set[int], extra: int) -> None:
    few = think(cook(minute, [event("stirred", m) for m in sorted(stirred)]), minute)
    more = think(cook(minute, [event("stirred", m) for m in sorted({*stirred, extra})]), minute)
    for a, b in zip(more.clear_at, few.clear_at, strict=True):
        # With too little alkali a clear time may not be promised at all.
        assert b is None or (a is not None and a <= b + 1.0)


@settings(max_examples=25)
@given(minutes, st.floats(0.0, 0.1), st.floats(0.001, 0.05))
def test_more_alkali_excess_is_never_later(minute: int, excess: float, more: float) -> None:
    little = think(cook(minute, excess=excess), minute)
    much = think(cook(minute, excess=excess + more), minute)
    for a, b in zip(much.clear_at, little.clear_at, strict=True):
        # With too little alkali a clear time may not be promised at all.
        assert b is None or (a is not None and a <= b + 1.0)


@settings(max_examples=25)
@given(st.integers(60, 400), st.integers(10, 59), st.sampled_from(["hazy", "cloudy"]), st.booleans())
def test_a_clear_check_never_lowers_converted(minute: int, at: int, before: str, with_before: bool) -> None:
    earlier = [event("checked", at - 5, result=before)] if with_before else []
    without = think(cook(minute, earlier), minute)
    having = think(cook(minute, [*earlier, event("checked", at, result="clear")]), minute)
    assert all(a >= b - 1e-9 for a, b in zip(having.converted, without.converted, strict=True))


@settings(max_examples=20)
@given(st.lists(st.integers(1, 1200), max_size=6), st.integers(60, 200))
def test_fed_in_portions_it_answers_as_from_the_whole(cuts: list[int], minute: int) -> None:
    whole = cook(minute, stirs(35, minute))
    series = whole.series["paste"]
    grown = Estimator()
    for n in sorted({min(c, len(series)) for c in cuts}):
        part = series_from("paste", "Cel", series.measured[:n], series.known[:n], series.value[:n])
        moment = float(part.measured[-1])
        known = tuple(e for e in whole.events if e.measured <= moment)
        grown.estimate(History(START, moment, {"paste": part}, known), moment)
    assert grown.estimate(whole, START + 60.0 * minute) == think(whole, minute)


@settings(max_examples=50)
@given(st.lists(st.floats(-400, 900) | st.just(math.nan), min_size=1, max_size=200), st.integers(1, 50))
def test_blocks_do_not_depend_on_the_portions(values: list[float], portion: int) -> None:
    times = np.array([START + 7.0 * i for i in range(len(values))])
    whole, parts = BlockMedian(), BlockMedian()
    assert whole.extend(times, np.array(values))
    for i in range(0, len(values), portion):
        assert parts.extend(times[i : i + portion], np.array(values[i : i + portion]))
    for a, b in zip(whole.arrays(), parts.arrays(), strict=True):
        assert np.array_equal(a, b)


def test_a_reading_that_came_late_is_taken_in_its_place() -> None:
    whole = cook(100)
    series = whole.series["paste"]
    hole = np.ones(len(series), dtype=bool)
    hole[100:400] = False
    gappy = series_from("paste", "Cel", series.measured[hole], series.known[hole], series.value[hole])
    forecaster = Estimator()
    wide = forecaster.estimate(History(START, whole.as_of, {"paste": gappy}, whole.events), START + 6000)
    assert forecaster.estimate(whole, START + 6000) == think(whole, 100)
    assert "missing" in wide.reasons["check"]


def width_s(outlook: Estimate) -> float:
    low, _, high = outlook.clear_at
    assert low is not None and high is not None
    return high - low


def test_an_hour_without_readings_makes_the_answer_wider_and_says_why() -> None:
    whole = cook(180)
    series = whole.series["paste"]
    hole = (series.measured < START + 3600) | (series.measured > START + 7200)
    gappy = series_from("paste", "Cel", series.measured[hole], series.known[hole], series.value[hole])
    outlook = think(History(START, whole.as_of, {"paste": gappy}, whole.events), 180)
    assert width_s(outlook) > width_s(think(whole, 180))
    assert "missing" in outlook.reasons["check"]


def test_no_reading_at_all_is_answered_wide_not_refused() -> None:
    blind = think(History(START, START + 7200, logged=(event("lid on", 0.0),)), 120)
    assert width_s(blind) > 1.1 * width_s(think(cook(120), 120))
    assert blind.temperature_c is None


def test_a_probe_that_jumps_400_degrees_changes_nothing() -> None:
    whole = cook(120)
    series = whole.series["paste"]
    value = series.value.copy()
    value[200:203] += 400.0
    value[300] = math.nan
    jumpy = History(
        START, whole.as_of, {"paste": series_from("paste", "Cel", series.measured, series.known, value)}, whole.events
    )
    for a, b in zip(think(jumpy, 120).clear_at, think(whole, 120).clear_at, strict=True):
        assert a == pytest.approx(b, abs=30.0)


def test_a_probe_pulled_out_for_three_minutes_does_not_cool_the_paste() -> None:
    whole = cook(120)
    series = whole.series["paste"]
    value = series.value.copy()
    value[300:318] = 21.0
    pulled = History(
        START, whole.as_of, {"paste": series_from("paste", "Cel", series.measured, series.known, value)}, whole.events
    )
    for a, b in zip(think(pulled, 120).clear_at, think(whole, 120).clear_at, strict=True):
        assert a == pytest.approx(b, abs=300.0)


def test_contradictory_checks_widen_the_answer_and_are_named() -> None:
    checks = [event("checked", 180, result="clear"), event("checked", 190, result="cloudy")]
    outlook = think(cook(200, checks), 200)
    assert width_s(outlook) > width_s(think(cook(200, checks[:1]), 200))
    assert "contradict" in outlook.reasons["check"]


def test_a_check_from_before_the_lid_went_on_is_left_out_and_named() -> None:
    outlook = think(cook(120, [event("checked", -5, result="clear")]), 120)
    assert outlook.check_due is not None
    assert "before the cook's start" in outlook.reasons["check"]


@settings(max_examples=60)
@given(
    st.lists(st.tuples(st.floats(-3000, 30_000), st.floats(allow_nan=True, allow_infinity=True)), max_size=60),
    st.lists(
        st.tuples(
            st.sampled_from(["lid on", "lid off", "stirred", "heat off", "thick trace", "finished", "note"]),
            st.floats(-100, 600),
        ),
        max_size=8,
    ),
    st.lists(st.tuples(st.sampled_from(["clear", "hazy", "cloudy"]), st.floats(-100, 600)), max_size=4),
    st.floats(-10, 700) | st.none(),
)
def test_no_history_makes_it_raise(
    readings: list[tuple[float, float]],
    events: list[tuple[str, float]],
    checks: list[tuple[str, float]],
    asked_minute: float | None,
) -> None:
    # None: at the very moment of the last reading, with a check at the same moment.
    minute = asked_minute if asked_minute is not None else max((t for t, _ in readings), default=0.0) / 60.0
    if asked_minute is None:
        checks = [*checks, ("hazy", minute)]
    times = START + np.array([t for t, _ in readings], dtype=float)
    values = np.array([v for _, v in readings], dtype=float)
    logged = [event(kind, at) for kind, at in events] + [event("checked", at, result=r) for r, at in checks]
    history = History(
        START - 3600,
        START + 60.0 * minute,
        {"paste": series_from("paste", "Cel", times, times, values)} if readings else {},
        tuple(sorted(logged, key=lambda e: e.measured)),
    )
    outlook = think(history, minute)
    low, middle, high = outlook.converted
    assert 0.0 <= low <= middle <= high <= 1.0
    finite = [moment for moment in outlook.clear_at if moment is not None]
    assert finite == sorted(finite)


class SharpEye:
    """Sees clear exactly when it is, and nothing more."""

    def chances(self, checked: Floats, clear_at: Floats) -> tuple[Floats, Floats]:
        clear = (checked[:, None] >= clear_at[None, :]).astype(np.float64)
        return clear, 1.0 - clear


def test_the_best_check_is_the_one_an_exhaustive_search_finds() -> None:
    """Two clear times known exactly: the cheapest plan is found by trying every pair of checks."""
    times, weights = np.array([START + 9000.0, START + 12000.0]), np.array([0.7, 0.3])
    costs = Costs()

    def plan(first: float, second: float) -> float:
        total = 0.0
        for moment, weight in zip(times, weights, strict=True):
            end = first if moment <= first else second
            each = costs.check_min + HEAT_LOST_MIN
            total += weight * (each * (1 if moment <= first else 2) + (end - moment) / 60.0)
        return total

    grid = START + np.arange(0.0, 12_600.0, 60.0)
    best = min(plan(a, b) for a in grid for b in grid if b >= max(a + 600.0, times[1]) and a >= times[0])
    due = optimal_check_time(clear_times_from(times, weights, START), SharpEye(), START, costs)
    assert due is not None
    assert min(plan(due, b) for b in grid if b >= max(due + 600.0, times[1])) <= best + 3.0


@settings(max_examples=20)
@given(st.integers(30, 300))
def test_converted_never_falls_while_nothing_is_observed(minute: int) -> None:
    whole = cook(300, stirs(35, 300))
    forecaster = Estimator()
    before = think(whole, minute).converted
    after = forecaster.estimate(whole, START + 60.0 * (minute + 20)).converted
    assert all(b >= a for a, b in zip(before, after, strict=True))


def middle(outlook: Estimate) -> float:
    assert outlook.clear_at[1] is not None
    return outlook.clear_at[1]


def test_how_the_paste_looks_and_its_ph_are_weak_evidence() -> None:
    plain = middle(think(cook(150, stirs(35, 150)), 150))
    translucent = middle(think(cook(150, [*stirs(35, 150), event("looked", 75, paste="translucent")]), 150))
    opaque = middle(think(cook(150, [*stirs(35, 150), event("looked", 145, paste="opaque")]), 150))
    assert translucent < plain < opaque
    cloudy = middle(think(cook(150, [*stirs(35, 150), event("checked", 145, result="cloudy")]), 150))
    assert opaque < cloudy
    high = event("ph read", 145, ph=12.2, sample_percent=1.0, temperature_c=25.0)
    low = event("ph read", 145, ph=10.3, sample_percent=1.0, temperature_c=25.0)
    assert middle(think(cook(150, [*stirs(35, 150), high]), 150)) > middle(
        think(cook(150, [*stirs(35, 150), low]), 150)
    )


def test_a_ph_read_in_hot_undiluted_paste_says_nothing() -> None:
    hot = event("ph read", 145, ph=12.2, temperature_c=95.0)
    strong = event("ph read", 145, ph=12.2, sample_percent=100.0, temperature_c=25.0)
    plain = middle(think(cook(150, stirs(35, 150)), 150))
    for odd in (hot, strong):
        assert middle(think(cook(150, [*stirs(35, 150), odd]), 150)) == pytest.approx(plain, abs=1.0)


def test_heat_turned_down_for_good_makes_it_later_and_is_believed() -> None:
    hot = cook(220)
    times, full = hot.series["paste"].measured, hot.series["paste"].value
    down = np.where(
        times > START + 3600.0, 82.0 + (full[360] - 82.0) * np.exp(-(times - START - 3600.0) / 2400.0), full
    )
    turned = History(START, hot.as_of, {"paste": series_from("paste", "Cel", times, times, down)}, hot.events)
    outlook = think(turned, 220)
    assert outlook.ahead.middle_c[12] < 88.0
    assert middle(outlook) > middle(think(hot, 220)) + 1800.0


def test_after_a_power_cut_and_return_the_plateau_is_expected_again() -> None:
    hot = cook(150)
    times, full = hot.series["paste"].measured, hot.series["paste"].value
    cut = np.where(times > START + 4800.0, 22.0 + (full[480] - 22.0) * np.exp(-(times - START - 4800.0) / 5400.0), full)
    low = float(cut[660])
    back = np.where(times > START + 6600.0, 95.0 - (95.0 - low) * np.exp(-(times - START - 6600.0) / 2400.0), cut)
    outlook = think(
        History(START, hot.as_of, {"paste": series_from("paste", "Cel", times, times, back)}, hot.events), 150
    )
    assert outlook.ahead.middle_c[-1] > 90.0
    assert middle(think(hot, 150)) + 600.0 < middle(outlook) < middle(think(hot, 150)) + 5400.0


def test_the_common_practice_stands_beside_the_next_check() -> None:
    outlook = think(cook(200, [*stirs(35, 200), event("checked", 190, result="hazy")]), 200)
    assert "hazy; common practice is to look again 30 minutes" in outlook.reasons["check"]


def test_the_reason_of_a_check_says_what_is_weighed() -> None:
    reason = think(cook(150, stirs(35, 150)), 150).reasons["check"]
    weighed = r"Weighed: 15 minutes of work for a check, 0\.25 for a minute over-cooked\."
    sooner = "It comes a little sooner while this kitchen is new: a sample not yet clear teaches most."
    assert re.fullmatch(rf"[3-6] in 10 chance of clear then\. {weighed} {sooner}", reason)
    known = replace(first_prior(), bracketed=8)
    told = Estimator(known).estimate(cook(150, stirs(35, 150)), START + 9000.0).reasons["check"]
    assert re.fullmatch(rf"[6-9] in 10 chance of clear then\. {weighed}", told)
    own = event("costs set", 20, check_min=1.0, overcook_per_min=0.5)
    assert "1 minute of work for a check, 0.5 for" in think(cook(150, [own, *stirs(35, 150)]), 150).reasons["check"]


def test_costs_that_were_set_for_the_cook_move_its_check_and_its_stirs() -> None:
    dear = event("costs set", 20, overcook_per_min=2.0, stir_every_min=50.0)
    plain, own = think(cook(150, stirs(35, 150)), 150), think(cook(150, [dear, *stirs(35, 150)]), 150)
    assert plain.check_due is not None and own.check_due is not None
    assert own.check_due < plain.check_due - 600.0
    assert own.stir_due == START + (140 + 50) * 60
    later = think(cook(150, [event("costs set", 160, overcook_per_min=2.0), *stirs(35, 150)]), 150)
    assert later.check_due == plain.check_due


def test_nearly_clear_is_not_clear_but_many_call_it_done() -> None:
    outlook = think(cook(230, [*stirs(35, 220), event("checked", 225, result="nearly clear")]), 230)
    assert outlook.stir_due is not None
    assert outlook.check_due is not None and outlook.check_due >= START + 235 * 60
    assert "nearly clear, which many call done (common practice, no source)" in outlook.reasons["check"]


NEVER = ClearTimeDistribution(START, np.linspace(0.0, 0.4, 100))
CAVEAT = "Alkali may be short."


@pytest.mark.parametrize(
    ("check", "said"),
    [
        (CheckOutlook(None, False, False, False, None, Costs()), "comes clear within a day is 4 in 10. "),
        (CheckOutlook(None, True, False, False, None, Costs()), "would not come clear within a day. "),
        (CheckOutlook(None, False, True, False, "clear", Costs()), "The last sample read clear. "),
        (CheckOutlook(None, False, False, True, None, Costs()), "The cook is finished. "),
        (CheckOutlook(START + 60.0, False, False, False, "hazy", Costs()), "30 minutes after it. "),
    ],
)
def test_caveats_are_told_whatever_is_due(check: CheckOutlook, said: str) -> None:
    assert check_reason(NEVER, START, check, (CAVEAT,)).endswith(f"{said}{CAVEAT}")


def test_a_batch_that_may_never_come_clear_has_no_check_and_is_told_why() -> None:
    usual = first_prior()
    # Whatever the grid: all belief on the greatest need, some fifteen hours at 95 degC.
    weight = np.zeros_like(usual.weight)
    weight[-1] = usual.weight.sum(axis=0) / usual.weight.sum()
    warm = cook(60, stirs(35, 60), plateau_c=78.0)
    outlook = Estimator(replace(usual, weight=weight, plateau_c=78.0, plateau_sd_c=0.5)).estimate(warm, START + 3600.0)
    assert outlook.check_due is None and outlook.clear_at == (None, None, None)
    assert outlook.stir_due is not None
    said = "No check is planned: the chance that it comes clear within a day is less than 1 in 10."
    assert outlook.reasons["check"] == said


def test_caveats_of_the_kitchen_are_told_with_those_of_the_cook() -> None:
    outlook = Estimator(caveats=(CAVEAT,)).estimate(cook(100), START + 6000.0)
    assert outlook.reasons["check"].endswith(f" {CAVEAT}")


def before_lid(*events: Event, minute: float = 40.0) -> Estimate:
    whole = cook(60)
    history = History(START, START + 60.0 * minute, whole.series, events)
    return Estimator().estimate(history, START + 60.0 * minute)


@pytest.mark.parametrize(
    ("events", "missing"),
    [
        ([event("lye in", 1)], "Log thick trace"),
        ([event("lye in", 1), event("thick trace", 15)], "Log the lid when it goes on; the cook counts from there."),
        ([event("thick trace", 15)], "Log the lid"),
    ],
)
def test_before_the_lid_there_is_no_progress_and_no_stir(events: list[Event], missing: str) -> None:
    outlook = before_lid(*events)
    assert outlook.elapsed_s is None and outlook.equivalent_s is None
    assert outlook.converted == outlook.done == (0.0, 0.0, 0.0)
    assert outlook.clear_at == (None, None, None) and outlook.chance_clear == 0.0
    assert outlook.stir_due is None and outlook.check_due is None
    assert outlook.reasons["stir"].startswith(missing)
    assert outlook.temperature_c is not None


def test_a_cook_whose_lid_was_not_logged_begins_half_an_hour_after_thick_trace_though_no_reading_comes() -> None:
    logged = (event("thick trace", 5),)
    silent = History(START, START + 600.0, {}, logged)
    assert Estimator().estimate(silent, START + 2000.0).elapsed_s is None
    assert Estimator().estimate(silent, START + 2100.0).elapsed_s == 1800.0


def test_readings_every_five_minutes_are_no_gaps() -> None:
    outlook = think(cook(180, stirs(35, 180), step_s=300.0), 180)
    assert "missing" not in outlook.reasons["check"]
    assert middle(outlook) == pytest.approx(middle(think(cook(180, stirs(35, 180)), 180)), abs=600.0)


@pytest.mark.parametrize("step_s", [1.0, 10.0, 30.0, 60.0])
def test_a_question_at_the_moment_of_a_reading_and_a_check_is_answered(step_s: float) -> None:
    whole = cook(180, [*stirs(35, 180), event("checked", 179, result="hazy")], step_s=step_s)
    last = float(whole.series["paste"].measured[-1])
    checked = event("checked", (last - START) / 60.0, result="hazy")
    history = History(START, last, whole.series, (*whole.events, checked))
    assert middle(Estimator().estimate(history, last)) > last
