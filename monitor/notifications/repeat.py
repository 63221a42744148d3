"""When each matter is told, and told again: a pure step from what was told to what is told now.

A matter is told when it comes up, then after growing gaps, until a person answers it or it is gone.
"""

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from monitor.model import PendingNotification

AGAIN_AFTER_S = (300.0, 600.0, 1200.0, 2400.0)
# What comes back this soon is the same matter still; a due time is an estimate that wanders, a plug crackles.
SAME_WITHIN_S = 600.0


@dataclass(frozen=True, slots=True)
class NotificationState:
    """One matter's telling so far. times: how often. last: the latest. gone: since when it no longer stands, or None.

    Moments are cook time in Unix seconds.
    """

    times: int
    last: float
    gone: float | None = None


@dataclass(frozen=True, slots=True)
class Notice:
    """Something to tell now. name: what is due or wrong. words: one sentence. at: cook time in Unix seconds.

    times: how often it has been told with this one.
    """

    name: str
    words: str
    at: float
    times: int = 1

    def as_json(self) -> str:
        """What a rig is sent of it, over MQTT and down its cable: one line of ASCII, without its end.

        >>> Notice("stir due", "35 minutes after the last stir.", 1773484800.04).as_json()
        '{"t":1773484800.0,"notice":"stir due"}'
        """
        return json.dumps({"t": round(self.at, 1), "notice": self.name}, separators=(",", ":"))


Record = Mapping[str, NotificationState]


def due_notices(
    record: Record,
    standing: Sequence[PendingNotification],
    now: float,
    may_tell: Callable[[str], bool],
    again_after_s: Sequence[float] = AGAIN_AFTER_S,
    pace: float = 1.0,
) -> tuple[dict[str, NotificationState], list[Notice]]:
    """The record after this look, and what is told at it.

    record: by the matter's name. now: cook time, Unix seconds. may_tell: whether a matter of this name may be told at
    this hour; one that may not waits, and is told then if it still stands. again_after_s: gaps in real seconds, the
    last of which goes on. pace: seconds of cook time in a real one.
    """
    after: dict[str, NotificationState] = {}
    notices: list[Notice] = []
    by_name = {matter.name: matter for matter in standing}
    for name, told in record.items():
        if name in by_name:
            continue
        gone = now if told.gone is None else told.gone
        if now - gone < SAME_WITHIN_S * pace:
            after[name] = replace(told, gone=gone)
    for name, matter in by_name.items():
        if matter.waits:
            continue
        told = record.get(name, NotificationState(0, now))
        due = told.times == 0 or now - told.last >= gap_s(told.times, again_after_s) * pace
        if matter.seen or not due or not may_tell(name):
            if told.times:
                after[name] = replace(told, gone=None)
            continue
        after[name] = NotificationState(told.times + 1, now)
        notices.append(Notice(name, matter.words, now, told.times + 1))
    return after, notices


def gap_s(times: int, again_after_s: Sequence[float]) -> float:
    """How long after the telling of this number the next one comes, real seconds.

    >>> [gap_s(n, (300.0, 600.0)) for n in (1, 2, 3)]
    [300.0, 600.0, 600.0]
    """
    return again_after_s[min(times, len(again_after_s)) - 1]
