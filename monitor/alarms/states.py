"""Alarm states after IEC 62682, from the alarm intervals and what a person answered.

IEC 62682, Management of alarm systems for the process industries, is cited here from memory; its text was not seen.

An alarm that is raised is unacknowledged until somebody acknowledges it. One that went away before that has returned
unacknowledged, so that nothing passes unseen, and is dropped after an hour. A shelved one is hidden for as many minutes
as the person chose, and then shows again if it still stands.
"""

import math

from monitor.alarms.intervals import AlarmInterval
from monitor.model import Alarm, Event, History, rank

UNACKNOWLEDGED = "unacknowledged"
ACKNOWLEDGED = "acknowledged"
RETURNED = "returned unacknowledged"
SHELVED = "shelved"
RETURNED_SHOWN_S = 3600.0


def alarm_states(intervals: list[AlarmInterval], history: History, now: float) -> tuple[Alarm, ...]:
    """One alarm for each name that stands, or returned unacknowledged within the hour.

    Standing ones come first; then by priority. now: Unix seconds.
    """
    alarms: dict[str, Alarm] = {}
    for interval in intervals:
        alarm = _state(interval, history, now)
        if alarm is None:
            continue
        other = alarms.get(interval.name)
        # A standing alarm comes before one that is over; of two, the one that began first counts.
        if other is None or (other.until is not None and (alarm.until is None or alarm.since > other.since)):
            alarms[interval.name] = alarm
    return tuple(sorted(alarms.values(), key=lambda one: (one.until is not None, rank(one.name))))


def _state(interval: AlarmInterval, history: History, now: float) -> Alarm | None:
    answers = [event for event in history.events_of("acknowledged", "shelved") if event.measured <= now]
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
