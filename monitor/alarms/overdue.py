"""The alarms of a stir or a check that is overdue by more than a person is usually late."""

import statistics
from dataclasses import dataclass
from itertools import pairwise

from monitor.alarms.intervals import AlarmInterval, duration_text
from monitor.model import History, cook_start

# The stir of a person whose habit is not known yet is overdue when it is this late; of one whose own stir interval is
# known, after this many of them, and at least this late.
UNKNOWN_LATE_S = 3600.0
OVERDUE_INTERVALS = 1.7
LEAST_LATE_S = 1200.0
CHECK_LATE_S = 1200.0
KNOWN_STIRS = 2


@dataclass(frozen=True, slots=True)
class DueTimes:
    """When the estimate wants a stir and a check, Unix seconds; None where it wants none."""

    stir: float | None = None
    check: float | None = None


def overdue_alarms(history: History, now: float, due: DueTimes) -> list[AlarmInterval]:
    """The overdue alarms at ``now`` (Unix seconds)."""
    alarms = []
    start = cook_start(history, now)
    if due.stir is not None and start is not None:
        late_from = stir_late_from(history, start, due.stir)
        if now >= late_from:
            last = max([start, *(event.measured for event in history.events_of("stirred"))])
            text = f"Nobody has stirred for {duration_text(now - last)}: stir, or log the stir that was."
            alarms.append(AlarmInterval("stir overdue", late_from, None, text))
    if due.check is not None and now >= due.check + CHECK_LATE_S:
        text = f"The clarity check has been due for {duration_text(now - due.check)}: take a sample."
        alarms.append(AlarmInterval("check overdue", due.check + CHECK_LATE_S, None, text))
    return alarms


def stir_late_from(history: History, start: float, due: float) -> float:
    """From when a stir is overdue, Unix seconds, by the stir interval that this person has shown in this cook.

    start: of the cook; due: of the stir; Unix seconds.
    """
    stirs = [start, *(event.measured for event in history.events_of("stirred") if event.measured > start)]
    if len(stirs) <= KNOWN_STIRS:
        return due + UNKNOWN_LATE_S
    own_s = statistics.median([later - earlier for earlier, later in pairwise(stirs)])
    return max(due + LEAST_LATE_S, stirs[-1] + OVERDUE_INTERVALS * own_s)
