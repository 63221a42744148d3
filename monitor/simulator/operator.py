"""A virtual person at the cooker, who blends, stirs, checks, reads the pH and ends the cook."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import Enum
from random import Random
from types import MappingProxyType
from typing import Protocol

from monitor.model import FieldValue
from monitor.simulator.plant import HEAT_SETTINGS, Controls

CLEAR_BELOW = 0.01
HAZY_BELOW = 0.035
SAMPLE_PERCENT = 1.0
SAMPLE_C = 25.0


@dataclass(frozen=True, slots=True)
class Action:
    """One action of the person. kind, fields: as in a logged event; at: Unix seconds when it was done."""

    kind: str
    at: float
    fields: Mapping[str, FieldValue] = field(default_factory=lambda: MappingProxyType({}))


def action_text(action: Action) -> str:
    """An action in one sentence.

    >>> action_text(Action("checked", 0.0, {"result": "hazy"}))
    'The virtual person: checked (result hazy).'
    """
    details = ", ".join(f"{name.replace('_', ' ')} {value}" for name, value in action.fields.items())
    return f"The virtual person: {action.kind}{f' ({details})' if details else ''}."


@dataclass(frozen=True, slots=True)
class Behaviour:
    """How this person works; the usual range of each parameter stands beside it. Times in s. All are judgement.

    stir_lateness_s: mean delay of a stir. check_lateness_s: greatest delay of a check. clarity_sigma: standard
    deviation, in ln of the residual fat, of the person's judgement of a sample.
    """

    oils_warm_s: float = 180.0  # 60 to 1800
    blend_s: float = 900.0  # 300 to 2400
    stir_every_s: float = 2100.0  # 1200 to 4800
    stir_lateness_s: float = 240.0  # 0 to 1200
    stir_takes_s: float = 75.0  # 20 to 240
    check_lateness_s: float = 240.0  # 0 to 900
    sample_takes_s: float = 30.0  # 10 to 120
    sample_dissolves_s: float = 180.0  # 60 to 600
    first_check_s: float = 10_800.0  # common practice: at three hours,
    recheck_s: float = 1800.0  # then every half hour
    sample_cools_s: float = 600.0  # 300 to 1800
    dip_s: float = 150.0  # 60 to 300
    thoroughness: float = 0.95  # 0.5 to 1
    clarity_sigma: float = 0.15  # 0 to 0.5


@dataclass(frozen=True, slots=True)
class Observed:
    """What the person may know of the cook so far, Unix seconds; None where it has not happened."""

    lid_on: float
    last_stir: float | None = None
    last_check: float | None = None


class Advisor(Protocol):
    """Says when to stir and when to check."""

    def due(self, observed: Observed) -> tuple[float, float]:
        """The times of the next stir and the next check, Unix seconds; infinite where none is due."""
        ...


class FixedPractice:
    """Stir at a fixed interval; check at three hours and every half hour after (common practice, no source)."""

    def __init__(self, behaviour: Behaviour) -> None:
        self._behaviour = behaviour

    def due(self, observed: Observed) -> tuple[float, float]:
        stir = (observed.lid_on if observed.last_stir is None else observed.last_stir) + self._behaviour.stir_every_s
        if observed.last_check is None:
            return stir, observed.lid_on + self._behaviour.first_check_s
        return stir, observed.last_check + self._behaviour.recheck_s


class DueAdvice(Protocol):
    """What the monitor advises at the moment ``t``. Unix seconds; elapsed_s is None before the cook has started."""

    @property
    def t(self) -> float: ...
    @property
    def elapsed_s(self) -> float | None: ...
    @property
    def stir_due(self) -> float | None: ...
    @property
    def check_due(self) -> float | None: ...


class FollowsOutlook:
    """Does what the monitor asks, and falls back on fixed practice while the monitor has no estimate."""

    def __init__(self, ask: Callable[[], DueAdvice | None], otherwise: Advisor) -> None:
        self._ask = ask
        self._otherwise = otherwise

    def due(self, observed: Observed) -> tuple[float, float]:
        outlook = self._ask()
        last_deed = max(observed.lid_on, observed.last_stir or 0.0, observed.last_check or 0.0)
        if outlook is None or outlook.elapsed_s is None:
            return self._otherwise.due(observed)
        if outlook.t < last_deed:
            return math.inf, math.inf
        return (
            math.inf if outlook.stir_due is None else outlook.stir_due,
            math.inf if outlook.check_due is None else outlook.check_due,
        )


def judge_sample(residual: float, clarity_sigma: float, rng: Random) -> str:
    """The person's judgement of a dissolved sample: clear below 1 % of residual fat, hazy below 3.5 %, else cloudy.

    Parameters
    ----------
    residual : fraction of the fat that is not soap, 0 to 1.
    clarity_sigma : standard deviation of the judgement, in ln of ``residual``.
    rng : source of randomness.
    """
    apparent = max(residual, 1e-9) * math.exp(rng.gauss(0.0, clarity_sigma))
    if apparent < CLEAR_BELOW:
        return "clear"
    return "hazy" if apparent < HAZY_BELOW else "cloudy"


class Activity(Enum):
    """What the person is doing."""

    WARMING_OILS = "warming the oils"
    BLENDING = "blending"
    COVERING = "putting the lid on"
    WAITING = "waiting"
    STIRRING = "stirring"
    SAMPLING = "taking a sample"
    DISSOLVING = "dissolving the sample"
    COOLING_SAMPLE = "cooling the sample"
    READING_PH = "reading the pH"
    DONE = "done"


COVER_S = 60.0
# The interval between two looks at the clock or the phone.
ADVICE_INTERVAL_S = 30.0


class Operator:
    """One person through one cook. Call ``act`` with increasing times; ``controls`` says how the cooker is set."""

    def __init__(self, behaviour: Behaviour, advisor: Advisor, rng: Random, began: float) -> None:
        self._behaviour = behaviour
        self._advisor = advisor
        self._rng = rng
        self._activity = Activity.WARMING_OILS
        self._until = began + behaviour.oils_warm_s
        self._observed: Observed | None = None
        self._next_advice = began
        self._stir_at = self._check_at = math.inf
        self._sampled_at = began
        self._result = ""
        self._heat = HEAT_SETTINGS["high"]

    @property
    def activity(self) -> Activity:
        """What the person is doing now."""
        return self._activity

    @property
    def controls(self) -> Controls:
        """The cooker's settings as the person has left them."""
        covered = self._activity in (
            Activity.WAITING,
            Activity.DISSOLVING,
            Activity.COOLING_SAMPLE,
            Activity.READING_PH,
            Activity.DONE,
        )
        return Controls(self._heat, covered, self._activity is Activity.BLENDING)

    def act(self, now: float, residual: float, ph: float) -> list[Action]:
        """The person's actions at ``now`` (Unix seconds, never decreasing).

        Parameters
        ----------
        residual : fraction of the fat left, which the person learns only from a dissolved sample.
        ph : what a sample reads.
        """
        if self._activity is Activity.WAITING:
            self._wait(now)
            return []
        if now < self._until:
            return []
        if self._activity is Activity.WARMING_OILS:
            self._start(Activity.BLENDING, now + self._behaviour.blend_s)
            return [Action("lye in", now)]
        if self._activity is Activity.BLENDING:
            self._start(Activity.COVERING, now + COVER_S)
            return [Action("thick trace", now)]
        if self._activity is Activity.COVERING:
            self._observed = Observed(now)
            self._start(Activity.WAITING, now)
            return [Action("lid on", now)]
        if self._activity is Activity.STIRRING:
            return self._back_to_waiting(now, [Action("stirred", now)])
        if self._activity is Activity.SAMPLING:
            self._result = judge_sample(residual, self._behaviour.clarity_sigma, self._rng)
            self._sampled_at = now
            self._start(Activity.DISSOLVING, now + self._behaviour.sample_dissolves_s)
            return []
        if self._activity is Activity.DISSOLVING:
            return self._judge_dissolved(now)
        if self._activity is Activity.COOLING_SAMPLE:
            self._start(Activity.READING_PH, now + self._behaviour.dip_s)
            return []
        if self._activity is Activity.READING_PH:
            self._start(Activity.DONE, math.inf)
            reading = {"ph": round(ph, 2), "sample_percent": SAMPLE_PERCENT, "temperature_c": SAMPLE_C}
            return [Action("ph read", now, MappingProxyType(reading)), Action("finished", now)]
        return []

    def _judge_dissolved(self, now: float) -> list[Action]:
        actions = [Action("checked", self._sampled_at, MappingProxyType({"result": self._result}))]
        if self._result != "clear":
            return self._back_to_waiting(now, actions)
        self._heat = 0.0
        self._start(Activity.COOLING_SAMPLE, now + self._behaviour.sample_cools_s)
        return [*actions, Action("heat off", now)]

    def _wait(self, now: float) -> None:
        if self._observed is None:
            raise RuntimeError("the person waits before the lid is on")
        if now >= self._next_advice:
            self._next_advice = now + ADVICE_INTERVAL_S
            stir_due, check_due = self._advisor.due(self._observed)
            if stir_due <= now and math.isinf(self._stir_at):
                lateness_s = self._behaviour.stir_lateness_s
                self._stir_at = now + min(self._rng.expovariate(1.0), 4.0) * lateness_s
            if check_due <= now and math.isinf(self._check_at):
                self._check_at = now + self._rng.uniform(0.0, self._behaviour.check_lateness_s)
        if self._check_at <= now:
            self._start(Activity.SAMPLING, now + self._behaviour.sample_takes_s)
        elif self._stir_at <= now:
            self._start(Activity.STIRRING, now + self._behaviour.stir_takes_s)

    def _back_to_waiting(self, now: float, actions: list[Action]) -> list[Action]:
        if self._observed is None:
            raise RuntimeError("the person waits before the lid is on")
        last_stir, last_check = self._observed.last_stir, self._observed.last_check
        if self._activity is Activity.STIRRING:
            last_stir, self._stir_at = now, math.inf
        else:
            last_check, self._check_at = self._sampled_at, math.inf
        self._observed = Observed(self._observed.lid_on, last_stir, last_check)
        self._next_advice = now + ADVICE_INTERVAL_S
        self._start(Activity.WAITING, now)
        return actions

    def _start(self, activity: Activity, until: float) -> None:
        self._activity = activity
        self._until = until
