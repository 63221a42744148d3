"""When to stir and when to check.

A check costs a person labour, and so does each minute that the paste is cooked past clear. The time to check is the
one at which the two cost least in expectation, the later checks of a first one that fails included.
"""

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from monitor.estimation.clear_time import ClearTimeDistribution
from monitor.model import Event, Floats

STIR_EVERY_S = 2100.0
CHECK_COST_MIN = 15.0
OVERCOOK_COST_PER_MIN = 1.0
# The lid is lifted for a check, and the paste makes up for the heat that went only later (judgement).
HEAT_LOST_MIN = 3.0
# Never nag sooner than this after a check that was not clear.
CALM_S = 600.0
# Common practice without a model: look again after half an hour (no source).
PRACTICE_AGAIN_S = 1800.0
GRID = 40
POINTS = 40
MARGIN_S = 900.0


@dataclass(frozen=True, slots=True)
class Costs:
    """What a person's time is worth, and how often they mean to stir. The user's to set."""

    check_min: float = CHECK_COST_MIN
    overcook_per_min: float = OVERCOOK_COST_PER_MIN
    stir_every_s: float = STIR_EVERY_S


def stir_due(start: float, events: tuple[Event, ...], every_s: float) -> float:
    """When the next stir is due: every_s after the last stir, else after the start. Unix seconds."""
    stirs = [event.measured for event in events if event.kind == "stirred" and event.measured >= start]
    return max([start, *stirs]) + every_s


class SampledCheck(Protocol):
    """What a sample shows, given when the paste comes clear."""

    def chances(self, checked: Floats, clear_at: Floats) -> tuple[Floats, Floats]:
        """Chances of reading clear, and of reading hazy; shape (g, m) each.

        checked: when it is taken, shape (g,); clear_at: when the paste comes clear, shape (m,). Unix seconds.
        """
        ...


def optimal_check_time(
    clearing: ClearTimeDistribution, sample: SampledCheck, not_before: float, costs: Costs
) -> float | None:
    """The moment to check that costs least in expectation, Unix seconds; None where clear may never come.

    What a check that is not clear would show, hazy or cloudy, is weighed in: it makes the next one better aimed. The
    checks after that are planned as if they told no more than "not yet". None is sooner than ten minutes after the
    one before.
    """
    mass = float(clearing.by[-1])
    if mass < 0.5:
        return None
    clear_at = np.array([clearing.quantile(mass * (i + 0.5) / POINTS) for i in range(POINTS)], dtype=np.float64)
    first = max(not_before, float(clear_at[0]) - MARGIN_S)
    last = max(float(clear_at[-1]) + MARGIN_S, first + 3 * CALM_S)
    times = np.linspace(first, last, GRID)
    clear, hazy = sample.chances(times, clear_at)
    over = np.maximum(times[:, None] - clear_at[None, :], 0.0) * (costs.overcook_per_min / 60.0)
    weight = np.full(POINTS, mass / POINTS)
    # What is left of the belief after a check at each time has shown hazy, then cloudy; shape (2 g, m).
    left = np.concatenate([weight * hazy, weight * np.maximum(1.0 - clear - hazy, 0.0)])
    check_min = costs.check_min + HEAT_LOST_MIN * costs.overcook_per_min
    wait = max(1, math.ceil(CALM_S / float(times[1] - times[0]) - 1e-9))
    later = _later_costs(left, clear, over, wait, check_min)
    total = check_min * mass + (weight * clear * over).sum(axis=1) + later[:GRID] + later[GRID:]
    return _lowest(times, total)


def _later_costs(left: Floats, clear: Floats, over: Floats, wait: int, check_min: float) -> Floats:
    """What the checks after a failed first one cost, in minutes times its chance; shape (2 g,).

    left: belief after the first check, shape (2 g, m), row i and row g + i after one at time i.
    clear, over: chance of clear and minutes over, shape (g, m).
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
