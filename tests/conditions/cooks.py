"""Virtual cooks to hold conditions against: normal ones of six hours, and the same with one fault.

A normal cook is told by what is true of it, not by what its probe reads: the person stirs as the trade does, nothing
goes wrong, and the paste stays clear of its boil. A fault is visible from the moment at which readings differ from
what a sound cook could give; each says below how that moment is told.
"""

import contextlib
import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise

import numpy as np
from scipy.special import erf

from monitor.conditions import Due
from monitor.history import Floats, History, Series, series_from
from monitor.progress.due import STIR_EVERY_S
from monitor.records import Event
from monitor.rig.cooker import Controls
from tests.kitchens.adapter import Monitor
from tests.kitchens.cooking import Policy, cook
from tests.kitchens.kitchen import Kitchen, Person, Pot, Probe, kitchen
from tests.kitchens.rules import Says
from tests.kitchens.stranger import stranger
from tests.kitchens.trouble import FOR_GOOD_S, Kind, Trouble

NORMAL_S = 6 * 3600.0
# Common practice (no source): stir every 30 to 40 minutes; a tenth of that early or late, one sigma, at the most.
STIRS_FROM_S, STIRS_TO_S, STIR_JITTER = 1800.0, 2400.0, 0.1
# Virtual makers stir every so many seconds (tests.kitchens.kitchen.draw_person).
DRAWN_FROM_S, DRAWN_TO_S = 1500.0, 3600.0
# A pot whose paste is truly this hot, 2.5 degC under the boil of the virtual pots, is no normal one.
SIMMERS_C = 99.0
# Common practice (no source): look at three hours, then every half hour.
FIRST_CHECK_S, CHECK_EVERY_S = 10_800.0, 1800.0
# Faults begin at this place in the cook.
FAULT_S = 8000.0
# Falling is visible once this much is lost of what the noise-free paste was, over this long at the least.
LOST_C, FALLING_S = 2.5, 540.0


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


def rule_of_thumb(history: History, start: float) -> Due:
    """When a stir and a check are due by fixed practice."""
    stirs = [start, *(event.measured for event in history.events_of("stirred"))]
    checks = history.events_of("checked")
    check = checks[-1].measured + CHECK_EVERY_S if checks else start + FIRST_CHECK_S
    return Due(stirs[-1] + STIR_EVERY_S, check)


class Watched:
    """A pot whose paste's true temperature is kept."""

    def __init__(self, pot: Pot) -> None:
        self._pot = pot
        self.hottest_c = -math.inf

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
        self._pot.advance(controls, seconds)
        self.hottest_c = max(self.hottest_c, self._pot.paste_c)

    def stir(self, thoroughness: float) -> None:
        self._pot.stir(thoroughness)


@dataclass(frozen=True)
class SixHours:
    """A cook of six hours. start: when its lid went on, Unix seconds; hottest_c: what its paste truly reached."""

    history: History
    start: float
    hottest_c: float
    probe: Probe


def trades_habit(person: Person) -> Person:
    """The same maker, stirring as the trade does and forgetting no stir."""
    share = (person.stir_every_s - DRAWN_FROM_S) / (DRAWN_TO_S - DRAWN_FROM_S)
    every_s = STIRS_FROM_S + share * (STIRS_TO_S - STIRS_FROM_S)
    return replace(person, stir_every_s=every_s, stir_jitter=min(person.stir_jitter, STIR_JITTER), forgets=0.0)


@lru_cache(maxsize=64)
def cooked(
    strange: bool, seed: int, sample_s: float, troubles: tuple[Trouble, ...] = (), any_habit: bool = False
) -> SixHours:
    """A cook with a wall probe. any_habit: the maker stirs as drawn, every 25 to 60 minutes, and forgets.

    A person who never sees a clear sample goes on for six hours, as a slow kitchen does.
    """
    place: Kitchen = (stranger if strange else kitchen)(seed)
    plan = place.plan(0)
    person = replace(plan.person if any_habit else trades_habit(plan.person), clear_below=0.0)
    pot = Watched(plan.new_pot())
    plan = replace(plan, wall_probe=True, troubles=troubles, person=person, new_pot=lambda: pot)
    ears = Ears()
    with contextlib.suppress(HeardError):
        cook(replace(place, plan=lambda _: plan), 0, ears, sample_s)
    return SixHours(ears.monitor.history(), ears.start, pot.hottest_c, plan.probe)


def normal_cook(
    strange: bool, seed: int, sample_s: float = 10.0, wall: bool = True, any_habit: bool = False
) -> SixHours:
    """A cook of six hours without trouble, perhaps without its wall probe."""
    one = cooked(strange, seed, sample_s, any_habit=any_habit)
    if wall:
        return one
    paste = {name: series for name, series in one.history.series.items() if name != "wall"}
    return replace(one, history=replace(one.history, series=paste))


@dataclass(frozen=True)
class Faulty:
    """A cook with a fault. begins, visible, start: Unix seconds. expected: the names of which one must be raised."""

    history: History
    start: float
    begins: float
    visible: float
    expected: tuple[str, ...]


Change = Callable[[Floats, Floats], Floats]


def _with_paste(history: History, change: Change, fault: str | None = None) -> History:
    """The history with the paste's values changed; NaN becomes a fault of these words."""
    series = history.series["paste"]
    value = change(series.measured, series.value)
    faults = [(int(i), fault or "fault") for i in np.flatnonzero(np.isnan(value))]
    changed: Series = series_from("paste", "Cel", series.measured, series.known, value, faults)
    return replace(history, series={**history.series, "paste": changed})


def _with_event(history: History, kind: str, at: float) -> History:
    events = sorted([*history.logged, Event(f"{kind} {at}", kind, at, at)], key=lambda event: event.measured)
    return replace(history, logged=tuple(events))


def _broken(words: str) -> Callable[[History, float], History]:
    def make(history: History, begins: float) -> History:
        return _with_paste(history, lambda at, value: np.where(at >= begins, np.nan, value), words)

    return make


def _frozen(history: History, begins: float) -> History:
    def change(at: Floats, value: Floats) -> Floats:
        held = value[np.searchsorted(at, begins)]
        return np.where(at >= begins, held, value)

    return _with_paste(history, change)


def _jumped(history: History, begins: float) -> History:
    return _with_paste(history, lambda at, value: np.where(at >= begins, value - 30.0, value))


def _spiked(history: History, begins: float) -> History:
    def change(at: Floats, value: Floats) -> Floats:
        spike = np.arange(len(at)) == np.searchsorted(at, begins)
        return np.where(spike, 1024.0, value)

    return _with_paste(history, change)


def _silent(history: History, begins: float) -> History:
    series = {}
    for name, one in history.series.items():
        keep = one.measured < begins
        series[name] = series_from(name, one.unit, one.measured[keep], one.known[keep], one.value[keep])
    return replace(history, series=series)


def _paste_silent(history: History, begins: float) -> History:
    one = history.series["paste"]
    keep = one.measured < begins
    kept = series_from("paste", "Cel", one.measured[keep], one.known[keep], one.value[keep])
    return replace(history, series={**history.series, "paste": kept})


def _drifted(history: History, begins: float) -> History:
    # The probe creeps out of the paste: half a degree a minute.
    return _with_paste(history, lambda at, value: value - np.clip((at - begins) / 120.0, 0.0, 18.0))


def _foaming(history: History, begins: float) -> History:
    """The paste heats by a degree and a half a minute to its boil."""

    def change(at: Floats, value: Floats) -> Floats:
        level = float(np.median(value[(at > begins - 120.0) & (at <= begins)]))
        return np.where(at >= begins, np.minimum(value + (at - begins) / 40.0, value - level + 102.0), value)

    return _with_paste(history, change)


def _unstirred(history: History, begins: float) -> History:
    kept = tuple(event for event in history.logged if event.kind != "stirred" or event.measured < begins)
    return replace(history, logged=kept)


def _unchecked(history: History, begins: float) -> History:
    return replace(history, logged=tuple(event for event in history.logged if event.kind != "checked"))


@dataclass(frozen=True)
class _InReadings:
    """A fault of the readings. shown: (sound cook, when it begins) to the moment from which it can be seen, or None."""

    make: Callable[[History, float], History]
    expected: tuple[str, ...]
    shown: Callable[[SixHours, float], float | None]
    at_s: float = FAULT_S


def _at_once(one: SixHours, begins: float) -> float:
    return begins


def _hands_off(one: SixHours, begins: float) -> float:
    """At once; beside a stir or a look only when the person's hands have been off for five minutes.

    Until then a probe that was moved and one that is broken look alike.
    """
    near = [e.measured for e in one.history.events_of("stirred", "checked") if abs(e.measured - begins) <= 300.0]
    return max(begins, *(at + 300.0 for at in near)) if near else begins


def _after_missed(one: SixHours, begins: float) -> float:
    # Four missed readings, or a quarter of a minute.
    return begins + max(15.0, 4.0 * float(np.median(np.diff(one.history.series["paste"].measured[-50:]))))


def _after_run(one: SixHours, begins: float) -> float | None:
    """When a run of one value is less likely than one in a thousand million, by the probe's true noise.

    The level that repeats most is reckoned with, one in the middle of the converter's step. A noise of less than half
    a step is hidden by the resolution: how often a value repeats then depends on where the level lies, and no reader
    can tell a frozen probe from a steady pot.
    """
    if one.probe.noise_c < one.probe.step_c / 2.0:
        return None
    repeats = float(erf(one.probe.step_c / (2.0 * math.sqrt(2.0) * one.probe.noise_c)))
    step_s = float(np.median(np.diff(one.history.series["paste"].measured[:50])))
    return begins + max(60.0, step_s * math.log(1e-9) / math.log(repeats))


def _when_apart(one: SixHours, begins: float) -> float:
    # Half a degree a minute makes the ten degrees in twenty minutes.
    return begins + 1200.0


def _when_hot(one: SixHours, begins: float) -> float:
    series = one.history.series["paste"]
    near = series.value[(series.measured > begins - 120.0) & (series.measured <= begins)]
    # At 99 degC and a degree and a half a minute it boils within three.
    return begins + max(40.0 * (99.0 - float(np.median(near))), 120.0)


def _when_overdue_stir(one: SixHours, begins: float) -> float:
    stirs = [one.start, *(event.measured for event in one.history.events_of("stirred") if event.measured < begins)]
    gaps = [later - earlier for earlier, later in pairwise(stirs)]
    if len(stirs) < 3:
        return stirs[-1] + STIR_EVERY_S + 3600.0
    return stirs[-1] + max(STIR_EVERY_S + 1200.0, 1.7 * float(np.median(gaps)))


def _when_overdue_check(one: SixHours, begins: float) -> float:
    return one.start + FIRST_CHECK_S + 1200.0


_READINGS: dict[str, _InReadings] = {
    "probe open": _InReadings(_broken("open circuit"), ("paste probe open",), _at_once),
    "probe shorted": _InReadings(_broken("short to ground"), ("paste probe shorted",), _at_once),
    "probe frozen": _InReadings(_frozen, ("paste probe frozen",), _after_run),
    "probe jumps": _InReadings(_jumped, ("paste probe jumped",), _hands_off),
    "impossible value": _InReadings(_spiked, ("paste probe jumped",), _at_once),
    "no data": _InReadings(_silent, ("no data",), _after_missed),
    "no paste data": _InReadings(_paste_silent, ("no paste data",), lambda one, begins: begins + 40.0),
    "probe creeps out": _InReadings(_drifted, ("wall and paste apart", "paste cooling", "lid left off"), _when_apart),
    "near boil-over": _InReadings(_foaming, ("near boil-over",), _when_hot),
    "no stir": _InReadings(_unstirred, ("stir overdue",), _when_overdue_stir),
    "no check": _InReadings(_unchecked, ("check overdue",), _when_overdue_check),
    "lid logged off": _InReadings(
        lambda history, begins: _with_event(history, "lid off", begins),
        ("lid left off",),
        lambda one, begins: begins + 600.0,
    ),
}
_COOLING = ("paste cooling", "lid left off", "paste cold", "wall and paste apart")
_HAPPENS: dict[str, tuple[Trouble, tuple[str, ...]]] = {
    "power cut": (Trouble(Kind.POWER_CUT, FAULT_S, FAULT_S + 3600.0, 0.0), _COOLING),
    "lid left off": (Trouble(Kind.LID_LEFT_OFF, FAULT_S, FAULT_S + 3600.0), _COOLING),
    "never on": (Trouble(Kind.POWER_CUT, 0.0, FOR_GOOD_S, 0.0), _COOLING),
}
FAULTS = (*_READINGS, *_HAPPENS)


def faulty_cook(fault: str, strange: bool, seed: int, sample_s: float = 10.0) -> Faulty | None:
    """The cook of a seed with this fault; None where the cook never shows it."""
    if fault in _READINGS:
        kind = _READINGS[fault]
        one = cooked(strange, seed, sample_s)
        begins = one.start + kind.at_s
        shows = kind.shown(one, begins)
        if shows is None:
            return None
        return Faulty(kind.make(one.history, begins), one.start, begins, shows, kind.expected)
    trouble, expected = _HAPPENS[fault]
    one = cooked(strange, seed, sample_s, (trouble,))
    history, start = one.history, one.start
    visible = _falls_from(history, start + max(trouble.begins_s, 1200.0), start + trouble.ends_s)
    return None if visible is None else Faulty(history, start, start + trouble.begins_s, visible, expected)


def _falls_from(history: History, begins: float, ends: float) -> float | None:
    """When the paste has lost enough, and for longer than a stir takes, for anybody to see it in the readings."""
    at, value = history.temperature_c("paste")
    keep = (at >= begins - 900.0) & (at <= ends)
    at, value = at[keep], value[keep]
    width = max(1, round(60.0 / float(np.median(np.diff(at)))))
    level = np.convolve(value, np.ones(width) / width, "valid")
    at = at[width - 1 :]
    thirds = [np.interp(at - FALLING_S * part / 3, at, level, left=np.nan) for part in range(4)]
    with np.errstate(invalid="ignore"):
        falling = np.all([earlier - later >= LOST_C / 3 for later, earlier in pairwise(thirds)], axis=0)
        falling &= at >= begins
    places = np.flatnonzero(falling)
    return float(at[places[0]]) if len(places) else None
