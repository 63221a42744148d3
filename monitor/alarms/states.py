"""Alarm states after IEC 62682, from what was raised and what a person answered.

A condition that is raised is unacknowledged until somebody acknowledges it; one that went away before that is
returned unacknowledged, so that nothing passes unseen, and is let go after an hour. A shelved one is put aside for
as many minutes as the person chose, and then shows again if it still stands.
"""

import math

from monitor.alarms.intervals import AlarmInterval
from monitor.model import Alarm, Event, History, rank

UNACKNOWLEDGED = "unacknowledged"
ACKNOWLEDGED = "acknowledged"
RETURNED = "returned unacknowledged"
SHELVED = "shelved"
RETURNED_SHOWN_S = 3600.0


def alarm_states(spells: list[AlarmInterval], history: History, now: float) -> tuple[Alarm, ...]:
    """One condition for each name that stands, or went away within the hour unseen; the former first, by priority."""
    found: dict[str, Alarm] = {}
    for spell in spells:
        condition = _state(spell, history, now)
        if condition is None:
            continue
        other = found.get(spell.name)
        # What stands comes before what is over; of two, the one that began first stands for both.
        if other is None or (other.until is not None and (condition.until is None or condition.since > other.since)):
            found[spell.name] = condition
    return tuple(sorted(found.values(), key=lambda one: (one.until is not None, rank(one.name))))


def _state(spell: AlarmInterval, history: History, now: float) -> Alarm | None:
    answers = [event for event in history.events_of("acknowledged", "shelved") if event.measured <= now]
    own = [event for event in answers if event.fields.get("condition") == spell.name]
    seen = any(event.kind == "acknowledged" and event.measured >= spell.began for event in own)
    shelved_to = max((e.measured + 60.0 * _minutes(e) for e in own if e.kind == "shelved"), default=-math.inf)
    if spell.ended is not None:
        if seen or now - spell.ended > RETURNED_SHOWN_S or shelved_to >= spell.ended:
            return None
        return Alarm(spell.name, RETURNED, spell.began, spell.over, spell.ended)
    state = SHELVED if shelved_to > now else ACKNOWLEDGED if seen else UNACKNOWLEDGED
    return Alarm(spell.name, state, spell.began, spell.words)


def _minutes(event: Event) -> float:
    # A recording made elsewhere may hold anything.
    minutes = event.fields.get("minutes")
    return float(minutes) if isinstance(minutes, int | float) else 0.0
