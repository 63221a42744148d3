"""Conditions of the probes and the line: open, shorted, frozen, jumped, silent."""

import math
from bisect import bisect_left

import numpy as np

from monitor.alarms.intervals import AlarmInterval, Exceedance, debounce, duration_text
from monitor.alarms.paste_channel import with_unheard
from monitor.alarms.stuck_sensor import stuck_sensor_alarms
from monitor.alarms.window import IN_POT, ChannelWindow, Window, median
from monitor.model import PASTE_AT_LEAST_C, PASTE_AT_MOST_C, Floats, Series, cook_start, role

# A connector that crackles once is not open.
FAULT_ON_S, FAULT_OFF_S = 5.0, 15.0
# Silence: this many usual intervals; of one channel while others speak, this many of the least silence.
SILENT_READINGS = 4.0
LATEST_STEPS = 240
CHANNEL_SILENCES = 2.0
# No pot changes faster than this from one reading to the next, not even with a probe that is pulled out.
JUMP_C, JUMP_C_PER_S = 8.0, 0.5
JUMP_STANDS_S = 120.0
# Near these the person has the lid off and may move the probes.
HANDS_ON = ("lid on", "lid off", "stirred", "checked", "looked", "added", "water added", "neutraliser added")
HANDS_ON_S = 300.0


def sensor_fault_alarms(window: Window) -> list[AlarmInterval]:
    """Every spell of the probes, the gravest kind first."""
    found = _silence(window)
    inside = [tail for part in IN_POT if (tail := window.tail_of(part)) is not None]
    # A calm probe has no fault, and whether one in the pot is calm has to be known anyway.
    found += [one for tail in window.tails.values() if tail not in inside or not tail.calm for one in _faults(tail)]
    found += [spell for tail in inside for spell in _jumps(tail, window)]
    found += [spell for tail in inside for spell in stuck_sensor_alarms(tail)]
    return with_unheard(found, window)


def _silence(window: Window) -> list[AlarmInterval]:
    now = window.now
    # Arrivals alone tell whether anything comes: what a reading says of its own time must not hide a silence.
    arrivals = [_latest(one.known, now) for one in window.history.series.values()]
    latest = max([window.history.started, *arrivals])
    busiest = max(window.tails.values(), key=len, default=None)
    limit_s = window.silence_s
    found = []
    if busiest is not None:
        arrived = np.sort(busiest.known)
        steps = arrived[1:] - arrived[:-1]
        apart = steps[-LATEST_STEPS:]
        # Packs that come many at a time count by the batch.
        apart = apart[apart > 0.0] if len(apart) and apart.min() <= 0.0 else apart
        if len(apart):
            limit_s = max(window.silence_s, SILENT_READINGS * median(apart))
        longest_s = float(steps.max(initial=0.0))
        for place in np.flatnonzero(steps > limit_s).tolist() if longest_s > limit_s else ():
            words = f"No data came for {duration_text(float(steps[place]))}."
            found.append(AlarmInterval("no data", float(arrived[place]), float(arrived[place + 1]), "", words))
    if now - latest >= limit_s:
        words = f"No data for {duration_text(now - latest)}: look at the cable, the power and the logger."
        found.append(AlarmInterval("no data", latest, None, words))
        return found
    for part, whole in window.in_pot.items():
        if not len(whole):
            continue
        own = window.tail_of(part)
        last = _last_news(whole, now)
        own_limit_s = max(
            CHANNEL_SILENCES * window.silence_s, limit_s, SILENT_READINGS * own.interval_s if own else 0.0
        )
        if now - last >= own_limit_s and math.isfinite(own_limit_s - last):
            words = f"The {part} probe has said nothing for {duration_text(now - last)}, others have: look at its plug."
            found.append(AlarmInterval(f"no {part} data", last, None, words))
    return found


def _latest(known: Floats, now: float) -> float:
    """The latest of these moments up to ``now``; minus infinity for none."""
    return float(known.max(initial=-math.inf, where=known <= now))


def _last_news(series: Series, now: float) -> float:
    """When the reading arrived that was measured last of all known at ``now``, Unix seconds.

    One that comes late is no news of the probe, and nor is one that is sent again and again.
    """
    there = series.known <= now
    if not there.any():
        return -math.inf
    measured = series.measured[there]
    return float(series.known[there][int(np.searchsorted(measured, measured[-1]))])


def _faults(tail: ChannelWindow) -> list[AlarmInterval]:
    # A sum has no number where one of its parts has none.
    if not math.isnan(float(tail.value.sum())):
        return []
    bad = np.isnan(tail.value)
    plain = role(tail.series.channel)
    found = []
    for stay in debounce(tail.at, bad, ~bad, FAULT_ON_S, FAULT_OFF_S, tail.now):
        said = _said(tail, stay)
        what = "open" if "open" in said else "shorted" if "short" in said else "fault"
        words = f"The {plain} probe says “{said}”: look at its plug and its tip."
        over = f"The {plain} probe said “{said}” and reads again."
        found.append(AlarmInterval(f"{plain} probe {what}", stay.began, stay.ended, words, over))
    return found


def _said(tail: ChannelWindow, stay: Exceedance) -> str:
    """The words of the spell's latest fault."""
    faults = tail.series.faults
    last = len(tail) if stay.ended is None else int(np.searchsorted(tail.at, stay.ended))
    place = bisect_left(faults, (tail.first + last,)) - 1
    return faults[place][1] if place >= 0 else "fault"


def _hands_off(window: Window, moment: float) -> float | None:
    """When whoever had hands on the pot at this moment was surely done (Unix seconds); None: nobody had."""
    near = [
        event.measured
        for event in window.history.events
        if event.kind in HANDS_ON and abs(event.measured - moment) <= HANDS_ON_S
    ]
    return max(near) + HANDS_ON_S if near else None


def _jumps(tail: ChannelWindow, window: Window) -> list[AlarmInterval]:
    if tail.calm:
        return []
    value, at = tail.celsius, tail.at
    beyond = (value < PASTE_AT_LEAST_C) | (value > PASTE_AT_MOST_C)
    good = ~np.isnan(value)
    value, at, beyond = value[good], at[good], beyond[good]
    start = cook_start(window.history)
    if start is None:
        return []
    jumped = np.abs(np.diff(value)) > JUMP_C + JUMP_C_PER_S * np.diff(at)
    signs = np.union1d(np.flatnonzero(jumped) + 1, np.flatnonzero(beyond))
    signs = signs[at[signs] >= start + 60.0]
    plain = role(tail.series.channel)
    found: list[AlarmInterval] = []
    for group in np.split(signs, np.flatnonzero(np.diff(at[signs]) > JUMP_STANDS_S) + 1):
        if not len(group):
            continue
        hands_off = None if beyond[group].any() else _hands_off(window, float(at[group[0]]))
        if hands_off is not None:
            found += _left_out(tail, at, value, int(group[0]), hands_off)
            continue
        place, over_at = int(group[0]), float(at[group[-1]]) + JUMP_STANDS_S
        over = f"The {plain} probe jumped from {value[max(place - 1, 0)]:.0f} to {value[place]:.0f} °C at once."
        words = f"{over[:-1]}, faster than any pot: look at its plug, its tip and where its cable runs."
        ended = over_at if over_at <= tail.now else None
        found.append(AlarmInterval(f"{plain} probe jumped", float(at[place]), ended, words, over))
    return found


def _left_out(tail: ChannelWindow, at: Floats, value: Floats, place: int, hands_off: float) -> list[AlarmInterval]:
    """A probe that fell at once while hands were on the pot, and was not put back."""
    level_c = float(value[place - 1]) - JUMP_C
    later, then = value[at >= hands_off], at[at >= hands_off]
    if not len(later) or later[0] >= level_c:
        return []
    back = np.flatnonzero(later >= level_c)
    plain = role(tail.series.channel)
    over = f"The {plain} probe fell from {value[place - 1]:.0f} to {value[place]:.0f} °C at once and stayed there."
    words = f"{over[:-1]}: is its tip where it was?"
    return [
        AlarmInterval(
            f"{plain} probe jumped", float(at[place]), float(then[back[0]]) if len(back) else None, words, over
        )
    ]
