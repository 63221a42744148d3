"""Conditions of the pot: cold, cooling, an open lid, near boiling over, wall and paste far apart."""

import math

import numpy as np
from numpy.typing import NDArray

from monitor.alarms.intervals import AlarmInterval, Exceedance, Flags, debounce, duration_text
from monitor.alarms.window import BinMeans, Window, median
from monitor.detection import LASTING_C, THIRD_S, WORDS, Cause, cause_at, falls, least_of_thirds
from monitor.model import Floats, History, cook_start

# Below this the soap hardly goes on (judgement); a cook is given this long to warm up.
COLD_C, WARM_C = 70.0, 72.0
WARM_UP_S = 3600.0
COLD_ON_S, COLD_OFF_S = 45.0, 60.0
# A lid is logged when it is on again, and was off for so long before at the most (judgement).
LID_OPEN_S = 120.0
FALL_ON_S = 15.0
COOLING_FROM_S = 1200.0
# Up again: this much in three minutes; or levelled out: less than this lost in ten.
RISE_C = 0.3
LEVEL_S, LEVEL_C = 600.0, 0.3
FALL_OFF_S = 45.0
LID_OFF_S = 600.0
# Soap paste foams up as it nears its boil. A sound one stays truly under this (judgement).
NEARING_C = 99.0
# Headed for it: as much again as in the last minutes leads beyond what a sound paste can seem, by so much.
HEADED_C, AHEAD_S = 1.0, 180.0
# Climbed: this far above what it was at both moments of a pair so many seconds ago, of which one was no dip; sound
# virtual cooks climb by 6.1 at most once they are warm. Heat that is hardly too much takes the hour.
CLIMBED_C, CLIMBS_S = 7.0, ((2400.0, 3000.0), (3300.0, 3900.0))
LOOK_BACK_S = CLIMBS_S[-1][-1]
DEADBAND_C = 1.0
BOIL_ON_S, BOIL_OFF_S = 15.0, 60.0
# How far from its own usual the gap between wall and paste may be, once the cooker has settled.
APART_C, TOGETHER_C = 10.0, 7.0
# An open lid alone may cool the paste by ten degrees before anybody can have logged it.
APART_ON_S, APART_OFF_S = 240.0, 60.0
SETTLED_S = 2700.0
LATEST_S = 600.0
LEAST_MEANS = 60
# What a person did to heat or pot explains what the curve does for so long.
TOLD_BEFORE_S, TOLD_S = 60.0, 2700.0
POURED_S = 900.0
POURED = ("added", "water added", "neutraliser added")
LIFTED = ("stirred", "checked", "looked")


def pot_alarms(window: Window) -> list[AlarmInterval]:
    """Every spell of the pot, the gravest kind first."""
    start = cook_start(window.history)
    if start is None or start > window.now:
        return []
    paste = window.paste
    found: list[AlarmInterval] = []
    if len(paste) and paste.fresh:
        found += _boiling(window, start)
    lid = _lid_logged(window, start)
    found += lid
    if not heat_wanted(window.history, window.now) or not len(paste) or not paste.fresh:
        return found
    cold = _cold(paste, window, start)
    found += [one for one in _cooling(window, start) if not _lasts(one, cold) and not _lasts(one, lid)]
    found += cold
    found += _apart(window, start)
    return found


def _lasts(one: AlarmInterval, others: list[AlarmInterval]) -> bool:
    """Whether it stands beside another that says the same louder."""
    return one.ended is None and any(other.ended is None for other in others)


def hot_at_first(window: Window) -> bool:
    """Whether the paste was hot so early in the window that what it climbed from lies before it."""
    paste = window.paste
    if not len(paste) or float(paste.value.max()) < NEARING_C:
        return False
    early = paste.value[paste.at < window.begin + LOOK_BACK_S]
    return bool(np.any(early >= NEARING_C))


def heat_wanted(history: History, now: float) -> bool:
    """Whether the cooker is meant to be on: nobody has logged that it was turned off, or it is on again."""
    wanted = True
    for event in history.events:
        if event.measured > now:
            break
        if event.kind == "heat":
            wanted = str(event.fields.get("setting", "")).strip().lower() not in ("off", "0")
        elif event.kind == "heat off":
            wanted = False
    return wanted


def _told(window: Window, at: Floats, kinds: tuple[str, ...], lasts_s: float) -> Flags:
    """Where something that was logged explains what the curve does; shape (n,)."""
    flags = np.zeros(len(at), dtype=bool)
    for event in window.history.events:
        if event.kind in kinds and event.measured + lasts_s >= window.begin:
            flags |= (at >= event.measured - TOLD_BEFORE_S) & (at <= event.measured + lasts_s)
    return flags


def _explained(window: Window, paste: BinMeans, start: float) -> NDArray[np.intp]:
    """How many of the three thirds before each mean may fall for a known reason; shape (n,).

    While a cook warms up, the reaction's heat lifts a paste above where its cooker keeps it, and fades; that is as
    good a reason for two of them.
    """
    thirds = []
    for back_s in (0.0, THIRD_S, 2.0 * THIRD_S):
        falls = np.zeros(len(paste), dtype=bool)
        for event in window.history.events_of(*LIFTED):
            since_s = paste.at - back_s - event.measured
            falls |= (since_s > -LID_OPEN_S) & (since_s < THIRD_S)
        thirds.append(falls)
    lifted = np.where(thirds[0], np.sum(thirds, axis=0), 0)
    fades = (paste.at < start + WARM_UP_S) & (paste.value >= WARM_C)
    return np.maximum(lifted, np.where(fades, 2, 0))


def _cold(paste: BinMeans, window: Window, start: float) -> list[AlarmInterval]:
    beyond = (paste.value < COLD_C) & (paste.at >= start + WARM_UP_S)
    found = []
    for stay in debounce(paste.at, beyond, paste.value >= WARM_C, COLD_ON_S, COLD_OFF_S, window.now):
        words = f"The paste is cold, {paste.value[-1]:.0f} °C: look at the cooker's switch and lid."
        found.append(_spell("paste cold", stay, words, "The paste was too cold to cook", window.now))
    return found


def _cooling(window: Window, start: float) -> list[AlarmInterval]:
    value = window.paste.value
    if float(value.max() - value.min()) < 3.0 * LASTING_C[0]:
        return []
    paste = window.paste_minutes
    first = paste.before(3.0 * THIRD_S)
    if not np.count_nonzero(first - paste.value >= 3.0 * LASTING_C[0]):
        return []
    later, median = paste.before(THIRD_S), paste.before(2.0 * THIRD_S)
    with np.errstate(invalid="ignore"):
        least = least_of_thirds(paste.value, later, median, first)
        beyond = (least >= LASTING_C[0]) & (paste.at >= start + COOLING_FROM_S)
        if not beyond.any():
            return []
        beyond &= least >= np.array(LASTING_C)[_explained(window, paste, start)]
        back = (paste.value - later >= RISE_C) | (paste.before(LEVEL_S) - paste.value < LEVEL_C)
    beyond &= ~_told(window, paste.at, ("heat", "heat off"), TOLD_S)
    beyond &= ~_told(window, paste.at, POURED, POURED_S)
    stood = debounce(paste.at, beyond, back, FALL_ON_S, FALL_OFF_S, window.now)
    if not stood:
        return []
    seen, found = falls(window.history, window.now), []
    for stay in stood:
        place = min(int(np.searchsorted(paste.at, stay.began + FALL_ON_S)), len(paste) - 1)
        lost_c = float(first[place] - paste.value[-1])
        # A lid that was logged off is no question.
        lid_off = _lid_off_since(window.history, start, stay.began) is not None
        cause = Cause.LID_OPEN if lid_off else cause_at(seen, stay.began)
        words = f"The paste is cooling, {lost_c:.0f} °C lost, {WORDS[cause].alarm}"
        name = "lid left off" if lid_off else "paste cooling"
        found.append(_spell(name, stay, words, "The paste was cooling", window.now))
    return found


def _lid_logged(window: Window, start: float) -> list[AlarmInterval]:
    """A lid that was logged off and never on again, unless the paste shows that it is on."""
    off = _lid_off_since(window.history, start, window.now)
    if off is None or window.now - off < LID_OFF_S or window.history.events_of("heat off"):
        return []
    paste = window.paste
    if len(paste) and paste.fresh:
        gained_c = float(paste.value[-1] - paste.before(300.0)[-1])
        if gained_c >= 1.0 and not math.isnan(gained_c):
            return []
    words = f"The lid has been off for {duration_text(window.now - off)}: put it on, or log that it is."
    return [AlarmInterval("lid left off", off + LID_OFF_S, None, words)]


def _lid_off_since(history: History, start: float, now: float) -> float | None:
    """Since when a lid is off by what was logged, or None."""
    off: float | None = None
    for event in history.events:
        if event.measured > now:
            break
        if event.kind == "lid off" and event.measured >= start:
            off = event.measured if off is None else off
        elif event.kind == "lid on":
            off = None
    return off


def _boiling(window: Window, start: float) -> list[AlarmInterval]:
    """A paste that is hotter than a sound one can seem by its probe's tolerance, or as a sound one never gets hot.

    While the cook warms up, the reaction's own heat may raise a sound paste by degrees a minute, and ends of itself
    under the limit; so there only what the paste has reached counts. Later nothing but too much heat does that.
    """
    if float(window.paste.value.max()) < NEARING_C:
        return []
    paste, warm_at = window.paste_minutes, start + WARM_UP_S
    limit_c = NEARING_C + window.paste_off_c
    with np.errstate(invalid="ignore"):
        headed = 2.0 * paste.value - paste.before(AHEAD_S) >= limit_c + HEADED_C
        climbed = np.zeros(len(paste), dtype=bool)
        for less_s, more_s in CLIMBS_S:
            rise_c = paste.value - np.maximum(paste.before(less_s), paste.before(more_s))
            climbed |= (rise_c >= CLIMBED_C) & (paste.at >= warm_at + less_s)
    near = (paste.value >= NEARING_C) & ((headed & (paste.at >= warm_at)) | climbed)
    calm = (paste.value < NEARING_C - DEADBAND_C) & ~headed
    hot, cooler = paste.value >= limit_c, paste.value < limit_c - DEADBAND_C
    found = []
    for stay in (
        *debounce(paste.at, near, calm, BOIL_ON_S, BOIL_OFF_S, window.now),
        *debounce(paste.at, hot, cooler, BOIL_ON_S, BOIL_OFF_S, window.now),
    ):
        words = f"The paste is near boiling over, {paste.value[-1]:.0f} °C: turn the heat down and stir; it is caustic."
        found.append(_spell("near boil-over", stay, words, "The paste was near boiling over", window.now))
    return found


def _apart(window: Window, start: float) -> list[AlarmInterval]:
    wall, paste = window.wall, window.paste
    if not len(wall) or not wall.fresh:
        return []
    gap = wall.value - np.interp(wall.at, paste.at, paste.value)
    if float(gap.max() - gap.min()) < APART_C:
        return []
    earlier = (wall.at >= start + SETTLED_S) & (wall.at <= window.now - LATEST_S)
    if np.count_nonzero(earlier) < LEAST_MEANS:
        return []
    usual_c = median(gap[earlier])
    off = np.abs(gap - usual_c)
    beyond = (off >= APART_C) & (wall.at >= start + SETTLED_S)
    if not beyond.any():
        return []
    beyond &= ~_told(window, wall.at, ("heat", "heat off"), TOLD_S)
    found = []
    for stay in debounce(wall.at, beyond, off <= TOGETHER_C, APART_ON_S, APART_OFF_S, window.now):
        advice = "stir, and look at both probes" if gap[-1] > usual_c else "look at the switch and at both probes"
        words = f"Wall and paste are {abs(gap[-1]):.0f} °C apart, usually {abs(usual_c):.0f}: {advice}."
        found.append(_spell("wall and paste apart", stay, words, "Wall and paste were far apart", window.now))
    return found


def _spell(name: str, stay: Exceedance, words: str, was: str, now: float) -> AlarmInterval:
    over = f"{was} for {duration_text((stay.ended or now) - stay.began)}."
    return AlarmInterval(name, stay.began, stay.ended, words, over)
