"""Virtual cooks with one fault, and from when it is visible.

A fault is visible from the moment at which readings differ from what a sound cook could give; each says below how that
moment is told. What happens to the cooker is held against the same cook without it, minute by minute, stirs and noise
alike.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from scipy.special import erf

from monitor.alarms.window import UNSTATED_TOLERANCE_C
from monitor.estimation.scheduling import STIR_EVERY_S
from monitor.model import Event, Floats, History, Series, series_from
from tests.alarms.cooks import FIRST_CHECK_S, SIMMERS_C, SixHours, cooked
from tests.kitchens.trouble import FOR_GOOD_S, Kind, Trouble

# Faults begin at this place in the cook.
FAULT_S = 8000.0
# A paste is visibly falling once it is this much colder than in the same cook without the fault, and each third of
# the time in which a stir comes and goes has lost a third of that; not while a lid that was logged open is all that
# the last third need show.
LOST_C, FALLING_S = 2.5, 540.0
# A cooker turned up, or whose thermostat sticks, gives so many times its heat (judgement).
TURNED_UP_FROM, TURNED_UP_TO = 1.3, 2.0
# Warm sound virtual cooks climb by up to 6.1 degC in an hour, dips left out.
UNLIKE_C = 7.0
HOT_FOR_S = 30.0


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


def _when_overdue_stir(one: SixHours, begins: float) -> float:
    stirs = [one.start, *(event.measured for event in one.history.events_of("stirred") if event.measured < begins)]
    gaps = [later - earlier for earlier, later in pairwise(stirs)]
    if len(stirs) < 3:
        return stirs[-1] + STIR_EVERY_S + 3600.0
    return stirs[-1] + max(STIR_EVERY_S + 1200.0, 1.7 * float(np.median(gaps)))


def _when_overdue_check(one: SixHours, begins: float) -> float:
    return one.start + FIRST_CHECK_S + 1200.0


_COOLING = ("paste cooling", "lid left off", "paste cold", "wall and paste apart")
_READINGS: dict[str, _InReadings] = {
    "probe open": _InReadings(_broken("open circuit"), ("paste probe open",), _at_once),
    "probe shorted": _InReadings(_broken("short to ground"), ("paste probe shorted",), _at_once),
    "probe frozen": _InReadings(_frozen, ("paste probe frozen",), _after_run),
    "probe jumps": _InReadings(_jumped, ("paste probe jumped",), _hands_off),
    "impossible value": _InReadings(_spiked, ("paste probe jumped",), _at_once),
    "no data": _InReadings(_silent, ("no data",), _after_missed),
    "no paste data": _InReadings(_paste_silent, ("no paste data",), lambda one, begins: begins + 40.0),
    "probe creeps out": _InReadings(_drifted, _COOLING, _when_apart),
    "no stir": _InReadings(_unstirred, ("stir overdue",), _when_overdue_stir),
    "no check": _InReadings(_unchecked, ("check overdue",), _when_overdue_check),
}
_HAPPENS: dict[str, tuple[Trouble, tuple[str, ...]]] = {
    "power cut": (Trouble(Kind.POWER_CUT, FAULT_S, FAULT_S + 3600.0, 0.0), _COOLING),
    "lid left off": (Trouble(Kind.LID_LEFT_OFF, FAULT_S, FAULT_S + 3600.0), _COOLING),
    "never on": (Trouble(Kind.POWER_CUT, 0.0, FOR_GOOD_S, 0.0), _COOLING),
}
# Turned up from so many seconds after the lid went on.
_HOT = {"boil-over": FAULT_S, "boil-over from the start": 0.0}
# Off, logged and forgotten: after ten minutes nobody wants it off any more (judgement).
_LID_LOGGED, LID_FORGOTTEN_S = "lid logged off", 600.0
FAULTS = (*_READINGS, *_HAPPENS, _LID_LOGGED, *_HOT)


def faulty_cook(fault: str, strange: bool, seed: int, sample_s: float = 10.0) -> Faulty | None:
    """The cook of a seed with this fault; None where the cook never shows it."""
    sound = cooked(strange, seed, sample_s)
    start = sound.start
    if fault in _READINGS:
        kind = _READINGS[fault]
        begins = start + kind.at_s
        shows = kind.shown(sound, begins)
        if shows is None:
            return None
        return Faulty(kind.make(sound.history, begins), start, begins, shows, kind.expected)
    if fault in _HOT:
        begins = start + _HOT[fault]
        heat = float(np.random.default_rng([seed, int(strange)]).uniform(TURNED_UP_FROM, TURNED_UP_TO))
        hot = cooked(strange, seed, sample_s, turned_up=(heat, _HOT[fault]))
        visible = _hot_from(hot, sound, begins)
        return None if visible is None else Faulty(hot.history, start, begins, visible, ("near boil-over",))
    if fault == _LID_LOGGED:
        open_lid, _ = _HAPPENS["lid left off"]
        begins = start + open_lid.begins_s
        history = _with_event(cooked(strange, seed, sample_s, (open_lid,)).history, "lid off", begins)
        return Faulty(history, start, begins, begins + LID_FORGOTTEN_S, ("lid left off",))
    trouble, expected = _HAPPENS[fault]
    history = cooked(strange, seed, sample_s, (trouble,)).history
    visible = _falls_from(history, sound.history, start + max(trouble.begins_s, 1200.0), start + trouble.ends_s)
    return None if visible is None else Faulty(history, start, start + trouble.begins_s, visible, expected)


def _minutes(history: History) -> tuple[Floats, Floats]:
    """The paste's means over the minute up to each reading: Unix seconds and degC, shape (n,)."""
    at, value = history.temperature_c("paste")
    width = max(1, round(60.0 / float(np.median(np.diff(at)))))
    return at[width - 1 :], np.convolve(value, np.ones(width) / width, "valid")


def _falls_from(history: History, sound: History, begins: float, ends: float) -> float | None:
    """When the paste has lost enough, and for longer than a stir takes, for anybody to see it in the readings."""
    lids = np.array([event.measured for event in history.events_of("stirred", "checked")])
    at, level = _minutes(history)
    sound_at, sound_c = _minutes(sound)
    thirds = [np.interp(at - FALLING_S * part / 3, at, level, left=np.nan) for part in range(4)]
    with np.errstate(invalid="ignore"):
        falling = np.all([earlier - later >= LOST_C / 3 for later, earlier in pairwise(thirds)], axis=0)
    falling &= (np.interp(at, sound_at, sound_c) - level >= LOST_C) & (at >= begins) & (at <= ends)
    falling &= ~((at[:, None] >= lids) & (at[:, None] < lids + FALLING_S / 3)).any(axis=1)
    return float(at[np.argmax(falling)]) if falling.any() else None


def _hot_from(hot: SixHours, sound: SixHours, begins: float) -> float | None:
    """When the paste is truly hotter than a sound one, and its probe begins to say for half a minute, by means of one, what none would.

    That is more than a sound paste by a probe that nobody has described and that reads its tolerance high; or, in a
    cook that had settled, as much as a sound paste at the most and far more than an hour before and than this cook
    without the fault.
    """
    if sound.hottest_c >= SIMMERS_C:
        return None
    at, level = _minutes(hot.history)
    over_c = level - np.maximum(np.interp(at - 3600.0, at, level), np.interp(at, *_minutes(sound.history)))
    told = level >= SIMMERS_C + UNSTATED_TOLERANCE_C
    if begins > sound.start:
        told |= (level >= SIMMERS_C) & (over_c >= UNLIKE_C)
    told &= (at >= begins) & (np.interp(at, hot.true_at, hot.true_c) >= SIMMERS_C)
    # A single mean on the limit is noise.
    running = 1 + round(HOT_FOR_S / float(np.median(np.diff(at))))
    told = np.convolve(told, np.ones(running), "full")[running - 1 :] >= running
    return float(at[np.argmax(told)]) if told.any() else None
