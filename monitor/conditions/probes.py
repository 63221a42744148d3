"""Conditions of the probes and the line: open, shorted, frozen, jumped, silent."""

import math
from bisect import bisect_left

import numpy as np

from monitor.conditions.spells import Spell, Stay, span_words, stays
from monitor.conditions.window import IN_POT, Tail, Window, middle
from monitor.history import Floats, cook_start
from monitor.progress.blocks import COLDEST_C, HOTTEST_C
from monitor.records import role

# A connector that crackles once is not open.
FAULT_ON_S, FAULT_OFF_S = 5.0, 15.0
# Silence: this many usual intervals, and never less than this.
SILENT_READINGS = 4.0
SILENT_S = 15.0
LATEST_STEPS = 240
CHANNEL_SILENT_S = 30.0
# No pot changes faster than this from one reading to the next, not even with a probe that is pulled out.
JUMP_C, JUMP_C_PER_S = 8.0, 0.5
JUMP_STANDS_S = 120.0
# Near these the person has the lid off and may move the probes.
HANDS_ON = ("lid on", "lid off", "stirred", "checked", "looked", "added", "water added", "neutraliser added")
HANDS_ON_S = 300.0
# One value for less than this is nothing.
FROZEN_S, FROZEN_READINGS = 60.0, 20
# How unlikely a run of one value must be for a probe that reads as this one did before.
FROZEN_CHANCE = 1e-9
FROZEN_BLOCK = 40
# A curve that flattens says one value ever longer, though never so much longer at once.
GROWN = 8
# A curve that kept moving this way for five minutes does not stop dead (degC, in each half and expected since).
MOVING_S, MOVING_C, STOPPED_C = 300.0, 0.5, 2.0


def probe_spells(window: Window) -> list[Spell]:
    """Every spell of the probes, the gravest kind first."""
    found = _silence(window)
    found += [spell for tail in window.tails.values() for spell in _faults(tail)]
    inside = [tail for part in IN_POT if (tail := window.tail_of(part)) is not None]
    found += [spell for tail in inside for spell in _jumps(tail, window)]
    found += [spell for tail in inside for spell in _frozen(tail)]
    return found


def _silence(window: Window) -> list[Spell]:
    now = window.now
    # The newest to arrive is among the latest of its channel, though packs may come out of order.
    arrivals = [
        one.known[max(0, np.searchsorted(one.measured, now, "right") - 50) :] for one in window.history.series.values()
    ]
    latest = max((float(few.max()) for few in arrivals if len(few)), default=window.history.started)
    busiest = max(window.tails.values(), key=len, default=None)
    limit_s = SILENT_S
    found = []
    if busiest is not None:
        arrived = busiest.known
        steps = arrived[1:] - arrived[:-1]
        apart = steps[-LATEST_STEPS:]
        # Packs that come many at a time count by the batch.
        apart = apart[apart > 0.0] if len(apart) and apart.min() <= 0.0 else apart
        if len(apart):
            limit_s = max(SILENT_S, SILENT_READINGS * middle(apart))
        for place in np.flatnonzero(steps > limit_s).tolist():
            words = f"No data came for {span_words(float(steps[place]))}."
            found.append(Spell("no data", float(arrived[place]), float(arrived[place + 1]), "", words))
    if now - latest >= limit_s:
        words = f"No data for {span_words(now - latest)}: look at the cable, the power and the logger."
        found.append(Spell("no data", latest, None, words))
        return found
    for part, whole in window.in_pot.items():
        if not len(whole):
            continue
        own = window.tail_of(part)
        last = float(whole.measured[-1])
        own_limit_s = max(CHANNEL_SILENT_S, limit_s, SILENT_READINGS * own.interval_s if own else 0.0)
        if now - last >= own_limit_s and not math.isinf(own_limit_s):
            words = f"The {part} probe has said nothing for {span_words(now - last)}, others have: look at its plug."
            found.append(Spell(f"no {part} data", last, None, words))
    return found


def _faults(tail: Tail) -> list[Spell]:
    bad = np.isnan(tail.value)
    if not bad.any():
        return []
    plain = role(tail.series.channel)
    found = []
    for stay in stays(tail.at, bad, ~bad, FAULT_ON_S, FAULT_OFF_S, tail.now):
        said = _said(tail, stay)
        what = "open" if "open" in said else "shorted" if "short" in said else "fault"
        words = f"The {plain} probe says “{said}”: look at its plug and its tip."
        over = f"The {plain} probe said “{said}” and reads again."
        found.append(Spell(f"{plain} probe {what}", stay.began, stay.ended, words, over))
    return found


def _said(tail: Tail, stay: Stay) -> str:
    """The words of the spell's latest fault."""
    faults = tail.series.faults
    last = len(tail) if stay.ended is None else int(np.searchsorted(tail.at, stay.ended))
    place = bisect_left(faults, (tail.first + last,)) - 1
    return faults[place][1] if place >= 0 else "fault"


def _hands_on(window: Window, moment: float) -> bool:
    return any(event.kind in HANDS_ON and abs(event.measured - moment) <= HANDS_ON_S for event in window.history.events)


def _jumps(tail: Tail, window: Window) -> list[Spell]:
    value, at = tail.celsius, tail.at
    beyond = (value < COLDEST_C) | (value > HOTTEST_C)
    if not (tail.change > JUMP_C).any() and not beyond.any():
        return []
    good = ~np.isnan(value)
    value, at, beyond = value[good], at[good], beyond[good]
    start = cook_start(window.history)
    if start is None:
        return []
    jumped = np.abs(np.diff(value)) > JUMP_C + JUMP_C_PER_S * np.diff(at)
    signs = np.union1d(np.flatnonzero(jumped) + 1, np.flatnonzero(beyond))
    signs = signs[at[signs] >= start + 60.0]
    plain = role(tail.series.channel)
    found: list[Spell] = []
    for group in np.split(signs, np.flatnonzero(np.diff(at[signs]) > JUMP_STANDS_S) + 1):
        if not len(group) or (not beyond[group].any() and _hands_on(window, float(at[group[0]]))):
            continue
        place, over_at = int(group[0]), float(at[group[-1]]) + JUMP_STANDS_S
        over = f"The {plain} probe jumped from {value[max(place - 1, 0)]:.0f} to {value[place]:.0f} °C at once."
        words = f"{over[:-1]}, faster than any pot: look at its plug, its tip and where its cable runs."
        ended = over_at if over_at <= tail.now else None
        found.append(Spell(f"{plain} probe jumped", float(at[place]), ended, words, over))
    return found


def _frozen(tail: Tail) -> list[Spell]:
    value = tail.celsius
    if len(value) < FROZEN_READINGS:
        return []
    changes = np.flatnonzero(tail.change != 0.0) + 1
    edges = np.concatenate(([0], changes, [len(value)]))
    lengths = np.diff(edges)
    found = []
    for place in np.flatnonzero(lengths >= FROZEN_READINGS).tolist():
        first, last = int(edges[place]), int(edges[place + 1])
        began = float(tail.at[first])
        ended = None if last == len(value) else float(tail.at[last])
        lasted_s = (tail.now if ended is None else ended) - began
        if lasted_s < FROZEN_S or (ended is None and tail.now - float(tail.at[-1]) > 60.0 + 4.0 * tail.interval_s):
            continue
        if not (
            last - first > max(_longest_honest(value[:first]), GROWN * int(lengths[:place].max(initial=0)))
            or _stopped_dead(tail.at[:first], value[:first], lasted_s)
        ):
            continue
        plain = role(tail.series.channel)
        over = f"The {plain} probe said {value[first]:.2f} °C and nothing else for {span_words(lasted_s)}."
        words = f"{over[:-1]}: is it still measuring? Unplug it and plug it in again."
        found.append(Spell(f"{plain} probe frozen", began, ended, words, over))
    return found


def _longest_honest(before: Floats) -> float:
    """The longest run of one value (readings) to be believed of a probe that read like this before."""
    if len(before) < 2 * FROZEN_BLOCK:
        return math.inf
    same = (before[1:] == before[:-1])[-(len(before) - 1) // FROZEN_BLOCK * FROZEN_BLOCK :]
    blocks = same[len(same) % FROZEN_BLOCK :].reshape(-1, FROZEN_BLOCK).sum(axis=1)
    # Never surer than so many readings can make one (Laplace's rule).
    repeats = (float(blocks.max()) + 1.0) / (FROZEN_BLOCK + 2.0)
    return math.log(FROZEN_CHANCE) / math.log(repeats)


def _stopped_dead(at: Floats, before: Floats, lasted_s: float) -> bool:
    if len(at) < 6 or at[-1] - at[0] < MOVING_S:
        return False
    then = at[-1] - np.array([MOVING_S, MOVING_S / 2, 0.0])
    reach = max(20.0, 3.0 * float(at[-1] - at[-4]) / 3.0)
    levels = [float(np.mean(near)) for t in then if len(near := before[np.abs(at - t) <= reach])]
    if len(levels) < 3 or math.isnan(sum(levels)):
        return False
    first, second = levels[1] - levels[0], levels[2] - levels[1]
    if min(abs(first), abs(second)) < MOVING_C or first * second < 0.0:
        return False
    return abs(second) / (MOVING_S / 2) * lasted_s * 0.5 >= STOPPED_C
