"""When to check: held against a dynamic programme and a simulation of its own, and at the edges of its grid."""

import itertools
import math
from statistics import NormalDist

import numpy as np
import pytest

from monitor.estimation import scheduling
from monitor.estimation.clear_time import ClearTimeDistribution, clear_times_from
from monitor.estimation.prediction import CheckModel
from monitor.estimation.scheduling import CALM_S, Costs, costs_of, optimal_check_time
from monitor.model import Event, Floats

# Common practice, no source: cooks are done in three to four hours.
USUAL_MIN = 200.0
CHECK_MIN, OVERCOOK_PER_MIN = 15.0, 0.25


class SharpEye:
    """Sees clear exactly when it is, and nothing more: every other sample is cloudy."""

    def chances(self, checked: Floats, clear_at: Floats) -> tuple[Floats, Floats]:
        clear = (checked[:, None] >= clear_at[None, :]).astype(np.float64)
        return clear, np.zeros_like(clear)


def least_cost(spread: float) -> tuple[float, float, float]:
    """The least expected cost (minutes of labour), the checks that takes, and the chance of the first, by a dynamic
    programme over every minute; the clear time is lognormal about USUAL_MIN.

    V(s) = min over t >= s + 10 of c P(T > s) + o E[(t - T); s < T <= t] + V(t): Bellman, Dynamic Programming, 1957.
    """
    minutes = np.arange(0.0, USUAL_MIN * math.exp(5.0 * spread))
    normal = NormalDist(math.log(USUAL_MIN), spread)
    by = np.array([normal.cdf(math.log(minute)) if minute else 0.0 for minute in minutes])
    moment = np.concatenate([[0.0], np.cumsum(np.diff(by) * (minutes[1:] - 0.5))])
    count = len(minutes)
    value, then = np.zeros(count), np.zeros(count, dtype=int)
    for i in range(count - 12, -1, -1):
        ahead = np.arange(i + 10, count)
        over = minutes[ahead] * (by[ahead] - by[i]) - (moment[ahead] - moment[i])
        costs = CHECK_MIN * (1.0 - by[i]) + OVERCOOK_PER_MIN * over + value[ahead]
        then[i], value[i] = ahead[np.argmin(costs)], costs.min()
    at, checks = 0, 0.0
    while then[at]:
        checks += 1.0 - by[at]
        at = then[at]
    return float(value[0]), float(checks), float(by[then[0]])


def simulated(spread: float, draws: int = 4000) -> tuple[float, float, float]:
    """The mean cost, the mean number of checks and the share of clear first ones of whoever follows the due times."""
    clear_min = np.exp(np.random.default_rng(1).normal(math.log(USUAL_MIN), spread, draws))
    quantiles = np.array([NormalDist(math.log(USUAL_MIN), spread).inv_cdf((i + 0.5) / 2000) for i in range(2000)])
    believed = 60.0 * np.exp(quantiles)
    not_before, paid, checks, first = 0.0, 0.0, 0, 0.0
    left = clear_min
    while len(left):
        clearing = clear_times_from(believed, np.full(len(believed), 1.0 / len(believed)), 0.0)
        due = optimal_check_time(clearing, SharpEye(), not_before, Costs(CHECK_MIN, OVERCOOK_PER_MIN))
        assert due is not None
        clear = 60.0 * left <= due
        paid += CHECK_MIN * len(left) + OVERCOOK_PER_MIN * float(np.sum(due / 60.0 - left[clear]))
        first = first or float(clear.mean())
        checks += len(left)
        left, not_before = left[~clear], due + CALM_S
        # Past all that was thought possible, what is left is found by the next check.
        believed = believed[believed > due] if np.any(believed > due) else np.array([60.0 * left.max(initial=0.0)])
    return paid / draws, checks / draws, first


@pytest.mark.parametrize(
    ("spread", "cost", "checks", "first"),
    [(0.10, 24.0, 1.15, 0.86), (0.12, 25.3, 1.18, 0.83), (0.30, 34.5, 1.46, 0.67)],
)
def test_whoever_follows_the_due_times_pays_next_to_the_least(
    spread: float, cost: float, checks: float, first: float
) -> None:
    """The stated figures are those of the dynamic programme here; no published table of them was found."""
    best = least_cost(spread)
    assert best[0] == pytest.approx(cost, abs=0.5)
    assert best[1] == pytest.approx(checks, abs=0.04)
    assert best[2] == pytest.approx(first, abs=0.03)
    ours = simulated(spread)
    assert ours[0] <= best[0] + 0.5
    assert ours[1] == pytest.approx(best[1], abs=0.1)


@pytest.mark.parametrize("spread", [0.10, 0.12, 0.15, 0.20])
def test_the_first_check_has_seven_chances_in_ten_or_more(spread: float) -> None:
    assert simulated(spread, 1000)[2] >= 0.7


def test_a_dearer_over_cooked_minute_has_the_check_sooner_and_a_dearer_check_later() -> None:
    believed = 60.0 * np.exp(np.random.default_rng(1).normal(math.log(USUAL_MIN), 0.15, 2000))
    clearing = clear_times_from(believed, np.full(2000, 1 / 2000), 0.0)

    def due(costs: Costs) -> float:
        found = optimal_check_time(clearing, SharpEye(), 0.0, costs)
        assert found is not None
        return found

    assert due(Costs(overcook_per_min=1.0)) < due(Costs()) - 300.0
    assert due(Costs(check_min=30.0)) > due(Costs()) + 120.0


def test_the_least_cost_lies_within_the_grid(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever the spread, the pace of the paste and the costs, waiting longer than the grid reaches never pays."""
    at_the_end: list[bool] = []
    lowest = scheduling._lowest

    def watched(times: Floats, cost: Floats) -> float:
        at_the_end.append(int(np.argmin(cost)) == len(cost) - 1)
        return lowest(times, cost)

    monkeypatch.setattr(scheduling, "_lowest", watched)
    z = np.linspace(-2.5, 2.5, 101)
    weights = np.exp(-0.5 * z**2) / np.exp(-0.5 * z**2).sum()
    cases = itertools.product((60.0, 200.0), (0.03, 0.1, 0.4), (1.0, 0.4, 0.15), (0.0, 0.25, 10.0), (1.0, 15.0, 240.0))
    for usual_min, spread, pace, overcook_per_min, check_min in cases:
        clearing = clear_times_from(60.0 * usual_min * np.exp(spread * z), weights, 0.0)
        times = np.arange(0.0, 172_800.0, 300.0)
        # From half the way on the paste is cool, and its equivalent time passes slowly.
        half_s = 30.0 * usual_min
        sample = CheckModel(times, np.minimum(times, half_s) + pace * np.maximum(times - half_s, 0.0), 0.03)
        for not_before in (0.0, 60.0 * usual_min):
            assert optimal_check_time(clearing, sample, not_before, Costs(check_min, overcook_per_min)) is not None
    assert len(at_the_end) == 324 and not any(at_the_end)


def test_no_check_is_planned_where_clear_is_less_likely_than_not() -> None:
    clearing = ClearTimeDistribution(0.0, np.linspace(0.0, 0.45, 200))
    assert optimal_check_time(clearing, SharpEye(), 0.0, Costs()) is None


def costs_set(known: float, **fields: str | float) -> Event:
    return Event(f"{known}", "costs set", 0.0, known, fields)


def test_the_latest_known_costs_of_the_cook_go_before_the_kitchens() -> None:
    kitchen = Costs(20.0, 0.5, 1800.0)
    assert costs_of([], kitchen) == kitchen
    early, late = costs_set(10.0, check_min=5.0, stir_every_min=40.0), costs_set(20.0, check_min=8.0)
    for events in ([early, late], [late, early]):
        assert costs_of(events, kitchen) == Costs(8.0, 0.5, 2400.0)


@pytest.mark.parametrize("value", ["much", -1.0, math.nan, math.inf, True])
def test_a_cost_that_may_not_be_is_passed_over(value: str | float) -> None:
    assert costs_of([costs_set(1.0, check_min=value)], Costs()) == Costs()
