"""Virtual cooks in which exactly one thing goes wrong, and how long it truly cost."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import Enum

import numpy as np

from monitor.model import History
from tests.kitchens.adapter import Monitor
from tests.kitchens.cooking import CookRun, cook
from tests.kitchens.kitchen import CookPlan, CrockPot, Kitchen, Pot, kitchen
from tests.kitchens.rules import Says
from tests.kitchens.trouble import FOR_GOOD_S, Kind, Trouble

PAST_COOKS = 5
LEAST_EFFECT_S = 720.0
LONGEST_EFFECT_S = 5400.0
# A person who looks twenty minutes too early, then soon after the paste is clear, and again soon where the eye
# was wrong.
BEFORE_S, PROMPT_S, AGAIN_S = 1200.0, 240.0, 600.0


class Cause(Enum):
    """What is made to go wrong; the names are those of the time-loss report."""

    SLOW_WARM_UP = "slow warm-up"
    LOW_PLATEAU = "low plateau"
    LID_OFF = "lid opening"
    HEAT_LOST = "heat lost"
    LATE_STIRS = "late stirs"
    LATE_CHECK = "late check"


@dataclass(frozen=True)
class LossCase:
    """One cook as the time-loss report sees it, beside the truth. effect_s: what the cause truly cost; twin: without it.

    plan, run: how it was cooked and what became of it; untroubled: what became of the twin. The past's likewise.
    """

    cause: Cause
    effect_s: float
    past: tuple[History, ...]
    past_plans: tuple[CookPlan, ...]
    past_runs: tuple[CookRun, ...]
    twin: History
    twin_plan: CookPlan
    untroubled: CookRun
    history: History
    plan: CookPlan
    run: CookRun


class ScheduledChecks(Monitor):
    """Records the cook, and has it checked at these moments, then every ten minutes."""

    def __init__(self, moments: Sequence[float] = ()) -> None:
        super().__init__()
        self._left = list(moments)
        self._last = math.inf

    def event(self, at: float, kind: str, fields: dict[str, str | float]) -> None:
        super().event(at, kind, fields)
        if kind == "checked":
            self._left = self._left[1:]
            self._last = at

    def ask(self, now: float) -> Says:  # type: ignore[override]
        if self._left:
            return Says(self._left[0])
        return Says(None if math.isinf(self._last) else self._last + AGAIN_S)


def cooked(plan: CookPlan, index: int, late_s: float = PROMPT_S) -> tuple[History, CookRun]:
    """One cook of this plan, looked at shortly before it is clear and so long after."""
    home = Kitchen("one cook", lambda _: plan)
    alone = cook(home, index, ScheduledChecks())
    watch = ScheduledChecks([alone.true_clear - BEFORE_S, alone.true_clear + late_s])
    run = cook(home, index, watch)
    return watch.history(), run


def plain(plan: CookPlan, wall_probe: bool) -> CookPlan:
    """The plan with nothing going wrong."""
    return replace(plan, troubles=(), wall_probe=wall_probe, person=replace(plan.person, forgets=0.0))


def troubled(plan: CookPlan, cause: Cause, rng: np.random.Generator) -> tuple[CookPlan, float]:
    """The plan with one thing going wrong, and how late the check then is, in s."""
    begins_s = 60.0 * rng.uniform(35.0, 120.0)
    if cause is Cause.SLOW_WARM_UP:
        by_c = rng.uniform(15.0, 40.0)
        return replace(plan, new_pot=lambda: _colder(plan.new_pot(), by_c)), PROMPT_S
    if cause is Cause.LOW_PLATEAU:
        low = Trouble(Kind.TURNED_DOWN, -math.inf, FOR_GOOD_S, rng.uniform(0.75, 0.93))
        return replace(plan, troubles=(low,)), PROMPT_S
    if cause is Cause.LID_OFF:
        off = Trouble(Kind.LID_LEFT_OFF, begins_s, begins_s + 60.0 * rng.uniform(10.0, 60.0))
        return replace(plan, troubles=(off,)), PROMPT_S
    if cause is Cause.HEAT_LOST:
        heat = 0.0 if rng.random() < 0.5 else rng.uniform(0.4, 0.8)
        cut = Trouble(Kind.POWER_CUT, begins_s, begins_s + 60.0 * rng.uniform(10.0, 70.0), heat)
        return replace(plan, troubles=(cut,)), PROMPT_S
    if cause is Cause.LATE_STIRS:
        seldom = plan.person.stir_every_s * rng.uniform(1.8, 4.0)
        return replace(plan, person=replace(plan.person, stir_every_s=seldom)), PROMPT_S
    return plan, PROMPT_S + 60.0 * rng.uniform(12.0, 60.0)


def _colder(pot: Pot, by_c: float) -> Pot:
    assert isinstance(pot, CrockPot)
    pot._state = replace(pot._state, paste_c=pot._state.paste_c - by_c, wall_c=pot._state.wall_c - by_c)
    return pot


def one_cause(seed: int, cause: Cause, wall_probe: bool, past_cooks: int = PAST_COOKS) -> LossCase | None:
    """A kitchen's past cooks and then one with this cause, beside its untroubled twin; None where no draw in eight costs from 12 to 90 min."""
    home = kitchen(seed)
    past_plans = tuple(plain(home.plan(i), wall_probe) for i in range(past_cooks))
    past = [cooked(one, i) for i, one in enumerate(past_plans)]
    plan = plain(home.plan(PAST_COOKS), wall_probe)
    twin, untroubled = cooked(plan, PAST_COOKS)
    rng = np.random.default_rng([seed, 77, list(Cause).index(cause)])
    for _ in range(8):
        wrong, late_s = troubled(plan, cause, rng)
        history, run = cooked(wrong, PAST_COOKS, late_s)
        effect_s = (run.ended - run.lid_on) - (untroubled.ended - untroubled.lid_on)
        if cause is not Cause.LATE_CHECK:
            effect_s = run.total_s - untroubled.total_s
        # A sample that seemed clear too early is a trouble of its own.
        if run.got_clear and run.checks > 1 and LEAST_EFFECT_S <= effect_s <= LONGEST_EFFECT_S:
            histories, runs = tuple(one[0] for one in past), tuple(one[1] for one in past)
            return LossCase(cause, effect_s, histories, past_plans, runs, twin, plan, untroubled, history, wrong, run)
    return None
