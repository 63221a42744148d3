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
    """Something the person did. kind, fields: as a logged event; at: Unix seconds when it was done."""

    kind: str
    at: float
    fields: Mapping[str, FieldValue] = field(default_factory=lambda: MappingProxyType({}))


def action_text(deed: Action) -> str:
    """What was done, for whoever watches.

    >>> action_text(Action("checked", 0.0, {"result": "hazy"}))
    'The virtual person: checked (result hazy).'
    """
    details = ", ".join(f"{name.replace('_', ' ')} {value}" for name, value in deed.fields.items())
    return f"The virtual person: {deed.kind}{f' ({details})' if details else ''}."


@dataclass(frozen=True, slots=True)
class Behaviour:
    """How this person works. Seconds throughout.

    stir_lateness_s: the mean of how late they come to a stir. check_lateness_s: the longest they take to come.
    eye: one sigma, in ln of residual fat, of what they make of a sample.
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
    eye: float = 0.15  # 0 to 0.5


@dataclass(frozen=True, slots=True)
class Observed:
    """What a person may know of the cook so far, Unix seconds; None where it has not happened."""

    lid_on: float
    last_stir: float | None = None
    last_check: float | None = None


class Advisor(Protocol):
    """What tells the person when to stir and when to check."""

    def due(self, seen: Observed) -> tuple[float, float]:
        """Unix seconds of the next stir and of the next check; infinite where none is due."""
        ...


class FixedPractice:
    """Stir at a fixed interval; look at three hours and every half hour after (common practice, no source)."""

    def __init__(self, habits: Behaviour) -> None:
        self._habits = habits

    def due(self, seen: Observed) -> tuple[float, float]:
        stir = (seen.lid_on if seen.last_stir is None else seen.last_stir) + self._habits.stir_every_s
        if seen.last_check is None:
            return stir, seen.lid_on + self._habits.first_check_s
        return stir, seen.last_check + self._habits.recheck_s


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
    """Does what the monitor asks, and falls back on fixed practice while it says nothing."""

    def __init__(self, ask: Callable[[], DueAdvice | None], otherwise: Advisor) -> None:
        self._ask = ask
        self._otherwise = otherwise

    def due(self, seen: Observed) -> tuple[float, float]:
        outlook = self._ask()
        last_deed = max(seen.lid_on, seen.last_stir or 0.0, seen.last_check or 0.0)
        if outlook is None or outlook.elapsed_s is None:
            return self._otherwise.due(seen)
        if outlook.t < last_deed:
            return math.inf, math.inf
        return (
            math.inf if outlook.stir_due is None else outlook.stir_due,
            math.inf if outlook.check_due is None else outlook.check_due,
        )


def look_at_sample(residual: float, eye: float, chance: Random) -> str:
    """What a person makes of a dissolved sample: clear below about 1 % of residual fat, hazy to 3.5 %, else cloudy."""
    seems = max(residual, 1e-9) * math.exp(chance.gauss(0.0, eye))
    if seems < CLEAR_BELOW:
        return "clear"
    return "hazy" if seems < HAZY_BELOW else "cloudy"


class Busy(Enum):
    """What the person is at."""

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
# A person looks at the clock or the phone this often.
GLANCE_S = 30.0


class Operator:
    """One person through one cook. Feed ``act`` with ever later moments; read what the hands do from ``controls``."""

    def __init__(self, habits: Behaviour, guide: Advisor, chance: Random, began: float) -> None:
        self._habits = habits
        self._guide = guide
        self._chance = chance
        self._busy = Busy.WARMING_OILS
        self._until = began + habits.oils_warm_s
        self._seen: Observed | None = None
        self._next_glance = began
        self._stir_at = self._check_at = math.inf
        self._sampled = began
        self._result = ""
        self._heat = HEAT_SETTINGS["high"]
        self.checks = 0
        self.stirs = 0

    @property
    def busy(self) -> Busy:
        """What the person is at now."""
        return self._busy

    @property
    def controls(self) -> Controls:
        """How the cooker stands under the person's hands."""
        covered = self._busy in (
            Busy.WAITING,
            Busy.DISSOLVING,
            Busy.COOLING_SAMPLE,
            Busy.READING_PH,
            Busy.DONE,
        )
        return Controls(self._heat, covered, self._busy is Busy.BLENDING)

    def act(self, now: float, residual: float, ph: float) -> list[Action]:
        """What the person does at ``now`` (Unix seconds).

        residual: fraction of the fat left, which only a dissolved sample shows them. ph: what a sample reads.
        """
        if self._busy is Busy.WAITING:
            self._wait(now)
            return []
        if now < self._until:
            return []
        if self._busy is Busy.WARMING_OILS:
            self._turn_to(Busy.BLENDING, now + self._habits.blend_s)
            return [Action("lye in", now)]
        if self._busy is Busy.BLENDING:
            self._turn_to(Busy.COVERING, now + COVER_S)
            return [Action("thick trace", now)]
        if self._busy is Busy.COVERING:
            self._seen = Observed(now)
            self._turn_to(Busy.WAITING, now)
            return [Action("lid on", now)]
        if self._busy is Busy.STIRRING:
            self.stirs += 1
            return self._back_to_waiting(now, [Action("stirred", now)])
        if self._busy is Busy.SAMPLING:
            self._result = look_at_sample(residual, self._habits.eye, self._chance)
            self._sampled = now
            self._turn_to(Busy.DISSOLVING, now + self._habits.sample_dissolves_s)
            return []
        if self._busy is Busy.DISSOLVING:
            return self._judge(now)
        if self._busy is Busy.COOLING_SAMPLE:
            self._turn_to(Busy.READING_PH, now + self._habits.dip_s)
            return []
        if self._busy is Busy.READING_PH:
            self._turn_to(Busy.DONE, math.inf)
            reading = {"ph": round(ph, 2), "sample_percent": SAMPLE_PERCENT, "temperature_c": SAMPLE_C}
            return [Action("ph read", now, MappingProxyType(reading)), Action("finished", now)]
        return []

    def _judge(self, now: float) -> list[Action]:
        self.checks += 1
        deeds = [Action("checked", self._sampled, MappingProxyType({"result": self._result}))]
        if self._result != "clear":
            return self._back_to_waiting(now, deeds)
        self._heat = 0.0
        self._turn_to(Busy.COOLING_SAMPLE, now + self._habits.sample_cools_s)
        return [*deeds, Action("heat off", now)]

    def _wait(self, now: float) -> None:
        if self._seen is None:
            raise RuntimeError("the person waits before the lid is on")
        if now >= self._next_glance:
            self._next_glance = now + GLANCE_S
            stir_due, check_due = self._guide.due(self._seen)
            if stir_due <= now and math.isinf(self._stir_at):
                lateness_s = self._habits.stir_lateness_s
                self._stir_at = now + min(self._chance.expovariate(1.0), 4.0) * lateness_s
            if check_due <= now and math.isinf(self._check_at):
                self._check_at = now + self._chance.uniform(0.0, self._habits.check_lateness_s)
        if self._check_at <= now:
            self._turn_to(Busy.SAMPLING, now + self._habits.sample_takes_s)
        elif self._stir_at <= now:
            self._turn_to(Busy.STIRRING, now + self._habits.stir_takes_s)

    def _back_to_waiting(self, now: float, deeds: list[Action]) -> list[Action]:
        if self._seen is None:
            raise RuntimeError("the person waits before the lid is on")
        last_stir, last_check = self._seen.last_stir, self._seen.last_check
        if self._busy is Busy.STIRRING:
            last_stir, self._stir_at = now, math.inf
        else:
            last_check, self._check_at = self._sampled, math.inf
        self._seen = Observed(self._seen.lid_on, last_stir, last_check)
        self._next_glance = now + GLANCE_S
        self._turn_to(Busy.WAITING, now)
        return deeds

    def _turn_to(self, busy: Busy, until: float) -> None:
        self._busy = busy
        self._until = until
