"""One kitchen cooked through under the monitor, and what the benchmarks need to know of each cook."""

from dataclasses import dataclass, replace

import numpy as np

from monitor.estimation.scheduling import Costs
from monitor.model import History
from tests.kitchens.adapter import Monitor
from tests.kitchens.cooking import STEP_S, Answer, CookRun, cook
from tests.kitchens.kitchen import BETWEEN_COOKS, COOL_COOKERS, CookPlan, Kitchen, kitchen
from tests.kitchens.stranger import stranger
from tests.kitchens.trouble import Kind, draw_trouble

LEARNING_COOKS = 3
FRACTIONS = (0.25, 0.5, 0.75)
SHARP_EYE = 0.02
# A cooker that settles below this is a cool one, degC.
COOL_C = 86.0
CHECK_MIN, OVERCOOK_PER_MIN = 15.0, 0.25


@dataclass(frozen=True)
class Job:
    """One kitchen to be cooked through.

    strange: one of the structurally different kitchens. scatter: between its cooks, in ln. sample_s: between readings.
    sharp, nearly, stages, titrations: how its maker works. composition: whether oils and water move the need. cool:
    its cooker is a cool one. turned_down: the heat is turned down in its judged cooks, and nothing else goes wrong.
    alone: without the policies to compare with.
    """

    seed: int
    strange: bool = False
    scatter: float = BETWEEN_COOKS
    sample_s: float = STEP_S
    overcook_per_min: float = OVERCOOK_PER_MIN
    sharp: bool = False
    nearly: bool = False
    stages: bool = False
    titrations: int = 0
    composition: bool = False
    cool: bool = False
    turned_down: bool = False
    alone: bool = False

    @property
    def costs(self) -> Costs:
        """The price at which everybody plans and by which they are judged."""
        return Costs(check_min=CHECK_MIN, overcook_per_min=self.overcook_per_min)

    def kitchen(self) -> Kitchen:
        """The kitchen, with its maker's habits."""
        of_seed = stranger if self.strange else kitchen
        cool_cookers = 1.0 if self.cool else COOL_COOKERS
        place = of_seed(self.seed, self.scatter, composition=self.composition, cool_cookers=cool_cookers)
        return Kitchen(place.name, lambda index: self._plan(place.plan(index), index))

    def _plan(self, drawn: CookPlan, index: int) -> CookPlan:
        person = replace(
            drawn.person, says_nearly_clear=self.nearly, tells_stages=self.stages, titrations=self.titrations
        )
        if self.sharp:
            person = replace(person, longest_delay_s=0.0, eye=SHARP_EYE)
        plan = replace(drawn, person=person)
        if self.turned_down and index in (0, LEARNING_COOKS):
            plan = replace(plan, troubles=(draw_trouble(Kind.TURNED_DOWN, np.random.default_rng([*plan.seed, 6])),))
        return plan


@dataclass(frozen=True)
class Told:
    """What was said of the clear time at one fraction of a cook.

    error: of the middle, relative, None if unsaid. width_min: from the 10 to the 90 % point, None if either is unsaid.
    """

    error: float | None
    covered: bool
    width_min: float | None


@dataclass(frozen=True)
class Judged:
    """One cook as the table needs it. told: at each fraction, None where the cook was over by then."""

    checks: int
    over_min: float
    cost_min: float
    disturbed: bool
    turned_down: bool
    cool: bool
    got_clear: bool
    first_chance: float | None
    first_clear: bool
    told: tuple[Told | None, ...] = ()

    @property
    def plain(self) -> bool:
        """Nothing went wrong and the cooker is no cool one."""
        return not self.disturbed and not self.cool


def told(run: CookRun, answer: Answer | None) -> Told | None:
    """How good an answer was, now that the truth is known."""
    if answer is None:
        return None
    low, middle, high = answer.clear_at
    error = None if middle is None else abs(middle - run.true_clear) / run.total_s
    low_holds = low is not None and low <= run.true_clear
    width_min = None if low is None or high is None else (high - low) / 60.0
    return Told(error, low_holds and (high is None or run.true_clear <= high), width_min)


def judged(run: CookRun, plan: CookPlan, costs: Costs) -> Judged:
    """The figures of one run."""
    return Judged(
        run.checks,
        run.over_min,
        run.cost_min(costs),
        run.disturbed,
        any(trouble.kind is Kind.TURNED_DOWN for trouble in plan.troubles),
        plan.plateau_c < COOL_C,
        run.got_clear,
        run.first_chance,
        run.first_clear,
        tuple(told(run, run.answer_at(fraction)) for fraction in FRACTIONS),
    )


def monitored(job: Job, place: Kitchen) -> list[CookRun]:
    """The kitchen's cooks under the monitor, which learns from each."""
    past: list[History] = []
    runs: list[CookRun] = []
    for index in range(LEARNING_COOKS + 1):
        monitor = Monitor(past, job.costs)
        runs.append(cook(place, index, monitor, job.sample_s))
        past = [*past, monitor.history()]
    return runs
