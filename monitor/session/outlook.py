"""The outlook as it is shown: the estimate, what is wrong beside it, and what waits for that.

A stir and a check are pointless while the paste is cold and has no heat: they wait until it is hot again.

Never for good: what holds them back is itself told until a person answers it, and an answer holds them back for half
an hour at the most, because a probe that lies on the bench is cold too.
"""

from dataclasses import replace

from monitor.alarms import ACKNOWLEDGED, COLD_C, SILENCE_S, UNACKNOWLEDGED, DueTimes, active_alarms, heat_wanted
from monitor.estimation import Outlook
from monitor.model import LOUDER, Alarm, History

COLD = "paste cold"
ANSWER_HOLDS_S = 1800.0


def with_conditions(outlook: Outlook, history: History, now: float, silence_s: float = SILENCE_S) -> Outlook:
    """The outlook with what is wrong at ``now``, which may be later than its own moment; see ``active_alarms``."""
    due = DueTimes(outlook.stir_due, outlook.check_due)
    return replace(outlook, conditions=active_alarms(history, now, due, silence_s))


def waited(outlook: Outlook, history: History, now: float) -> Outlook:
    """The outlook with no stir and no check due where both wait, and the reason why. now: Unix seconds."""
    words = _why(outlook, history, now)
    if not words or (outlook.stir_due is None and outlook.check_due is None):
        return outlook
    return replace(
        outlook,
        stir_due=None,
        check_due=None,
        reasons={"stir": words, "check": words},
        conditions=tuple(one for one in outlook.conditions if one.name not in LOUDER.values()),
        waits=words,
    )


def _why(outlook: Outlook, history: History, now: float) -> str:
    if any(_holds(one, history, now) for one in outlook.conditions):
        return "Stirring and checking wait until the paste is hot again."
    cold = outlook.temperature_c is not None and outlook.temperature_c < COLD_C
    if cold and not heat_wanted(history, now):
        return "The heat is off and the paste is cold: stirring and checking wait until it is hot again."
    return ""


def _holds(one: Alarm, history: History, now: float) -> bool:
    if one.name != COLD or one.until is not None or one.state not in (UNACKNOWLEDGED, ACKNOWLEDGED):
        return False
    answers = [event for event in history.events_of("acknowledged") if event.fields.get("condition") == COLD]
    since = [event.measured for event in answers if one.since <= event.measured <= now]
    return not since or now - since[0] < ANSWER_HOLDS_S
