"""The repeat schedule: a pure step from what has been notified so far to what is notified now.

A pending notification goes out when it comes up and again after growing gaps, until a person answers it or its cause
is gone.
"""

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    # The settings import this module, and `start` reads them without loading numpy.
    from monitor.notifications.pending import PendingNotification

REPEAT_AFTER_S = (300.0, 600.0, 1200.0, 2400.0)
# What comes back within this is still the same; a due time is an estimate that wanders, a plug crackles.
SAME_WITHIN_S = 600.0


@dataclass(frozen=True, slots=True)
class NotificationState:
    """How often one notification has gone out. Moments are cook time in Unix seconds.

    count: how many notices went out. last: when the latest did. gone: since when its cause is gone, or None.
    """

    count: int
    last: float
    gone: float | None = None


@dataclass(frozen=True, slots=True)
class Notice:
    """One notice to send now. name: what is due or wrong. text: one sentence. at: cook time in Unix seconds.

    count: how many notices of this name have gone out, this one included.
    """

    name: str
    text: str
    at: float
    count: int = 1

    def as_json(self) -> str:
        """The line of ASCII, without its end, that a rig is sent over MQTT or down its cable.

        >>> Notice("stir due", "35 minutes after the last stir.", 1773484800.04).as_json()
        '{"t":1773484800.0,"notice":"stir due"}'
        """
        return json.dumps({"t": round(self.at, 1), "notice": self.name}, separators=(",", ":"))


def due_notices(
    states: Mapping[str, NotificationState],
    pending: "Sequence[PendingNotification]",
    now: float,
    may_notify: Callable[[str], bool],
    repeat_after_s: Sequence[float] = REPEAT_AFTER_S,
    pace: float = 1.0,
) -> tuple[dict[str, NotificationState], list[Notice]]:
    """The states after this moment, and the notices that are due at it.

    states: by the notification's name. now: cook time, Unix seconds. may_notify: whether a notification of this name
    may go out at this hour; one that may not waits, and goes out later if it is still pending. repeat_after_s: gaps in
    real seconds, of which the last recurs. pace: seconds of cook time in a real second.
    """
    after: dict[str, NotificationState] = {}
    notices: list[Notice] = []
    by_name = {notification.name: notification for notification in pending}
    for name, state in states.items():
        if name in by_name:
            continue
        gone = now if state.gone is None else state.gone
        if now - gone < SAME_WITHIN_S * pace:
            after[name] = replace(state, gone=gone)
    for name, notification in by_name.items():
        if notification.waits:
            continue
        state = states.get(name, NotificationState(0, now))
        due = state.count == 0 or now - state.last >= gap_s(state.count, repeat_after_s) * pace
        if notification.seen or not due or not may_notify(name):
            if state.count:
                after[name] = replace(state, gone=None)
            continue
        after[name] = NotificationState(state.count + 1, now)
        notices.append(Notice(name, notification.text, now, state.count + 1))
    return after, notices


def gap_s(count: int, repeat_after_s: Sequence[float]) -> float:
    """The gap after the notice of this number, in real seconds. count: from 1.

    >>> [gap_s(n, (300.0, 600.0)) for n in (1, 2, 3)]
    [300.0, 600.0, 600.0]
    """
    return repeat_after_s[min(count, len(repeat_after_s)) - 1]
