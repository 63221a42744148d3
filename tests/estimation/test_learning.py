"""Learning from a kitchen's own cooks."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import minimize
from scipy.stats import norm

from monitor.estimation.excess_grid import excess_grid
from monitor.estimation.kinetics import CLEAR_RESIDUAL, law_converted
from monitor.estimation.learning import CookEvidence, cook_evidence, fit_kitchen
from monitor.estimation.observation import CLEAR_NOISE, HAZY_NOISE, HAZY_RESIDUAL, MISREAD_CHANCE, check_likelihood
from monitor.estimation.prior import EA, LN_NEED, MIXING_FLOORS, first_prior
from monitor.model import Alkali, Batch, Event, History, series_from

START = 1_773_484_800.0


def finished_cook(
    clear_min: float, hazy_min: float | None = None, excess: float = 0.03, holes: bool = False, plateau_c: float = 95.0
) -> History:
    times = START + np.arange(0.0, 60.0 * clear_min + 60.0, 10.0)
    values = plateau_c - (plateau_c - 65.0) * np.exp(-(times - START) / 2400.0)
    keep = np.ones(len(times), dtype=bool)
    if holes:
        keep[len(times) // 6 : len(times) * 5 // 6] = False
    events = [Event("lid", "lid on", START, START)]
    events += [
        Event(f"stir {i}", "stirred", START + 2100.0 * i, START + 2100.0 * i)
        for i in range(1, int(clear_min // 35) + 1)
    ]
    if hazy_min is not None:
        moment = START + 60.0 * hazy_min
        events.append(Event("hazy", "checked", moment, moment, {"result": "hazy"}))
    moment = START + 60.0 * clear_min
    events.append(Event("clear", "checked", moment, moment, {"result": "clear"}))
    batch = Batch("Test", (), Alkali("KOH", 0.9, excess), 0.0)
    series = {"paste": series_from("paste", "Cel", times[keep], times[keep], values[keep])}
    ordered = tuple(sorted(events, key=lambda event: event.measured))
    return History(START, float(times[-1]), series, ordered, sheets=((START, batch),))


def mean_and_sd(weight: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> tuple[float, float]:
    need = weight.sum(axis=(1, 2, 3))
    mean = float(need @ LN_NEED)
    return mean, math.sqrt(float(need @ (LN_NEED - mean) ** 2))


def taught(*histories: History) -> tuple[float, float]:
    lessons = [one for one in map(cook_evidence, histories) if one is not None]
    return mean_and_sd(fit_kitchen(lessons).prior().weight)


def test_a_kitchen_without_cooks_has_the_first_prior() -> None:
    mean, sd = mean_and_sd(fit_kitchen([]).prior().weight)
    expected_mean, expected_sd = mean_and_sd(first_prior().weight)
    assert abs(mean - expected_mean) < 0.01
    assert abs(sd - expected_sd) < 0.02


def test_quick_and_slow_kitchens_are_told_apart_and_the_prior_narrows() -> None:
    quick = taught(*[finished_cook(150, 135)] * 3)
    slow = taught(*[finished_cook(330, 310)] * 3)
    start = mean_and_sd(first_prior().weight)
    assert quick[0] < start[0] < slow[0]
    assert quick[1] < 0.7 * start[1] and slow[1] < 0.7 * start[1]


def test_more_alkali_makes_the_same_time_speak_of_a_greater_need() -> None:
    rich = taught(*[finished_cook(220, 205, excess=0.06)] * 3)
    lean = taught(*[finished_cook(220, 205, excess=0.0)] * 3)
    assert rich[0] > lean[0] + 0.2


def test_a_kitchen_that_changed_is_learned_as_it_is_now() -> None:
    old, new = finished_cook(150, 135), finished_cook(330, 310)
    changed = taught(*[old] * 6, *[new] * 3)
    mixed = taught(*[new] * 3, *[old] * 6)
    assert changed[0] > mixed[0] + 0.3
    assert abs(changed[0] - taught(*[new] * 3)[0]) < abs(changed[0] - taught(*[old] * 6)[0])


def test_a_cook_with_a_broken_probe_teaches_nothing_of_the_need() -> None:
    broken = cook_evidence(finished_cook(330, 310, holes=True))
    assert broken is None or (broken.checks == 0 and np.all(broken.likelihood == 1.0))
    assert taught(finished_cook(330, 310, holes=True)) == taught()


def test_contradictory_checks_and_no_start_teach_nothing_of_the_need() -> None:
    cook = finished_cook(200)
    late = Event("late", "checked", START + 60.0 * 200.5, START + 60.0 * 200.5, {"result": "cloudy"})
    contradictory = cook_evidence(
        History(cook.started, cook.as_of, cook.series, (*cook.logged, late), sheets=cook.sheets)
    )
    assert contradictory is not None and contradictory.checks == 0
    assert cook_evidence(History(START, START + 100.0)) is None


def test_the_plateau_is_learned() -> None:
    kitchen = fit_kitchen([one for one in [cook_evidence(finished_cook(300, plateau_c=82.0))] * 4 if one])
    assert abs(kitchen.plateau_c - 82.0) < 1.0
    assert kitchen.plateau_sd_c < 4.0


def test_a_one_parameter_posterior_is_what_scipy_quadrature_gives() -> None:
    """Source: scipy.integrate.quad over ln need with a normal prior and the likelihood of one hazy check."""
    prior_mean, prior_sd = math.log(9600.0), 0.3
    grid_of_one = excess_grid(0.03, 0.0)
    batch_need, effective = math.exp(float(grid_of_one.need_shift[0])), float(grid_of_one.effective[0])

    def posterior(ln_need: float) -> float:
        residual = 1.0 - float(law_converted(np.array(8500.0 / math.exp(ln_need) / batch_need), effective))
        clear = norm.cdf((math.log(CLEAR_RESIDUAL) - math.log(residual)) / CLEAR_NOISE)
        not_cloudy = max(norm.cdf((math.log(HAZY_RESIDUAL) - math.log(residual)) / HAZY_NOISE), clear)
        chance = (1.0 - MISREAD_CHANCE) * (not_cloudy - clear) + MISREAD_CHANCE / 3.0
        return float(norm.pdf(ln_need, prior_mean, prior_sd) * chance)

    low, high = float(LN_NEED[0]), float(LN_NEED[-1])
    mass, _ = quad(posterior, low, high, limit=200, epsabs=1e-12)
    mean, _ = quad(lambda x: x * posterior(x), low, high, limit=200, epsabs=1e-12)
    equivalent = np.full((len(EA), len(MIXING_FLOORS)), 8500.0)
    grid = (
        norm.pdf(LN_NEED, prior_mean, prior_sd)
        * check_likelihood("hazy", grid_of_one.converted(equivalent))[:, 0, 0, 0]
    )
    grid /= grid.sum()
    assert abs(float(grid @ LN_NEED) - mean / mass) < 2e-3


def test_learning_does_not_care_how_a_likelihood_is_scaled() -> None:
    one = cook_evidence(finished_cook(220, 205))
    assert one is not None
    scaled = replace(one, likelihood=one.likelihood * 7.0)
    assert np.allclose(fit_kitchen([one]).weight, fit_kitchen([scaled]).weight)


# Twelve cooks whose need lay between two checks, in minutes.
LOWER = [118, 131, 140, 126, 150, 112, 137, 129, 144, 121, 133, 139]
UPPER = [139, 149, 163, 150, 171, 131, 160, 144, 166, 146, 149, 158]


def test_interval_censored_learning_agrees_with_a_survival_library() -> None:
    """Source: lifelines 0.30.3, LogNormalFitter().fit_interval_censoring on these intervals, in an environment of
    its own because it needs pandas below 3: mu 4.951884, sigma 0.062077. The same maximum is found here by scipy."""
    mu, sigma = 4.951884, 0.062077

    def minus_log_likelihood(at: np.ndarray[tuple[int], np.dtype[np.float64]]) -> float:
        low, high = np.log(LOWER), np.log(UPPER)
        width = math.exp(float(at[1]))
        return -float(np.sum(np.log(norm.cdf((high - at[0]) / width) - norm.cdf((low - at[0]) / width))))

    found = minimize(minus_log_likelihood, np.array([5.0, -2.5]), method="Nelder-Mead")
    assert found.x[0] == pytest.approx(mu, abs=1e-3)
    assert math.exp(found.x[1]) == pytest.approx(sigma, abs=1e-3)
    lessons = []
    for low, high in zip(LOWER, UPPER, strict=True):
        inside = (np.log(60.0 * low) < LN_NEED) & (np.log(60.0 * high) > LN_NEED)
        shape = (len(LN_NEED), len(EA), len(MIXING_FLOORS), 4)
        spread = np.broadcast_to(inside[:, None, None, None].astype(float), shape)
        lessons.append(CookEvidence(spread, excess_grid(0.03, 0.0), None, 1, None))
    mean, sd = mean_and_sd(fit_kitchen(lessons).prior().weight)
    assert mean - math.log(60.0) == pytest.approx(mu, abs=0.03)
    # The next cook scatters about the kitchen's need, of which twelve cooks leave little doubt.
    assert sigma < sd < 2.5 * sigma
