"""Stirs and checks that were due and have not been done for so long that it is no mere lateness."""

import statistics
from dataclasses import dataclass
from itertools import pairwise

from monitor.alarms.intervals import AlarmInterval, duration_text
from monitor.model import History, cook_start

# A person not known yet: this late. One whose own interval is known: this many times that, and never less late.
UNKNOWN_LATE_S = 3600.0
HABITS = 1.7
LEAST_LATE_S = 1200.0
CHECK_LATE_S = 1200.0
KNOWN_STIRS = 2


@dataclass(frozen=True, slots=True)
class DueTimes:
    """When the estimate wants a stir and a check, Unix seconds; None where it wants none."""

    stir: float | None = None
    check: float | None = None


def overdue_alarms(history: History, now: float, due: DueTimes) -> list[AlarmInterval]:
    """What is overdue at ``now`` (Unix seconds)."""
    found = []
    start = cook_start(history)
    if due.stir is not None and start is not None:
        late_from = stir_late_from(history, start, due.stir)
        if now >= late_from:
            last = max([start, *(event.measured for event in history.events_of("stirred"))])
            words = f"Nobody has stirred for {duration_text(now - last)}: stir, or log the stir that was."
            found.append(AlarmInterval("stir overdue", late_from, None, words))
    if due.check is not None and now >= due.check + CHECK_LATE_S:
        words = f"The clarity check has been due for {duration_text(now - due.check)}: take a sample."
        found.append(AlarmInterval("check overdue", due.check + CHECK_LATE_S, None, words))
    return found


def stir_late_from(history: History, start: float, due: float) -> float:
    """From when a stir is overdue by the habit this person has shown in this cook. Unix seconds."""
    stirs = [start, *(event.measured for event in history.events_of("stirred") if event.measured > start)]
    if len(stirs) <= KNOWN_STIRS:
        return due + UNKNOWN_LATE_S
    own_s = statistics.median([later - earlier for earlier, later in pairwise(stirs)])
    return max(due + LEAST_LATE_S, stirs[-1] + HABITS * own_s)
