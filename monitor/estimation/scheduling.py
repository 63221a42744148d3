"""When to stir and when to check.

A check costs a person labour, and each minute that the paste is cooked past clear costs too. The time to check is the
one at which the two cost least in expectation, including the checks that follow when the first is not clear.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np

from monitor.estimation.clear_time import ClearTimeDistribution
from monitor.estimation.equivalent_time import STIR_INTERVAL_S
from monitor.model import PERSON_EVENTS, Event, Floats, Number

STIR_EVERY_S = STIR_INTERVAL_S
CHECK_COST_MIN = 15.0
# Soap does not spoil by cooking on, so a minute of it is worth much less than a person's minute (judgement).
OVERCOOK_COST_PER_MIN = 0.25
# A check lifts the lid, and the lost heat delays the paste by about this (judgement).
HEAT_LOST_MIN = 3.0
# No check sooner than this after one that was not clear: it would nag, and show nothing new.
CALM_S = 600.0
# Check times that are compared, quantiles that stand for the clear time, and how far the former reach beyond these at
# the least and at the most.
GRID = 40
POINTS = 40
MARGIN_S = 900.0
WIDEST_MARGIN_S = 4 * 3600.0
# The last time that is compared is one at which a sample of the slowest paste reads clear with this probability.
SURELY_CLEAR = 0.99
# Plans count an over-cooked minute as at least this part of a check: were it free, the best time would be never.
LEAST_OVERCOOK_SHARE = 0.001
# A check is planned where the paste comes clear within sight with this probability.
LEAST_CHANCE = 0.5


@dataclass(frozen=True, slots=True)
class Costs:
    """What the user sets, for a kitchen or for one cook.

    check_min: what a check costs, minutes of labour. overcook_per_min: what a minute past clear costs, minutes of
    labour. stir_every_s: from one stir to the next, s.
    """

    check_min: float = CHECK_COST_MIN
    overcook_per_min: float = OVERCOOK_COST_PER_MIN
    stir_every_s: float = STIR_EVERY_S


def costs_while_learning(costs: Costs, bracketed: int) -> Costs:
    """The costs by which a check is planned in a kitchen that is still being learned.

    A cook whose first sample is clear at once tells its need from above alone, so the next one is planned as late
    again. A sample that is not clear yet bounds it from below, which is worth something to every later cook: a minute
    past clear counts as 1 + 1 / (1 + n)^2 of itself, n being the cooks that had such a sample. The weight is judgement;
    in virtual kitchens of two kinds none and twice as much both cost more, in the first cook and after three.

    bracketed: those cooks, >= 0.

    >>> [costs_while_learning(Costs(), n).overcook_per_min for n in (0, 1, 4)]
    [0.5, 0.3125, 0.26]
    """
    return replace(costs, overcook_per_min=costs.overcook_per_min * (1.0 + 1.0 / (1.0 + bracketed) ** 2))


def costs_of(events: Iterable[Event], kitchen_costs: Costs) -> Costs:
    """What counts for a cook: the kitchen's costs, and of those that were set for the cook the latest known.

    events: of the cook, in any order; a field that none of them sets is the kitchen's.

    >>> def costs_set(known, **fields):
    ...     return Event(f"{known}", "costs set", 0.0, known, fields)
    >>> costs_of([costs_set(2.0, check_min=10.0), costs_set(1.0, check_min=20.0, overcook_per_min=0.5)], Costs())
    Costs(check_min=10.0, overcook_per_min=0.5, stir_every_s=2100.0)
    """
    costs = kitchen_costs
    for event in sorted((event for event in events if event.kind == "costs set"), key=lambda event: event.known):
        costs = replace(
            costs,
            check_min=_amount(event, "check_min", costs.check_min),
            overcook_per_min=_amount(event, "overcook_per_min", costs.overcook_per_min),
            stir_every_s=60.0 * _amount(event, "stir_every_min", costs.stir_every_s / 60.0),
        )
    return costs


def _amount(event: Event, name: str, otherwise: float) -> float:
    """A field of the event; ``otherwise`` where it has none, or none that may be, as a recording from elsewhere has."""
    value, rule = event.fields.get(name), PERSON_EVENTS["costs set"][1][name]
    assert isinstance(rule, Number)
    fits = isinstance(value, int | float) and not isinstance(value, bool) and rule.low <= value <= rule.high
    return float(value) if fits and isinstance(value, int | float) else otherwise


def stir_due(start: float, events: tuple[Event, ...], every_s: float) -> float:
    """When the next stir is due, Unix seconds: ``every_s`` after the last stir, else after the start.

    >>> stir_due(1000.0, (), 2100.0)
    3100.0
    """
    stirs = [event.measured for event in events if event.kind == "stirred" and event.measured >= start]
    return max([start, *stirs]) + every_s


class SampledCheck(Protocol):
    """A model of what a sample shows, given when the paste comes clear."""

    def chances(self, checked: Floats, clear_at: Floats) -> tuple[Floats, Floats]:
        """Probabilities of a clear and of a hazy reading, shape (g, m) each.

        checked: when the sample is taken, shape (g,); clear_at: when the paste comes clear, shape (m,). Unix seconds.
        """
        ...


def optimal_check_time(
    clearing: ClearTimeDistribution, sample: SampledCheck, not_before: float, costs: Costs
) -> float | None:
    """The moment to check that costs least in expectation, Unix seconds; None where clear may never come.

    clearing: when the paste comes clear. sample: what a check shows given that. not_before: Unix seconds. costs: of a
    check and of a minute past clear.

    With c the cost of a check and o that of a minute past clear, a first check at t costs

        C(t) = c + E[o (t - T)+ ; clear at t] + P(hazy at t) V(t, hazy) + P(cloudy at t) V(t, cloudy),

    where V is the least cost of the checks after it, by dynamic programming over a grid of 40 times, with what hazy or
    cloudy says of T weighed in; the checks after the second are planned as if they said no more than "not yet". Checks
    lie at least ten minutes apart. The grid reaches to where a sample of the slowest paste reads clear, so that the
    least lies within it. None where the chance of clear within sight is below one half. The policy is our own; optimal
    stopping by backward induction is Bellman, Dynamic Programming, 1957.
    """
    mass = float(clearing.by[-1])
    if mass < LEAST_CHANCE:
        return None
    clear_at = np.array([clearing.quantile(mass * (i + 0.5) / POINTS) for i in range(POINTS)], dtype=np.float64)
    first = max(not_before, float(clear_at[0]) - MARGIN_S)
    last = max(_surely_clear_at(sample, float(clear_at[-1])), first + 3 * CALM_S)
    overcook_per_min = max(costs.overcook_per_min, LEAST_OVERCOOK_SHARE * costs.check_min)
    times = np.linspace(first, last, GRID)
    clear, hazy = sample.chances(times, clear_at)
    over = np.maximum(times[:, None] - clear_at[None, :], 0.0) * (overcook_per_min / 60.0)
    weight = np.full(POINTS, mass / POINTS)
    # The probability of each clear time and of a check at each time that shows hazy, then cloudy; shape (2 g, m).
    left = np.concatenate([weight * hazy, weight * np.maximum(1.0 - clear - hazy, 0.0)])
    check_min = costs.check_min + HEAT_LOST_MIN * overcook_per_min
    wait = max(1, math.ceil(CALM_S / float(times[1] - times[0]) - 1e-9))
    later = _later_costs(left, clear, over, wait, check_min)
    total = check_min * mass + (weight * clear * over).sum(axis=1) + later[:GRID] + later[GRID:]
    return _lowest(times, total)


def _surely_clear_at(sample: SampledCheck, clear_at: float) -> float:
    """When a sample of a paste that comes clear at ``clear_at`` surely reads so: late where the paste is cool and slow.

    Both Unix seconds.
    """
    margin_s = MARGIN_S
    while margin_s < WIDEST_MARGIN_S:
        clear, _ = sample.chances(np.array([clear_at + margin_s]), np.array([clear_at]))
        if clear[0, 0] >= SURELY_CLEAR:
            break
        margin_s *= 1.5
    return clear_at + min(margin_s, WIDEST_MARGIN_S)


def _later_costs(left: Floats, clear: Floats, over: Floats, wait: int, check_min: float) -> Floats:
    """What the checks after a first one that was not clear cost, in minutes times its probability; shape (2 g,).

    left: probability of each clear time after the first check, shape (2 g, m): row i after a hazy one at time i, row
    g + i after a cloudy one. clear: probability of reading clear; over: minutes past clear; shape (g, m). wait: steps
    of the grid between two checks at the least. check_min: what a check costs.
    """
    count = len(clear)
    mass = left.sum(axis=1)
    by = left @ clear.T
    paid = left @ (clear * over).T
    after = np.zeros((len(left), count))
    # Past the end of the grid one more check finds all that is left.
    after[:] = check_min * (mass[:, None] - by)
    for i in range(count - 1 - wait, -1, -1):
        ahead = slice(i + wait, count)
        # What a check at each later time would have been over for pastes that already read clear at this one.
        known = (left * clear[i]) @ over[ahead].T
        costs = check_min * (mass - by[:, i])[:, None] + paid[:, ahead] - known + after[:, ahead]
        after[:, i] = costs.min(axis=1)
    second = check_min * mass[:, None] + paid + after
    taken_at = np.tile(np.arange(count), 2)
    second[np.arange(count)[None, :] < taken_at[:, None] + wait] = np.inf
    best: Floats = second.min(axis=1)
    # A first check at the very end of the grid leaves next to nothing to find.
    return np.where(np.isfinite(best), best, check_min * mass)


def _lowest(times: Floats, cost: Floats) -> float:
    """Where the cost is lowest, by a parabola through the lowest point and its neighbours."""
    i = int(np.argmin(cost))
    if i in (0, len(cost) - 1):
        return float(times[i])
    before, here, after = cost[i - 1 : i + 2]
    bend = before - 2.0 * here + after
    shift = 0.0 if bend <= 0 else 0.5 * (before - after) / bend
    return float(times[i] + shift * (times[1] - times[0]))
