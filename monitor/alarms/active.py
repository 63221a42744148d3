"""The alarms of a cook at a moment, as a pure function of its history, with their states after IEC 62682.

An alarm that is raised is unacknowledged until somebody acknowledges it. One that went away before that has returned
unacknowledged, so that nothing passes unseen, and is dropped after an hour. A shelved one is hidden for as many minutes
as the person chose, and then shows again if it still stands.
"""

import math
import statistics
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from monitor.alarms.intervals import AlarmInterval, duration_text
from monitor.alarms.pot import hot_at_first, pot_alarms
from monitor.alarms.sensor_faults import sensor_fault_alarms
from monitor.alarms.timers import timer_alarms
from monitor.alarms.window import SILENCE_S, Window
from monitor.model import Alarm, Event, History, clock_offset_text, cook_start, rank

UNACKNOWLEDGED = "unacknowledged"
ACKNOWLEDGED = "acknowledged"
RETURNED = "returned unacknowledged"
SHELVED = "shelved"
RETURNED_SHOWN_S = 3600.0
# An alarm that stands where the window begins may have begun before it, so the window grows by this factor.
GROWS = 4.0
EDGE_S = 900.0
# The stir of a person whose habit is not known yet is overdue when it is this late; of one whose own stir interval is
# known, after this many of them, and at least this late.
UNKNOWN_LATE_S = 3600.0
OVERDUE_INTERVALS = 1.7
LEAST_LATE_S = 1200.0
CHECK_LATE_S = 1200.0
KNOWN_STIRS = 2
RIG_CLOCK = "rig clock wrong"
# A clock that is off by less disturbs nobody; the logger corrects it all the same.
WRONG_S, RIGHT_S = 60.0, 30.0


@dataclass(frozen=True, slots=True)
class DueTimes:
    """When the estimate wants a stir and a check, Unix seconds; None where it wants none."""

    stir: float | None = None
    check: float | None = None


def active_alarms(
    history: History, now: float, due: DueTimes | None = None, silence_s: float = SILENCE_S
) -> tuple[Alarm, ...]:
    """Every alarm that stands at ``now`` (Unix seconds) or returned unacknowledged within the hour, by priority.

    Once the cook is finished only its timers ring.

    due: when the estimate wants a stir and a check; without it neither is ever overdue. silence_s: the shortest silence
    that counts, in seconds of the cook; a cook faster than real time needs more, because the machine has pauses of its
    own. Never raises for what a history holds.
    """
    end, start = history.finished(), cook_start(history, now)
    if end is not None and end <= now:
        return ringing_timers(history, now)
    # A reading beyond any sense is a fault, not an error.
    with np.errstate(over="ignore", invalid="ignore"):
        intervals = _intervals(history, start, now, silence_s)
    if due is not None:
        intervals += overdue_alarms(history, start, now, due)
    intervals += [*rig_clock_alarms(history, now), *timer_alarms(history.events, now)]
    return alarm_states(intervals, history, now) if intervals else ()


def ringing_timers(history: History, now: float) -> tuple[Alarm, ...]:
    """The timers that ring at ``now`` (Unix seconds), as alarms."""
    intervals = timer_alarms(history.events, now)
    return alarm_states(intervals, history, now) if intervals else ()


def _intervals(history: History, start: float | None, now: float, silence_s: float) -> list[AlarmInterval]:
    """The alarm intervals of the last hour, and the whole of those that still stand; other arguments as in Window."""
    length_s = RETURNED_SHOWN_S + EDGE_S
    while True:
        begin = now - length_s
        window = Window(history, start, begin, now, silence_s)
        found = [*sensor_fault_alarms(window), *pot_alarms(window)]
        if begin <= history.started:
            return found
        if not hot_at_first(window) and not any(one.ended is None and one.began < begin + EDGE_S for one in found):
            return found
        length_s *= GROWS


def overdue_alarms(history: History, start: float | None, now: float, due: DueTimes) -> list[AlarmInterval]:
    """The overdue alarms at ``now``. start: of the cook, or None; both Unix seconds."""
    alarms = []
    if due.stir is not None and start is not None:
        stirs = [event.measured for event in history.events if event.kind == "stirred"]
        late_from = stir_late_from([start, *(at for at in stirs if at > start)], due.stir)
        if now >= late_from:
            text = (
                f"Nobody has stirred for {duration_text(now - max([start, *stirs]))}: stir, or log the stir that was."
            )
            alarms.append(AlarmInterval("stir overdue", late_from, None, text))
    if due.check is not None and now >= due.check + CHECK_LATE_S:
        text = f"The clarity check has been due for {duration_text(now - due.check)}: take a sample."
        alarms.append(AlarmInterval("check overdue", due.check + CHECK_LATE_S, None, text))
    return alarms


def stir_late_from(stirs: list[float], due: float) -> float:
    """From when a stir is overdue, Unix seconds, by the stir interval that this person has shown in this cook.

    stirs: the cook's start, and each stir after it; due: of the stir; Unix seconds.
    """
    if len(stirs) <= KNOWN_STIRS:
        return due + UNKNOWN_LATE_S
    own_s = statistics.median([later - earlier for earlier, later in pairwise(stirs)])
    return max(due + LEAST_LATE_S, stirs[-1] + OVERDUE_INTERVALS * own_s)


def rig_clock_alarms(history: History, now: float) -> list[AlarmInterval]:
    """When the rig's clock was wrong, up to ``now`` (Unix seconds).

    A rig that only counts from its own start has no clock that could be wrong.
    """
    alarms: list[AlarmInterval] = []
    began: float | None = None
    text = ""
    for event in history.events:
        if event.kind != "rig clock" or event.measured > now:
            continue
        off_s, own_s = (_seconds(event.fields.get(name)) for name in ("ahead_s", "own_ahead_s"))
        # Where this machine's own clock was set meanwhile, by as much, it was not the rig's that was wrong.
        wrong_s = 0.0 if "counts" in event.fields or abs(off_s - own_s) < WRONG_S else off_s
        if abs(wrong_s) >= (WRONG_S if began is None else RIGHT_S):
            began = event.measured if began is None else began
            text = clock_offset_text(wrong_s)
        elif began is not None:
            over = f"The rig's clock was {text} of this machine's; now they agree."
            alarms.append(AlarmInterval(RIG_CLOCK, began, event.measured, "", over))
            began = None
    if began is not None:
        advice = "set the clock that is wrong. Readings go by when they arrive."
        alarms.append(AlarmInterval(RIG_CLOCK, began, None, f"The rig's clock is {text} of this machine's: {advice}"))
    return alarms


def _seconds(value: object) -> float:
    # A recording made elsewhere may hold anything.
    return float(value) if isinstance(value, int | float) else 0.0


def alarm_states(intervals: list[AlarmInterval], history: History, now: float) -> tuple[Alarm, ...]:
    """One alarm for each name that stands, or returned unacknowledged within the hour.

    Standing ones come first; then by priority. now: Unix seconds.
    """
    answers = [event for event in history.events if event.kind in ("acknowledged", "shelved") and event.measured <= now]
    alarms: dict[str, Alarm] = {}
    for interval in intervals:
        alarm = _state(interval, answers, now)
        if alarm is None:
            continue
        other = alarms.get(interval.name)
        # A standing alarm comes before one that is over; of two, the one that began first counts.
        if other is None or (other.until is not None and (alarm.until is None or alarm.since > other.since)):
            alarms[interval.name] = alarm
    return tuple(sorted(alarms.values(), key=lambda one: (one.until is not None, rank(one.name))))


def _state(interval: AlarmInterval, answers: list[Event], now: float) -> Alarm | None:
    own = [event for event in answers if event.fields.get("condition") == interval.name]
    seen = any(event.kind == "acknowledged" and event.measured >= interval.began for event in own)
    shelved_to = max((e.measured + 60.0 * _minutes(e) for e in own if e.kind == "shelved"), default=-math.inf)
    if interval.ended is not None:
        if seen or now - interval.ended > RETURNED_SHOWN_S or shelved_to >= interval.ended:
            return None
        return Alarm(interval.name, RETURNED, interval.began, interval.past_text, interval.ended)
    state = SHELVED if shelved_to > now else ACKNOWLEDGED if seen else UNACKNOWLEDGED
    return Alarm(interval.name, state, interval.began, interval.text)


def _minutes(event: Event) -> float:
    # A recording made elsewhere may hold anything.
    minutes = event.fields.get("minutes")
    return float(minutes) if isinstance(minutes, int | float) else 0.0
