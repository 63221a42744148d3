"""Conditions of the pot: cold, cooling, an open lid, near boiling over, wall and paste far apart."""

import math

import numpy as np

from monitor.conditions.spells import Flags, Spell, Stay, span_words, stays
from monitor.conditions.window import Means, Window, middle
from monitor.history import Floats, History, cook_start

# Below this the soap hardly goes on (judgement); a cook is given this long to warm up.
COLD_C, WARM_C = 70.0, 72.0
WARM_UP_S = 3600.0
COLD_ON_S, COLD_OFF_S = 45.0, 60.0
# Falling: this much in each third of nine minutes, longer than any stir takes.
THIRD_S = 180.0
FALL_C = 0.8
FALL_ON_S = 15.0
COOLING_FROM_S = 1200.0
# Up again: this much in three minutes; or levelled out: less than this lost in ten.
RISE_C = 0.3
LEVEL_S, LEVEL_C = 600.0, 0.3
FALL_OFF_S = 45.0
# The gap from paste to wall grows under an open lid and shrinks without heat (degC since before the fall).
OPENED_C = 1.0
LID_OFF_S = 600.0
# Soap paste foams up as it nears its boil; the second is where it is headed within a few minutes.
BOILING_C, BACK_C = 100.5, 99.5
NEARING_C, HEADED_C, AHEAD_S = 99.0, 102.5, 180.0
BOIL_ON_S, HEADED_ON_S, BOIL_OFF_S = 60.0, 15.0, 60.0
# How far from its own usual the gap between wall and paste may be, once the cooker has settled.
APART_C, TOGETHER_C = 10.0, 7.0
APART_ON_S, APART_OFF_S = 30.0, 60.0
SETTLED_S = 2700.0
LATEST_S = 600.0
LEAST_MEANS = 60
# What a person did to heat or pot explains what the curve does for so long.
TOLD_S = 2700.0
POURED_S = 900.0
POURED = ("added", "water added", "neutraliser added")
LIFTED = ("stirred", "checked", "looked")
# One open lid makes one third of the nine minutes fall; two in a row may make all three.
LIFTED_S, AGAIN_S = 120.0, 420.0


def heat_spells(window: Window) -> list[Spell]:
    """Every spell of the pot, the gravest kind first."""
    start = cook_start(window.history)
    if start is None or start > window.now:
        return []
    paste = window.paste
    found: list[Spell] = []
    if len(paste) and paste.fresh:
        found += _boiling(paste, window)
    lid = _lid_logged(window, start)
    found += lid
    if not heat_wanted(window.history, window.now) or not len(paste) or not paste.fresh:
        return found
    cold = _cold(paste, window, start)
    found += [one for one in _cooling(paste, window, start) if not _lasts(one, cold) and not _lasts(one, lid)]
    found += cold
    found += _apart(window, start)
    return found


def _lasts(one: Spell, others: list[Spell]) -> bool:
    """Whether it stands beside another that says the same louder."""
    return one.ended is None and any(other.ended is None for other in others)


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
            flags |= (at >= event.measured - 60.0) & (at <= event.measured + lasts_s)
    return flags


def _lifted(window: Window, at: Floats) -> Flags:
    """Where open lids that were logged may be all that the curve shows; shape (n,)."""
    flags = np.zeros(len(at), dtype=bool)
    before = -math.inf
    for event in window.history.events_of(*LIFTED):
        lasts_s = AGAIN_S if event.measured - before <= 3.0 * THIRD_S else LIFTED_S
        flags |= (at >= event.measured - 60.0) & (at <= event.measured + lasts_s)
        before = event.measured
    return flags


def _cold(paste: Means, window: Window, start: float) -> list[Spell]:
    beyond = (paste.value < COLD_C) & (paste.at >= start + WARM_UP_S)
    found = []
    for stay in stays(paste.at, beyond, paste.value >= WARM_C, COLD_ON_S, COLD_OFF_S, window.now):
        words = f"The paste is cold, {paste.value[-1]:.0f} °C: look at the cooker's switch and lid."
        found.append(_spell("paste cold", stay, words, "The paste was too cold to cook", window.now))
    return found


def _cooling(paste: Means, window: Window, start: float) -> list[Spell]:
    first = paste.before(3.0 * THIRD_S)
    if not np.count_nonzero(first - paste.value >= 3.0 * FALL_C):
        return []
    later, middle = paste.before(THIRD_S), paste.before(2.0 * THIRD_S)
    with np.errstate(invalid="ignore"):
        beyond = (first - middle >= FALL_C) & (middle - later >= FALL_C) & (later - paste.value >= FALL_C)
        beyond &= paste.at >= start + COOLING_FROM_S
        if not beyond.any():
            return []
        back = (paste.value - later >= RISE_C) | (paste.before(LEVEL_S) - paste.value < LEVEL_C)
    beyond &= ~_told(window, paste.at, ("heat", "heat off"), TOLD_S)
    beyond &= ~_told(window, paste.at, POURED, POURED_S)
    beyond &= ~_lifted(window, paste.at)
    found = []
    for stay in stays(paste.at, beyond, back, FALL_ON_S, FALL_OFF_S, window.now):
        place = min(int(np.searchsorted(paste.at, stay.began + FALL_ON_S)), len(paste) - 1)
        lost_c = float(first[place] - paste.value[-1])
        if _gap_opened(window, stay.began - 3.0 * THIRD_S, float(paste.at[place])):
            words = f"The paste has lost {lost_c:.0f} °C while the wall stays hot: is the lid on?"
            found.append(_spell("lid left off", stay, words, "The paste cooled as it does without its lid", window.now))
            continue
        words = f"The paste is cooling, {lost_c:.0f} °C lost: look at the lid, the switch and the plug."
        found.append(_spell("paste cooling", stay, words, "The paste was cooling", window.now))
    return found


def _gap_opened(window: Window, before: float, then: float) -> bool:
    """Whether the wall stayed behind as the paste fell."""
    wall, paste = window.wall, window.paste
    if not len(wall) or not wall.fresh:
        return False
    gaps = [np.interp(t, wall.at, wall.value) - np.interp(t, paste.at, paste.value) for t in (before, then)]
    return bool(gaps[1] - gaps[0] >= OPENED_C)


def _lid_logged(window: Window, start: float) -> list[Spell]:
    """A lid that was logged off and never on again, unless the paste shows that it is on."""
    off: float | None = None
    for event in window.history.events:
        if event.measured > window.now:
            break
        if event.kind == "lid off" and event.measured >= start:
            off = event.measured if off is None else off
        elif event.kind == "lid on":
            off = None
    if off is None or window.now - off < LID_OFF_S or window.history.events_of("heat off"):
        return []
    paste = window.paste
    if len(paste) and paste.fresh:
        gained_c = float(paste.value[-1] - paste.before(300.0)[-1])
        if gained_c >= 1.0 and not math.isnan(gained_c):
            return []
    words = f"The lid has been off for {span_words(window.now - off)}: put it on, or log that it is."
    return [Spell("lid left off", off + LID_OFF_S, None, words)]


def _boiling(paste: Means, window: Window) -> list[Spell]:
    value = paste.value
    if float(value.max()) < NEARING_C:
        return []
    with np.errstate(invalid="ignore"):
        headed = value + (value - paste.before(AHEAD_S))
        rising = (value >= NEARING_C) & (headed >= HEADED_C)
        back = (value < BACK_C) & ~(headed >= HEADED_C)
    # A level needs longer, for one reading may be off; a rise does not wait.
    near = stays(paste.at, rising, back, HEADED_ON_S, BOIL_OFF_S, window.now)
    near += stays(paste.at, value >= BOILING_C, back, BOIL_ON_S, BOIL_OFF_S, window.now)
    found = []
    for stay in near:
        words = f"The paste is near boiling over, {value[-1]:.0f} °C: turn the heat down and stir; it is caustic."
        found.append(_spell("near boil-over", stay, words, "The paste was near boiling over", window.now))
    return found


def _apart(window: Window, start: float) -> list[Spell]:
    wall, paste = window.wall, window.paste
    if not len(wall) or not wall.fresh:
        return []
    gap = wall.value - np.interp(wall.at, paste.at, paste.value)
    if float(gap.max() - gap.min()) < APART_C:
        return []
    earlier = (wall.at >= start + SETTLED_S) & (wall.at <= window.now - LATEST_S)
    if np.count_nonzero(earlier) < LEAST_MEANS:
        return []
    usual_c = middle(gap[earlier])
    off = np.abs(gap - usual_c)
    beyond = (off >= APART_C) & (wall.at >= start + SETTLED_S)
    if not beyond.any():
        return []
    beyond &= ~_told(window, wall.at, ("heat", "heat off"), TOLD_S)
    found = []
    for stay in stays(wall.at, beyond, off <= TOGETHER_C, APART_ON_S, APART_OFF_S, window.now):
        advice = "stir, and look at both probes" if gap[-1] > usual_c else "look at the switch and at both probes"
        words = f"Wall and paste are {abs(gap[-1]):.0f} °C apart, usually {abs(usual_c):.0f}: {advice}."
        found.append(_spell("wall and paste apart", stay, words, "Wall and paste were far apart", window.now))
    return found


def _spell(name: str, stay: Stay, words: str, was: str, now: float) -> Spell:
    over = f"{was} for {span_words((stay.ended or now) - stay.began)}."
    return Spell(name, stay.began, stay.ended, words, over)
