"""What each cause truly cost a virtual cook: the same seeded cook again without it, and the difference in time.

A trouble and the stirs are put right in the kitchen itself. What the paste's temperature did (the warm-up, the height
of the plateau) is put right in the temperature: the chemistry runs again along the cook's true curve, with that one
thing mended. So a cost means the same beside an ideal cook, a twin or the kitchen's usual: the difference of two.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import permutations
from statistics import median

import numpy as np

from monitor.estimation import STIR_INTERVAL_S
from monitor.model import Floats
from monitor.simulator.plant import Controls
from tests.analysis.causes import PAST_COOKS, Cause, LossCase, ScheduledChecks
from tests.kitchens.cooking import STEP_S, CookRun, cook
from tests.kitchens.kitchen import CookPlan, CrockPot, Kitchen, Pot
from tests.kitchens.trouble import FOR_GOOD_S, Kind

Costs = dict[Cause, float]
_SPELLS = {Kind.LID_LEFT_OFF: Cause.LID_OFF, Kind.POWER_CUT: Cause.HEAT_LOST}
_IN_TEMPERATURE = {Cause.SLOW_WARM_UP, Cause.LOW_PLATEAU}
# As the time-loss report has it: from here on the paste is warm.
WARM_WITHIN_C = 1.5
# The true curve is followed to the end of the longest cook that is bearable.
LONGEST_STEPS = 6 * 3600


@dataclass(frozen=True)
class Curve:
    """The paste's true temperature, degC, a value a step from the begin of blending; blend_s: how long that took."""

    level_c: Floats
    blend_s: float
    total_s: float

    @property
    def plateau_c(self) -> float:
        """Where it settles: the middle of the later half up to clear."""
        first, last = (round((self.blend_s + share * self.total_s) / STEP_S) for share in (0.5, 1.0))
        return float(np.median(self.level_c[first : max(last, first + 1)]))

    def warmed(self) -> Floats:
        """The same, at its plateau from lid on."""
        lid_on = round(self.blend_s / STEP_S)
        there = np.flatnonzero(self.level_c[lid_on:] >= self.plateau_c - WARM_WITHIN_C)
        warm = lid_on + int(there[0]) if len(there) else len(self.level_c)
        mended = self.level_c.copy()
        mended[lid_on:warm] = np.maximum(mended[lid_on:warm], self.plateau_c)
        return mended


def over_s(run: CookRun) -> float:
    """How long the cook went on after a look could have shown it clear.

    A sample that seemed hazy although the paste was clear is the maker's eye and no late look, and one that seemed
    clear too early made nothing late.
    """
    return max(0.0, run.ended - max(run.true_clear, run.last_unclear))


@dataclass(frozen=True)
class Truth:
    """What each cause cost, in seconds.

    alone: saved when it alone is put right. What two causes cost together is more than both alone or less, so these
    add up to no whole. shared: Shapley's shares of putting right every set of causes, which do.
    """

    alone: Costs
    shared: Costs


def against_twin(told: LossCase, plateau_c: float) -> Truth:
    """What each cause cost beside the same cook in which nothing was made to go wrong."""
    return _less(
        costs(told.plan, PAST_COOKS, told.run, plateau_c),
        [costs(told.twin_plan, PAST_COOKS, told.untroubled, plateau_c)],
    )


def against_usual(told: LossCase, plateau_c: float) -> Truth:
    """What each cause cost beside the middle of the kitchen's past cooks, in which nothing was made to go wrong."""
    past = enumerate(zip(told.past_plans, told.past_runs, strict=True))
    return _less(
        costs(told.plan, PAST_COOKS, told.run, plateau_c), [costs(plan, i, run, plateau_c) for i, (plan, run) in past]
    )


def _less(own: Truth, others: list[Truth]) -> Truth:
    return Truth(
        {cause: own.alone[cause] - median(other.alone[cause] for other in others) for cause in own.alone},
        {cause: own.shared[cause] - median(other.shared[cause] for other in others) for cause in own.shared},
    )


def costs(plan: CookPlan, index: int, run: CookRun, plateau_c: float) -> Truth:
    """What each cause cost beside an ideal cook.

    plateau_c: of that cook, in true degC; it is there from lid on and stirred by common practice.
    """
    again = _Again(plan, index, run, plateau_c)
    over = {Cause.LATE_CHECK: over_s(run)}
    nothing = dict.fromkeys(Cause, 0.0)
    alone = {cause: again.saved_s(frozenset({cause})) for cause in again.causes}
    return Truth(nothing | alone | over, nothing | shares(again.causes, again.saved_s) | over)


def shares(causes: Sequence[Cause], saved_s: Callable[[frozenset[Cause]], float]) -> Costs:
    """Shapley's shares (1953, A value for n-person games) of what putting right all of them saves.

    A cause's share is what it saves after those before it, averaged over every order.
    """
    orders = list(permutations(causes))
    share = dict.fromkeys(causes, 0.0)
    for order in orders:
        for place, cause in enumerate(order):
            before = frozenset(order[:place])
            share[cause] += (saved_s(before | {cause}) - saved_s(before)) / len(orders)
    return share


class _Again:
    """The same cook once more for every set of causes that are put right."""

    def __init__(self, plan: CookPlan, index: int, run: CookRun, plateau_c: float) -> None:
        self._plan, self._index = plan, index
        self._looks = (run.ended - 900.0, run.ended)
        self._curves: dict[frozenset[Cause], Curve] = {}
        self._totals_s: dict[frozenset[Cause], float] = {}
        spells = {_SPELLS[trouble.kind] for trouble in plan.troubles if trouble.ends_s < FOR_GOOD_S}
        self.causes = [Cause.SLOW_WARM_UP, Cause.LOW_PLATEAU, Cause.LATE_STIRS, *spells]
        calm = self._curve(frozenset(spells))
        self._warmer_c = calm.warmed() - calm.level_c
        self._higher_c = plateau_c - calm.plateau_c

    def saved_s(self, right: frozenset[Cause]) -> float:
        """How much sooner it is clear when these are put right."""
        return self._total_s(frozenset()) - self._total_s(right)

    def _total_s(self, right: frozenset[Cause]) -> float:
        if right not in self._totals_s:
            self._totals_s[right] = self._cooked_s(right)
        return self._totals_s[right]

    def _cooked_s(self, right: frozenset[Cause]) -> float:
        in_kitchen = right - _IN_TEMPERATURE
        curve = self._curve(in_kitchen)
        if right == in_kitchen:
            return curve.total_s
        level_c = curve.level_c
        if Cause.SLOW_WARM_UP in right:
            level_c = level_c + self._warmer_c
        if Cause.LOW_PLATEAU in right:
            level_c = level_c + self._higher_c
        return _cooked(_along(self._without(in_kitchen), level_c), self._index, self._looks).total_s

    def _curve(self, right: frozenset[Cause]) -> Curve:
        if right not in self._curves:
            self._curves[right] = _curve(self._without(right), self._index, self._looks)
        return self._curves[right]

    def _without(self, right: frozenset[Cause]) -> CookPlan:
        plan = self._plan
        if right & set(_SPELLS.values()):
            plan = replace(plan, troubles=tuple(one for one in plan.troubles if one.ends_s >= FOR_GOOD_S))
        if Cause.LATE_STIRS in right:
            plan = replace(plan, person=replace(plan.person, stir_every_s=STIR_INTERVAL_S, stir_jitter=0.0))
        return plan


def main_cause(costs: Costs) -> Cause:
    """The cause whose removal saves most."""
    return max(costs, key=lambda cause: costs[cause])


def _cooked(plan: CookPlan, index: int, looks: tuple[float, float]) -> CookRun:
    return cook(Kitchen("once more", lambda _: plan), index, ScheduledChecks(looks))


def _curve(plan: CookPlan, index: int, looks: tuple[float, float]) -> Curve:
    watched: list[_Watched] = []

    def new_pot() -> Pot:
        watched.append(_Watched(_crock_pot(plan)))
        return watched[-1]

    run = _cooked(replace(plan, new_pot=new_pot), index, looks)
    level_c = np.array(watched[-1].level_c)
    whole = np.concatenate([level_c, np.full(max(0, LONGEST_STEPS - len(level_c)), level_c[-1])])
    return Curve(whole, math.ceil(plan.person.blend_s / STEP_S) * STEP_S, run.total_s)


def _along(plan: CookPlan, level_c: Floats) -> CookPlan:
    """The same cook with its paste held to this curve."""
    return replace(plan, new_pot=lambda: _Held(_crock_pot(plan), level_c))


def _crock_pot(plan: CookPlan) -> CrockPot:
    pot = plan.new_pot()
    assert isinstance(pot, CrockPot)
    return pot


class _Watched:
    """A pot that keeps the curve of its paste, one value a step."""

    def __init__(self, pot: CrockPot) -> None:
        self._pot = pot
        self._elapsed_s = 0.0
        self.level_c: list[float] = []

    @property
    def paste_c(self) -> float:
        return self._pot.paste_c

    @property
    def wall_c(self) -> float:
        return self._pot.wall_c

    @property
    def residual(self) -> float:
        return self._pot.residual

    def advance(self, controls: Controls, seconds: float) -> None:
        if self._elapsed_s >= STEP_S * len(self.level_c):
            self.level_c.append(self._pot.paste_c)
        self._pot.advance(controls, seconds)
        self._elapsed_s += seconds

    def stir(self, thoroughness: float) -> None:
        self._pot.stir(thoroughness)


class _Held(_Watched):
    """A pot whose paste is held to a curve."""

    def __init__(self, pot: CrockPot, level_c: Floats) -> None:
        super().__init__(pot)
        self._wanted_c = level_c

    def advance(self, controls: Controls, seconds: float) -> None:
        place = min(round(self._elapsed_s / STEP_S), len(self._wanted_c) - 1)
        self._pot._state = replace(self._pot._state, paste_c=float(self._wanted_c[place]))
        self._pot.advance(controls, seconds)
        self._elapsed_s += seconds
