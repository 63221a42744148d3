"""When to stir and when to check.

A check costs a person labour, and so does each minute that the paste is cooked past clear. The time to check is the
one at which the two cost least in expectation, the later checks of a first one that fails included.
"""

import math
from dataclasses import dataclass

import numpy as np

from monitor.progress.clearing import ClearTimes
from monitor.records import Event

STIR_EVERY_S = 2100.0
CHECK_COST_MIN = 15.0
OVERCOOK_COST_PER_MIN = 1.0
# Never nag sooner than this after a check that was not clear.
CALM_S = 600.0
# Common practice without a model: look again after half an hour (no source).
PRACTICE_AGAIN_S = 1800.0
GRID = 96


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


def best_check(clearing: ClearTimes, not_before: float, costs: Costs) -> float | None:
    """The moment to check that costs least in expectation, Unix seconds; None where clear may never come.

    After a failed check the plan goes on with the next best, at least ten minutes later.
    """
    mass = float(clearing.by[-1])
    if mass < 0.5:
        return None
    edges = clearing.edges
    latest = float(edges[min(int(np.searchsorted(clearing.by, 0.995 * mass)), len(edges) - 1)])
    grid = np.linspace(not_before, max(latest, not_before + CALM_S) + CALM_S, GRID)
    # below[i]: chance to be clear by grid[i]; moment[i]: the same chance times the mean clear time, for overcooking.
    gained = np.diff(clearing.by, prepend=0.0)
    below = np.interp(grid, edges, clearing.by, left=0.0)
    moment = np.interp(grid, edges, np.cumsum(gained * (edges - not_before)), left=0.0)
    since = grid - not_before
    alive = mass - below
    # cost[i]: what is still to be paid when a check at grid[i] has failed, in minutes, not normalised.
    cost = np.zeros(GRID)
    rate = costs.overcook_per_min / 60.0
    wait = max(1, math.ceil(CALM_S / (grid[1] - grid[0])))
    for i in range(GRID - 1 - wait, -1, -1):
        later = slice(i + wait, GRID)
        overcooked = since[later] * (below[later] - below[i]) - (moment[later] - moment[i])
        cost[i] = float(np.min(costs.check_min * alive[i] + rate * overcooked + cost[later]))
    first = costs.check_min * mass + rate * (since * below - moment) + cost
    return float(grid[int(np.argmin(first))])
