"""Virtual cooks to hold conditions against: normal ones of six hours, and the same with something done to the cooker.

A normal cook is told by what is true of it, not by what its probe reads: the person stirs as the trade does, nothing
goes wrong, and the paste stays clear of its boil.
"""

import contextlib
import math
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from monitor.alarms.active import DueTimes
from monitor.estimation.scheduling import STIR_EVERY_S
from monitor.model import Floats, History
from monitor.simulator.plant import Controls
from tests.kitchens.adapter import Monitor
from tests.kitchens.cooking import STEP_S, Policy, cook
from tests.kitchens.kitchen import Kitchen, Person, Pot, Probe, kitchen
from tests.kitchens.rules import Says
from tests.kitchens.stranger import stranger
from tests.kitchens.trouble import Trouble

NORMAL_S = 6 * 3600.0
# Common practice (no source): stir every 30 to 40 minutes; a tenth of that early or late, one sigma, at the most.
STIRS_FROM_S, STIRS_TO_S, STIR_JITTER = 1800.0, 2400.0, 0.1
# Virtual makers stir every so many seconds (tests.kitchens.kitchen.draw_person).
DRAWN_FROM_S, DRAWN_TO_S = 1500.0, 3600.0
# A pot whose paste is truly this hot, 2.5 degC under the boil of the virtual pots, is no normal one.
SIMMERS_C = 99.0
# Common practice (no source): look at three hours, then every half hour.
FIRST_CHECK_S, CHECK_EVERY_S = 10_800.0, 1800.0


class HeardError(Exception):
    """The six hours are over, and what would be cooked after them need not be."""


class Ears(Policy):
    """Hears a cook of six hours in which no sample ever reads clear to the person, who looks as fixed practice says.

    Raises HeardError at their end.
    """

    def __init__(self) -> None:
        self.monitor = Monitor()
        self.start = 0.0
        self._due = math.inf

    def begin(self, batch: object, started: float) -> None:
        self.monitor.begin(batch, started)  # type: ignore[arg-type]

    def reading(self, at: float, paste_c: float | None, wall_c: float | None) -> None:
        if self.start and at > self.start + NORMAL_S:
            raise HeardError
        self.monitor.reading(at, paste_c, wall_c)

    def event(self, at: float, kind: str, fields: dict[str, str | float]) -> None:
        if kind == "lid on":
            self.start, self._due = at, at + FIRST_CHECK_S
        elif kind == "checked":
            self._due = at + CHECK_EVERY_S
        self.monitor.event(at, kind, fields)

    def ask(self, now: float) -> Says:
        return Says(self._due)


def rule_of_thumb(history: History, start: float) -> DueTimes:
    """When a stir and a check are due by fixed practice."""
    stirs = [start, *(event.measured for event in history.events_of("stirred"))]
    checks = history.events_of("checked")
    check = checks[-1].measured + CHECK_EVERY_S if checks else start + FIRST_CHECK_S
    return DueTimes(stirs[-1] + STIR_EVERY_S, check)


class Watched:
    """A pot whose paste's true temperature is kept.

    turned_up: times the usual heat, from so many seconds after the lye went in.
    """

    def __init__(self, pot: Pot, turned_up: float = 1.0, from_s: float = math.inf) -> None:
        self._pot = pot
        self._turned_up = turned_up
        self._from_s = from_s
        self._elapsed_s = 0.0
        self.truth: list[tuple[float, float]] = []

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
        if self._elapsed_s >= self._from_s:
            controls = replace(controls, heat=controls.heat * self._turned_up)
        self._pot.advance(controls, seconds)
        self._elapsed_s += seconds
        self.truth.append((self._elapsed_s, self._pot.paste_c))

    def stir(self, thoroughness: float) -> None:
        self._pot.stir(thoroughness)


@dataclass(frozen=True)
class SixHours:
    """A cook of six hours. start: when its lid went on, Unix seconds.

    true_at, true_c: what its paste truly was, Unix seconds and degC, shape (n,).
    """

    history: History
    start: float
    true_at: Floats
    true_c: Floats
    probe: Probe

    @property
    def hottest_c(self) -> float:
        """What its paste truly reached, degC."""
        return float(self.true_c.max())


def trades_habit(person: Person) -> Person:
    """The same maker, stirring as the trade does and forgetting no stir."""
    share = (person.stir_every_s - DRAWN_FROM_S) / (DRAWN_TO_S - DRAWN_FROM_S)
    every_s = STIRS_FROM_S + share * (STIRS_TO_S - STIRS_FROM_S)
    return replace(person, stir_every_s=every_s, stir_jitter=min(person.stir_jitter, STIR_JITTER), forgets=0.0)


@lru_cache(maxsize=64)
def cooked(
    strange: bool,
    seed: int,
    sample_s: float,
    troubles: tuple[Trouble, ...] = (),
    any_habit: bool = False,
    turned_up: tuple[float, float] = (1.0, math.inf),
) -> SixHours:
    """A cook with a wall probe. any_habit: the maker stirs as drawn, every 25 to 60 minutes, and forgets.

    turned_up: times the usual heat, and from so many seconds after the lid went on. A person who never sees a clear
    sample goes on for six hours, as a slow kitchen does.
    """
    place: Kitchen = (stranger if strange else kitchen)(seed)
    plan = place.plan(0)
    person = replace(plan.person if any_habit else trades_habit(plan.person), clear_below=0.0)
    blended_s = math.ceil(person.blend_s / STEP_S) * STEP_S
    pot = Watched(plan.new_pot(), turned_up[0], blended_s + turned_up[1])
    plan = replace(plan, wall_probe=True, troubles=troubles, person=person, new_pot=lambda: pot)
    ears = Ears()
    with contextlib.suppress(HeardError):
        cook(replace(place, plan=lambda _: plan), 0, ears, sample_s)
    history = ears.monitor.history()
    elapsed_s, true_c = np.array(pot.truth).T
    return SixHours(history, ears.start, history.started + elapsed_s, true_c, plan.probe)


def normal_cook(
    strange: bool, seed: int, sample_s: float = 10.0, wall: bool = True, any_habit: bool = False
) -> SixHours:
    """A cook of six hours without trouble, perhaps without its wall probe."""
    one = cooked(strange, seed, sample_s, any_habit=any_habit)
    if wall:
        return one
    paste = {name: series for name, series in one.history.series.items() if name != "wall"}
    return replace(one, history=replace(one.history, series=paste))
