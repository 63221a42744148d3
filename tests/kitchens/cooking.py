"""One cook, closed loop: the policy hears what the monitor would hear and says when to check; the person obeys."""

import math
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np

from monitor.estimation.scheduling import Costs
from monitor.model import Batch
from monitor.simulator.plant import Controls
from tests.kitchens.kitchen import CookPlan, Kitchen, Pot
from tests.kitchens.samples import (
    STAGE_MAKER_SD,
    STAGE_TOLD,
    TITRATION_EVERY_S,
    TITRATION_FIRST_S,
    check_result,
    paste_stage,
    titration,
)
from tests.kitchens.trouble import Kind, Trouble

FIRST_COOK = 1_780_300_800.0
BETWEEN_COOKS_S = 3 * 86_400.0
LONGEST_COOK_S = 16 * 3600.0
MOST_CHECKS = 60
ASK_EVERY_S = 300.0
CHECK_TAKES_S = 30.0
# The virtual world goes in steps of this; readings come as often unless asked for oftener.
STEP_S = 10.0


class Answer(Protocol):
    """What of an outlook the person and the benchmark use. Unix seconds."""

    @property
    def clear_at(self) -> tuple[float | None, float | None, float | None]: ...
    @property
    def check_due(self) -> float | None: ...
    @property
    def chance_clear(self) -> float | None: ...


class Policy(Protocol):
    """What tells the person when to check. One object for one cook."""

    def begin(self, batch: Batch, started: float) -> None:
        """The cook begins (Unix seconds)."""
        ...

    def reading(self, at: float, paste_c: float | None, wall_c: float | None) -> None:
        """Readings of one moment; paste None where the probe is open, wall None where there is none."""
        ...

    def event(self, at: float, kind: str, fields: dict[str, str | float]) -> None:
        """Something the person logged."""
        ...

    def ask(self, now: float) -> Answer:
        """The outlook now."""
        ...


@dataclass
class CookRun:
    """What became of a cook. Unix seconds; ``true_clear`` is when the residual fat first fell below the threshold.

    last_unclear: when a sample last was not clear. first_chance: what the policy gave as the chance of clear when the
    first check was taken. first_clear: whether that check was clear.
    """

    batch: Batch
    lid_on: float
    troubles: tuple[Trouble, ...] = ()
    true_clear: float = math.nan
    ended: float = math.nan
    checks: int = 0
    stirs: int = 0
    got_clear: bool = False
    asked: list[tuple[float, Answer]] = field(default_factory=list)
    last_unclear: float = -math.inf
    first_chance: float | None = None
    first_clear: bool = False

    @property
    def disturbed(self) -> bool:
        """Whether anything went wrong in it."""
        return bool(self.troubles)

    @property
    def over_min(self) -> float:
        """Minutes cooked past clear."""
        return max(0.0, (self.ended - self.true_clear) / 60.0)

    def cost_min(self, costs: Costs) -> float:
        """What the checks and the minutes past clear cost together, in minutes of labour."""
        return costs.check_min * self.checks + costs.overcook_per_min * self.over_min

    @property
    def total_s(self) -> float:
        """The true time from lid on to clear."""
        return self.true_clear - self.lid_on

    def answer_at(self, fraction: float) -> Answer | None:
        """What the policy said at this fraction of the true time, or None when the cook had ended by then."""
        moment = self.lid_on + fraction * self.total_s
        if self.ended < moment or not self.asked:
            return None
        return min(self.asked, key=lambda asked: abs(asked[0] - moment))[1]


class _PasteProbe:
    """Lag, offset, noise and steps of one thermocouple."""

    def __init__(self, plan: CookPlan, rng: np.random.Generator) -> None:
        self._probe = plan.probe
        self._noise = iter(rng.normal(0.0, plan.probe.noise_c, int(2 * LONGEST_COOK_S)).tolist())
        self._felt_c: float | None = None

    def read(self, true_c: float, step_s: float) -> float:
        if self._felt_c is None:
            self._felt_c = true_c
        self._felt_c += (true_c - self._felt_c) * -math.expm1(-step_s / self._probe.lag_s)
        said: float = self._felt_c + self._probe.offset_c + next(self._noise)
        return round(said / self._probe.step_c) * self._probe.step_c


def cook(kitchen: Kitchen, index: int, policy: Policy, sample_s: float = STEP_S) -> CookRun:
    """Cooks the kitchen's cook of this index under the policy, to the first clear check (or 16 h).

    sample_s: from 1 to 10, a divisor of 10.
    """
    return _Driver(kitchen.plan(index), FIRST_COOK + index * BETWEEN_COOKS_S, policy, sample_s).run()


class _Driver:
    """The state of one cook under way. ``_elapsed_s`` counts from lid on and is negative while blending."""

    def __init__(self, plan: CookPlan, started: float, policy: Policy, sample_s: float) -> None:
        self._plan = plan
        self._policy = policy
        self._sample_s = sample_s
        self._pot: Pot = plan.new_pot()
        # Streams of their own, so that a check more does not change the stirs.
        self._stir_rng, self._eye_rng, self._delay_rng, noise_rng, self._stage_rng, self._titration_rng = (
            np.random.default_rng([*plan.seed, stream]) for stream in range(6)
        )
        # A maker's idea of the stages is the same in all cooks.
        self._stage_ln = np.random.default_rng(plan.seed[:-1]).normal(0.0, STAGE_MAKER_SD)
        self._titrated = 0
        self._paste = _PasteProbe(plan, noise_rng)
        blend_s = math.ceil(plan.person.blend_s / STEP_S) * STEP_S
        self._elapsed_s = -blend_s
        self._lid_on = started + blend_s
        self._busy_until_s = -math.inf
        self._busy_at = ""
        self._stir_at_s = self._next_stir()
        self._check_at_s = math.inf
        self._ask_at_s = 0.0
        self._heat_logged = False
        self._run = CookRun(plan.batch, self._lid_on, plan.troubles)
        self._is_over = False
        policy.begin(plan.batch, started)

    def run(self) -> CookRun:
        run = self._run
        self._log("lye in", {})
        while not run.got_clear and self._elapsed_s < LONGEST_COOK_S and run.checks < MOST_CHECKS:
            self._person()
            self._world(True)
        run.ended = self._lid_on + self._elapsed_s
        self._is_over = True
        self._log("heat off", {})
        self._log("finished", {})
        while math.isnan(run.true_clear):
            # The cook is over but was not truly clear: when would it have been?
            self._stirring_only()
            self._world(False)
            if self._elapsed_s > 4 * LONGEST_COOK_S:
                run.true_clear = self._lid_on + self._elapsed_s
        return run

    def _log(self, kind: str, fields: dict[str, str | float]) -> None:
        self._policy.event(self._lid_on + self._elapsed_s, kind, fields)

    def _world(self, sampled: bool) -> None:
        troubles = [trouble for trouble in self._plan.troubles if trouble.holds(self._elapsed_s)]
        heat = min([1.0, *(trouble.heat for trouble in troubles)])
        left_off = any(trouble.kind is Kind.LID_LEFT_OFF for trouble in troubles)
        blending = self._elapsed_s < 0.0
        controls = Controls(heat, not (blending or self._busy_at or left_off), blending)
        probe_open = any(trouble.kind is Kind.PROBE_OPEN for trouble in troubles)
        for _ in range(round(STEP_S / self._sample_s) if sampled else 1):
            step_s = self._sample_s if sampled else STEP_S
            self._pot.advance(controls, step_s)
            self._elapsed_s += step_s
            if sampled:
                paste_c = self._paste.read(self._pot.paste_c, step_s)
                wall_c = round(self._pot.wall_c * 4.0) / 4.0 if self._plan.wall_probe else None
                self._policy.reading(self._lid_on + self._elapsed_s, None if probe_open else paste_c, wall_c)
            if math.isnan(self._run.true_clear) and self._pot.residual < self._plan.person.clear_below:
                self._run.true_clear = self._lid_on + self._elapsed_s

    def _person(self) -> None:
        if abs(self._elapsed_s) < STEP_S / 2:
            self._log("thick trace", {})
            self._log("lid on", {})
        if self._elapsed_s < 0.0:
            return
        self._log_heat()
        if self._busy_at == "check" and self._elapsed_s >= self._busy_until_s:
            self._look()
            if self._run.got_clear:
                return
        self._stirring_only()
        self._titrating_only()
        if not self._busy_at and self._elapsed_s >= self._check_at_s:
            if not self._run.checks:
                self._run.first_chance = self._policy.ask(self._lid_on + self._elapsed_s).chance_clear
            self._busy_at, self._busy_until_s = "check", self._elapsed_s + CHECK_TAKES_S
        if self._elapsed_s >= self._ask_at_s:
            self._ask()

    def _ask(self) -> None:
        now = self._lid_on + self._elapsed_s
        answer = self._policy.ask(now)
        self._run.asked.append((now, answer))
        self._ask_at_s = (math.floor(self._elapsed_s / ASK_EVERY_S) + 1.0) * ASK_EVERY_S
        if answer.check_due is None:
            return
        due_s = answer.check_due - self._lid_on
        if due_s <= self._elapsed_s:
            if math.isinf(self._check_at_s):
                delay_s = self._delay_rng.uniform(0.0, self._plan.person.longest_delay_s)
                self._check_at_s = self._elapsed_s + delay_s
        else:
            self._ask_at_s = min(self._ask_at_s, due_s)

    def _look(self) -> None:
        person = self._plan.person
        seems = self._pot.residual * math.exp(self._eye_rng.normal(0.0, person.eye))
        result = check_result(person, seems)
        self._run.checks += 1
        self._run.got_clear = result == "clear"
        self._run.first_clear |= self._run.got_clear and self._run.checks == 1
        if not self._run.got_clear:
            self._run.last_unclear = self._lid_on + self._elapsed_s
        self._busy_at, self._check_at_s, self._ask_at_s = "", math.inf, self._elapsed_s
        self._log("checked", {"result": result})

    def _stirring_only(self) -> None:
        person = self._plan.person
        if self._busy_at == "stir" and self._elapsed_s >= self._busy_until_s:
            self._pot.stir(person.thoroughness)
            self._busy_at = ""
            self._run.stirs += 1
            self._stir_at_s = self._next_stir()
            if not self._is_over:
                self._log("stirred", {})
                if person.tells_stages and self._stage_rng.random() < STAGE_TOLD:
                    self._log("looked", {"paste": paste_stage(self._pot.residual, self._stage_ln, self._stage_rng)})
        if not self._busy_at and self._elapsed_s >= self._stir_at_s:
            self._busy_at, self._busy_until_s = "stir", self._elapsed_s + person.stir_takes_s

    def _titrating_only(self) -> None:
        if self._busy_at == "titration" and self._elapsed_s >= self._busy_until_s:
            self._busy_at = ""
            self._titrated += 1
            plan = self._plan
            self._log("titrated", titration(plan.batch, plan.excess, self._pot.residual, self._titration_rng))
        due_s = TITRATION_FIRST_S + self._titrated * TITRATION_EVERY_S
        if not self._busy_at and self._titrated < self._plan.person.titrations and self._elapsed_s >= due_s:
            self._busy_at, self._busy_until_s = "titration", self._elapsed_s + CHECK_TAKES_S

    def _next_stir(self) -> float:
        person = self._plan.person
        interval_s = person.stir_every_s * math.exp(self._stir_rng.normal(0.0, person.stir_jitter))
        if self._stir_rng.random() < person.forgets:
            interval_s *= 2.0
        return max(0.0, self._elapsed_s) + interval_s

    def _log_heat(self) -> None:
        down = any(t.kind is Kind.TURNED_DOWN and t.logged and t.holds(self._elapsed_s) for t in self._plan.troubles)
        if down != self._heat_logged:
            self._heat_logged = down
            self._log("heat", {"setting": "low" if down else "high"})
