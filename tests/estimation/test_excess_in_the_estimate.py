"""The alkali in the estimate: conversion bounded by it, shortage told, titrations and looks as evidence."""

import math
from collections.abc import Mapping

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad, solve_ivp

from monitor.estimation import Estimate, Estimator
from monitor.estimation.kinetics import clear_gain, damped_excess, second_order_converted
from monitor.estimation.observation import need_per_gram, titration_likelihood
from monitor.estimation.posterior import SHORT_BY_SAMPLES, SHORT_BY_WEIGHTS
from monitor.model import Alkali, Batch, Event, History, Oil, make_event, series_from

START = 1_773_484_800.0
OILS = (Oil("rapeseed", 600.0, 187.5),)


def event(kind: str, minute: float, **fields: object) -> Event:
    moment = START + 60.0 * minute
    return make_event(f"{kind} {minute}", kind, moment, moment, fields)


def cook(minutes: float, events: list[Event], excess: float = 0.03, grams: float | None = None) -> History:
    times = START + np.arange(0.0, 60.0 * minutes + 1.0, 15.0)
    values = 95.0 - 25.0 * np.exp(-(times - START) / 2400.0)
    stirs = [event("stirred", at) for at in np.arange(35.0, minutes, 35.0)]
    logged = sorted([event("lid on", 0.0), *stirs, *events], key=lambda e: e.measured)
    batch = Batch("Test", OILS, Alkali("KOH", 0.9, excess, grams=grams), 540.0)
    series = {"paste": series_from("paste", "Cel", times, times, values)}
    return History(START, float(times[-1]), series, tuple(logged), sheets=((START, batch),))


def estimate(
    minutes: float, events: list[Event] | None = None, excess: float = 0.03, grams: float | None = None
) -> Estimate:
    history = cook(minutes, events or [], excess, grams)
    return Estimator().estimate(history, START + 60.0 * minutes)


@pytest.mark.parametrize("excess", [-0.2, -0.05, -0.012])
def test_too_little_alkali_ends_where_scipy_says(excess: float) -> None:
    """Source: scipy.integrate.solve_ivp on the rate law itself."""
    gains = np.array([0.0, 2.0, 20.0, 200.0])
    solved = solve_ivp(
        lambda _, x: (1 - x) * (1 + excess - x), (0.0, 200.0), [0.1], t_eval=gains, rtol=1e-11, atol=1e-13
    )
    assert second_order_converted(gains, excess) == pytest.approx(solved.y[0], abs=1e-8)
    assert math.isinf(float(clear_gain(excess)))


@settings(max_examples=20)
@given(st.integers(20, 400), st.floats(-0.1, 0.12), st.floats(0.002, 0.05))
def test_more_alkali_never_shows_less_conversion_at_the_same_moment(minutes: int, excess: float, more: float) -> None:
    little, much = estimate(minutes, excess=excess), estimate(minutes, excess=excess + more)
    for a, b in zip(little.converted, much.converted, strict=True):
        assert a <= b + 1e-4


@pytest.mark.parametrize("excess", [-0.10, -0.06, -0.03])
def test_conversion_is_bounded_by_the_alkali(excess: float) -> None:
    late = estimate(900, excess=excess)
    assert late.excess is not None
    assert late.converted[1] <= 1.0 + late.excess[1] + 0.003
    assert late.converted[2] <= 1.0 + late.excess[2] + 0.005


def test_a_batch_weighed_short_is_told_so_and_promised_no_clear_time() -> None:
    # 600 g at 187.5 mg/g take 125 g of flakes of 90 %; 115 g are 8 % short.
    short = estimate(180, grams=115.0)
    assert SHORT_BY_WEIGHTS in short.reasons["check"]
    assert short.clear_at == (None, None, None)
    assert SHORT_BY_WEIGHTS not in estimate(180).reasons["check"]


def test_two_samples_that_contradict_a_sure_belief_blame_the_alkali() -> None:
    hazy = [event("checked", 400.0, result="hazy"), event("checked", 450.0, result="hazy")]
    assert estimate(400).chance_clear > 0.9
    assert SHORT_BY_SAMPLES in estimate(455, hazy).reasons["check"]
    assert SHORT_BY_SAMPLES not in estimate(425, [event("checked", 120.0, result="hazy")]).reasons["check"]


def test_the_damped_excess_needs_what_the_exponent_says() -> None:
    """Source: scipy.integrate.quad of the rate law's reciprocal."""

    def need(e: float) -> float:
        return float(quad(lambda x: 1.0 / ((1 - x) * (1 + e - x)), 0.1, 0.99)[0])

    for e in (-0.008, 0.0, 0.02, 0.08):
        damped = float(damped_excess(e, 0.65, need(0.03)))
        wanted = math.log(need(0.03)) + 0.65 * (math.log(need(e)) - math.log(need(0.03)))
        assert math.log(need(damped)) == pytest.approx(wanted, abs=1e-3)


def titrated(minute: float, left: float, acid_mol_l: float = 0.1) -> Event:
    """A sample of five grams of paste with this alkali left, as a fraction of the need."""
    need_g_per_g = need_per_gram(Batch("", OILS, Alkali("KOH", 0.9, 0.03), 540.0))
    acid_ml = 5.0 * left * need_g_per_g / 56.1056 * 1000.0 / acid_mol_l
    return event("titrated", minute, acid_ml=acid_ml, acid_mol_l=acid_mol_l, sample_g=5.0)


def test_a_gram_of_usual_paste_takes_the_acid_that_was_worked_out_by_hand() -> None:
    # 600 g of oil at 187.5 mg/g in 1268.75 g of paste (540 g of water, 128.75 g of flakes): 112.5 / 1268.75 g per g.
    per_gram = 112.5 / (600.0 + 540.0 + 112.5 / 0.9)
    for converted, acid_ml in ((0.97, 0.95), (0.99, 0.63)):
        left = 1.03 - converted
        assert left * per_gram / 56.1056 * 1000.0 / 0.1 == pytest.approx(acid_ml, abs=0.02)
        sample: Mapping[str, float] = {"acid_ml": acid_ml, "acid_mol_l": 0.1, "sample_g": 1.0}
        likelihood = titration_likelihood(event("titrated", 0.0, **sample), np.array([left, left + 0.03]), per_gram)
        assert likelihood[0] > 0.9 > 0.2 > likelihood[1]


def width(answer: Estimate) -> float:
    low, _, high = answer.clear_at
    assert low is not None and high is not None
    return high - low


def test_a_titration_narrows_the_clear_time_and_a_second_one_tells_the_excess() -> None:
    # A paste of 4.5 % excess whose sheet says 3 %, and which comes clear after 150 min at 95 degC by the plain law.
    at_100, at_160 = (
        1.045 - float(second_order_converted(minutes / 150.0 * clear_gain(0.045), 0.045))
        for minutes in ((estimate(at).equivalent_s or 0.0) / 60.0 for at in (100, 160))
    )
    none, one = estimate(165), estimate(165, [titrated(100.0, at_100)])
    two = estimate(165, [titrated(100.0, at_100), titrated(160.0, at_160)])
    assert width(one) < 0.9 * width(none) and width(two) < 0.7 * width(none)
    assert none.excess is not None and two.excess is not None
    assert abs(two.excess[1] - 0.045) < abs(none.excess[1] - 0.045)
    assert two.excess[2] - two.excess[0] < none.excess[2] - none.excess[0]


@pytest.mark.parametrize(("minutes", "words"), [(12, ("thin", "stiff", "patchy")), (75, ("patchy", "translucent"))])
def test_looks_move_the_estimate_in_their_order(minutes: int, words: tuple[str, ...]) -> None:
    middles = [estimate(minutes, [event("looked", minutes - 1.0, paste=word)]).converted[1] for word in words]
    assert middles == sorted(middles) and middles[0] < middles[-1]


def test_nearly_clear_lies_between_hazy_and_clear() -> None:
    def middle(result: str) -> float:
        moment = estimate(200, [event("checked", 195.0, result=result)]).clear_at[1]
        assert moment is not None
        return moment

    assert middle("clear") < middle("nearly clear") < middle("hazy") < middle("cloudy")


@pytest.mark.parametrize("minutes", [40, 120, 200])
def test_done_is_the_share_of_the_need_and_never_falls(minutes: int) -> None:
    now, later = estimate(minutes), estimate(minutes + 15)
    assert 0.0 < now.done[0] < now.done[1] <= now.done[2] <= 1.0
    assert all(b >= a - 1e-6 for a, b in zip(now.done, later.done, strict=True))
    # Conversion runs far ahead of the cooking that is done.
    assert now.done[1] < now.converted[1]


def test_the_stage_follows_the_cook() -> None:
    stages = [estimate(minutes).stage for minutes in (1, 20, 60, 120, 400)]
    order = ["thin", "stiff", "patchy", "translucent", "clear"]
    places = [order.index(stage) for stage in stages]
    assert places == sorted(places) and places[-1] == 4
