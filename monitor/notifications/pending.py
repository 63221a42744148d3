"""The notifications that are pending at one moment: stirs and checks that are due, and what is wrong."""

from collections.abc import Sequence
from dataclasses import dataclass

from monitor.alarms import UNACKNOWLEDGED
from monitor.model import CHECK, LOUDER, STIR, Alarm, Event, rank
from monitor.session import Outlook

# A due time is an estimate that wanders: an answer this much earlier, in cook seconds, was meant for it.
ANSWERED_BEFORE_S = 600.0


@dataclass(frozen=True, slots=True)
class PendingNotification:
    """Something that a person should know. name: what is due or wrong. text: one sentence.

    seen: a person has answered it. waits: something else holds it back; once released it goes out as if it were new.
    """

    name: str
    text: str
    seen: bool = False
    waits: bool = False


def pending_notifications(outlook: Outlook, events: Sequence[Event]) -> tuple[PendingNotification, ...]:
    """The notifications at the outlook's moment, by priority: dangers, what is due, the rest.

    events: of the cook; an ``acknowledged`` event with the name of a due notification answers it when it was logged
    about the due time or later.
    """
    pending = []
    answered_by_due = set()
    for name, due, reason in (
        (STIR, outlook.stir_due, outlook.reasons.get("stir", "")),
        (CHECK, outlook.check_due, outlook.reasons.get("check", "")),
    ):
        if outlook.waits:
            pending.append(PendingNotification(name, reason, seen=True, waits=True))
            continue
        if due is None or due > outlook.estimate.t:
            continue
        seen = any(
            event.kind == "acknowledged"
            and event.fields.get("condition") == name
            and event.measured >= due - ANSWERED_BEFORE_S
            for event in events
        )
        pending.append(PendingNotification(name, reason, seen))
        if not seen:
            answered_by_due.add(LOUDER[name])
    pending += [
        PendingNotification(alarm.name, alarm.words, alarm.name in answered_by_due)
        for alarm in outlook.alarms
        if alarm.state == UNACKNOWLEDGED
    ]
    return tuple(sorted(pending, key=lambda notification: rank(notification.name)))


def timer_notifications(alarms: Sequence[Alarm], title: str) -> tuple[PendingNotification, ...]:
    """What the timers of a batch after its cook say. alarms: as ``Cook.ringing`` has them. title: of the batch."""
    told = (alarm for alarm in alarms if alarm.state == UNACKNOWLEDGED)
    return tuple(PendingNotification(alarm.name, f"{title}: {alarm.words}") for alarm in told)
