"""What there is to tell at one moment: stirs and checks that are due, and what is wrong."""

from collections.abc import Sequence

from monitor.alarms import UNACKNOWLEDGED
from monitor.model import CHECK, LOUDER, STIR, Event, PendingNotification, rank
from monitor.session import Outlook

# A due time is an estimate that wanders: an answer this much before it was meant for it.
ANSWERED_BEFORE_S = 600.0


def pending_notifications(outlook: Outlook, events: Sequence[Event]) -> tuple[PendingNotification, ...]:
    """What stands at the outlook's moment, by ``telling.priority``: dangers, what is due, the rest.

    events: of the cook; an ``acknowledged`` one with the name of a due thing answers it when it was logged about then
    or later.
    """
    found = []
    hushed = set()
    for name, due, why in (
        (STIR, outlook.stir_due, outlook.reasons.get("stir", "")),
        (CHECK, outlook.check_due, outlook.reasons.get("check", "")),
    ):
        if outlook.waits:
            found.append(PendingNotification(name, why, seen=True, waits=True))
            continue
        if due is None or due > outlook.t:
            continue
        seen = any(
            event.kind == "acknowledged"
            and event.fields.get("condition") == name
            and event.measured >= due - ANSWERED_BEFORE_S
            for event in events
        )
        found.append(PendingNotification(name, why, seen))
        if not seen:
            hushed.add(LOUDER[name])
    found += [
        PendingNotification(condition.name, condition.words, condition.name in hushed)
        for condition in outlook.alarms
        if condition.state == UNACKNOWLEDGED
    ]
    return tuple(sorted(found, key=lambda one: rank(one.name)))
