"""A cook before it is made: the forecast holds to the estimator, to a hand calculation, and to what a kitchen taught."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import cumulative_simpson

from monitor.estimation import (
    EA,
    LN_NEED,
    MIXING_FADE_S,
    MIXING_FLOORS,
    NEED_S,
    Costs,
    Estimator,
    Prior,
    cook_evidence,
    first_prior,
    fit_kitchen,
    forecast_cook,
)
from monitor.estimation.estimator import infer_state
from monitor.estimation.prior import pair_weights
from monitor.estimation.thermal import AHEAD_S
from monitor.model import Alkali, Batch, Event, History, Oil, series_from
from tests.estimation.test_learning import finished_cook

LID_ON = 1_773_484_800.0


def prior_at(need_place: int, floor_place: int) -> Prior:
    """A kitchen that knows its need and its mixing exactly, and cooks at 95 degC."""
    weight = np.zeros((len(LN_NEED), len(EA), len(MIXING_FLOORS), len(pair_weights())))
    weight[need_place, 2, floor_place] = pair_weights()
    return replace(first_prior(), weight=weight, plateau_c=95.0, plateau_sd_c=0.5)


def hand_calculated_clear_s(prior: Prior, need_s: float, ea_j_mol: float, floor: float) -> float:
    """Seconds from the lid to the need, by scipy's integrator along the expected temperature.

    ASTM C1074's equivalent age with the mean of the mixing factor over a stir interval s, which falls exponentially
    from 1 to the floor: f + (1 - f) (tau / s) (1 - exp(-s / tau)). R by CODATA 2018.
    """
    at = np.array([LID_ON])
    paste = series_from("paste", "Cel", at, at, np.array([75.0]))
    opening = History(LID_ON, LID_ON, {"paste": paste}, (Event("lid", "lid on", LID_ON, LID_ON),))
    paths = infer_state(opening, at, np.array([75.0]), LID_ON, LID_ON, prior).paths
    path_c = paths.weights @ paths.temperature_c
    ratio = MIXING_FADE_S / 2100.0
    mixing = floor + (1.0 - floor) * ratio * (1.0 - math.exp(-1.0 / ratio))

    elapsed_s = np.arange(0.0, 60_000.0, 10.0)
    kelvin = np.interp(elapsed_s, AHEAD_S, path_c) + 273.15
    rate = mixing * np.exp(-ea_j_mol / 8.314462618 * (1.0 / kelvin - 1.0 / 368.15))
    return float(np.interp(need_s, cumulative_simpson(rate, x=elapsed_s, initial=0), elapsed_s))


@pytest.mark.parametrize(("need_place", "floor_place"), [(30, 0), (35, 1), (40, 2)])
def test_the_clear_time_is_where_an_outside_integral_reaches_the_need(need_place: int, floor_place: int) -> None:
    prior = prior_at(need_place, floor_place)
    forecast = forecast_cook(prior, Costs(), None, LID_ON, 75.0)
    by_hand_s = hand_calculated_clear_s(
        prior, float(NEED_S[need_place]), float(EA[2]), float(MIXING_FLOORS[floor_place])
    )
    assert forecast is not None
    assert forecast.middle.clear_at - LID_ON == pytest.approx(by_hand_s, rel=0.02)


def test_the_clear_times_are_those_that_the_estimator_states_when_the_lid_goes_on() -> None:
    forecast = forecast_cook(first_prior(), Costs(), None, LID_ON, 75.0)
    at = np.array([LID_ON])
    paste = series_from("paste", "Cel", at, at, np.array([75.0]))
    history = History(LID_ON, LID_ON, {"paste": paste}, (Event("lid-on-now", "lid on", LID_ON, LID_ON),))
    stated = Estimator().estimate(history, LID_ON)
    assert forecast is not None
    assert tuple(course.clear_at for course in forecast.courses) == stated.clear_at
    assert forecast.middle.checks[0].at == stated.check_due


def test_each_course_is_stirred_on_time_and_ends_with_a_clear_check_after_its_clear_time() -> None:
    forecast = forecast_cook(first_prior(), Costs(stir_every_s=1800.0), None, LID_ON, 75.0)
    assert forecast is not None
    for course in forecast.courses:
        assert [at - LID_ON for at in course.stirs] == [1800.0 * n for n in range(1, len(course.stirs) + 1)]
        assert [check.result == "clear" for check in course.checks] == [False] * (len(course.checks) - 1) + [True]
        assert all(
            after.at - before.at >= 600.0 for before, after in zip(course.checks, course.checks[1:], strict=False)
        )
    assert len(forecast.early.checks) <= len(forecast.late.checks)
    assert 0.1 < forecast.first_clear < 0.9


def test_a_kitchen_that_has_learned_is_forecast_more_narrowly_and_needs_fewer_checks() -> None:
    cooks = [
        evidence for minutes in (176, 181, 178, 184, 179) if (evidence := cook_evidence(finished_cook(minutes, 165)))
    ]
    kitchen = fit_kitchen(cooks)
    forecast = forecast_cook(kitchen.prior(), Costs(), None, LID_ON, kitchen.start_c)
    first = forecast_cook(first_prior(), Costs(), None, LID_ON, 75.0)
    assert forecast is not None and first is not None
    assert forecast.cooks == 5 and forecast.first_clear > 0.6
    assert 150 * 60 < forecast.middle.clear_at - LID_ON < 200 * 60
    assert forecast.late.clear_at - forecast.early.clear_at < 0.6 * (first.late.clear_at - first.early.clear_at)
    assert len(forecast.late.checks) < len(first.late.checks)


def test_the_paste_s_temperature_under_the_lid_is_learned() -> None:
    # These cooks begin at 65 degC; what is usual counts as one cook more.
    lessons = [evidence for _ in range(2) if (evidence := cook_evidence(finished_cook(180, 165)))]
    assert [fit_kitchen(lessons[:n]).start_c for n in (0, 1, 2)] == pytest.approx([75.0, 70.0, 65.0], abs=0.2)


def test_a_paste_that_stays_cold_has_no_forecast() -> None:
    cold = replace(first_prior(), plateau_c=40.0, plateau_sd_c=1.0)
    assert forecast_cook(cold, Costs(), None, LID_ON, 40.0) is None


def test_a_batch_short_of_alkali_is_forecast_with_the_chance_that_it_never_comes_clear() -> None:
    short, ample = (
        forecast_cook(first_prior(), Costs(), Batch("x", (Oil("rapeseed", 600.0, 188.6),), alkali, 400.0), LID_ON, 75.0)
        for alkali in (Alkali("KOH", 0.9, -0.005), Alkali("KOH", 0.9, 0.05))
    )
    assert short is not None and ample is not None
    assert short.never_clear > 0.1 and ample.never_clear < 0.02
    assert short.middle.clear_at <= short.late.clear_at < LID_ON + 86_400.0
