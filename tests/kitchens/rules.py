"""The policies with which the estimator is compared.

The fixed rule; an oracle that knows the kitchen but not how this cook differs from its usual ones, which is the most
that learning can give; and one that knows when this very cook is clear.
"""

import math
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from monitor.estimation.scheduling import Costs
from monitor.model import Batch
from tests.kitchens.cooking import CookRun, cook
from tests.kitchens.kitchen import Kitchen

NOBODY_KNOWS = (None, None, None)


@dataclass(frozen=True)
class Says:
    """An answer with a due time alone."""

    check_due: float | None
    clear_at: tuple[float | None, float | None, float | None] = NOBODY_KNOWS
    chance_clear: float | None = None


class FixedRule:
    """Common practice: look first at this many minutes after lid on, then at a fixed interval."""

    def __init__(self, first_min: float = 180.0, every_min: float = 30.0) -> None:
        self._first_s = first_min * 60.0
        self._every_s = every_min * 60.0
        self._due: float | None = None

    def begin(self, batch: Batch, started: float) -> None:
        """Needs neither."""

    def reading(self, at: float, paste_c: float | None, wall_c: float | None) -> None:
        """Does not look."""

    def event(self, at: float, kind: str, fields: dict[str, str | float]) -> None:
        if kind == "lid on":
            self._due = at + self._first_s
        elif kind == "checked":
            self._due = at + self._every_s

    def ask(self, now: float) -> Says:
        return Says(self._due)


class Oracle(FixedRule):
    """Knows the true time of this very cook, and that a sample at the edge may be misread."""

    def __init__(self, true_clear: float, margin_min: float = 4.0) -> None:
        super().__init__(every_min=10.0)
        self._when = true_clear + margin_min * 60.0

    def event(self, at: float, kind: str, fields: dict[str, str | float]) -> None:
        if kind == "lid on":
            self._due = self._when
        elif kind == "checked":
            self._due = at + self._every_s


class Never(FixedRule):
    """Asks for no check at all: what the cook does by itself."""

    def ask(self, now: float) -> Says:
        return Says(None)


@cache
def best_plan(spread: float, costs: Costs) -> tuple[float, float]:
    """When to look first, and how long to wait between looks, both as shares of the expected time of 1.

    Least expected cost at this price where the true time is log-normal with this spread about a usual one of 240 min.
    """
    true = np.exp(spread * np.random.default_rng(1).standard_normal(4000))[:, None]
    best = (math.inf, 1.0, 0.1)
    for first in np.arange(0.85, 1.6, 0.025):
        for wait in np.arange(0.04, 0.45, 0.02):
            looks = np.maximum(1.0, np.ceil((true - first) / wait) + 1.0)
            over_min = 240.0 * (first + (looks - 1.0) * wait - true)
            cost_min = costs.check_min * looks + costs.overcook_per_min * over_min
            best = min(best, (float(np.mean(cost_min)), float(first), float(wait)))
    return best[1], best[2]


class KnowsKitchen(FixedRule):
    """Knows the kitchen's chemistry, the stirs to come and even what will go wrong, but not this cook's own scatter.

    usual_s: how long the usual cook takes from lid on. scatter: of this cook about that, one sigma in ln. costs: at
    which it plans.
    """

    def __init__(self, usual_s: float, scatter: float, costs: Costs) -> None:
        first, wait = best_plan(scatter, costs)
        super().__init__(usual_s * first / 60.0, usual_s * wait / 60.0)
        # The 10 and 90 % points of a log-normal stand 1.2816 sigma from its middle.
        self._after_s = [usual_s * math.exp(z * scatter) for z in (-1.2816, 0.0, 1.2816)]
        self._lid_on = 0.0

    def event(self, at: float, kind: str, fields: dict[str, str | float]) -> None:
        super().event(at, kind, fields)
        if kind == "lid on":
            self._lid_on = at

    def ask(self, now: float) -> Says:
        low, middle, high = (self._lid_on + after_s for after_s in self._after_s)
        return Says(self._due, (low, middle, high))


def knowing_kitchen(kitchen: Kitchen, index: int, costs: Costs) -> CookRun:
    """The same cook under the oracle that knows the kitchen and plans at these costs."""
    plan = kitchen.plan(index)
    usual = replace(kitchen, plan=lambda _: replace(plan, new_pot=plan.usual_pot))
    return cook(kitchen, index, KnowsKitchen(cook(usual, index, Never()).total_s, plan.scatter, costs))


def knowing_cook(kitchen: Kitchen, index: int) -> CookRun:
    """The same cook under the oracle that knows when it is clear."""
    return cook(kitchen, index, Oracle(cook(kitchen, index, Never()).true_clear))
