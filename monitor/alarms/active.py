"""The alarms of a cook at a moment, as a pure function of its history."""

import numpy as np

from monitor.alarms.boil_over import hot_at_first
from monitor.alarms.intervals import AlarmInterval
from monitor.alarms.overdue import DueTimes, overdue_alarms
from monitor.alarms.pot import pot_alarms
from monitor.alarms.rig_clock import rig_clock_alarms
from monitor.alarms.sensor_faults import sensor_fault_alarms
from monitor.alarms.states import RETURNED_SHOWN_S, alarm_states
from monitor.alarms.window import SILENCE_S, Window
from monitor.model import Alarm, History

__all__ = ["SILENCE_S", "DueTimes", "active_alarms"]

# An alarm that stands where the window begins may have begun before it, so the window grows by this factor.
GROWS = 4.0
EDGE_S = 900.0


def active_alarms(
    history: History, now: float, due: DueTimes | None = None, silence_s: float = SILENCE_S
) -> tuple[Alarm, ...]:
    """Every alarm that stands at ``now`` (Unix seconds) or returned unacknowledged within the hour, by priority.

    due: when the estimate wants a stir and a check; without it neither is ever overdue. silence_s: the shortest silence
    that counts, in seconds of the cook; a cook faster than real time needs more, because the machine has pauses of its
    own. Never raises for what a history holds.
    """
    end = history.finished()
    if end is not None and end <= now:
        return ()
    # A reading beyond any sense is a fault, not an error.
    with np.errstate(over="ignore", invalid="ignore"):
        intervals = _intervals(history, now, silence_s)
    if due is not None:
        intervals += overdue_alarms(history, now, due)
    intervals += rig_clock_alarms(history, now)
    return alarm_states(intervals, history, now)


def _intervals(history: History, now: float, silence_s: float) -> list[AlarmInterval]:
    """The alarm intervals of the last hour, and the whole of those that still stand."""
    length_s = RETURNED_SHOWN_S + EDGE_S
    while True:
        begin = now - length_s
        window = Window(history, begin, now, silence_s)
        found = [*sensor_fault_alarms(window), *pot_alarms(window)]
        older = any(one.ended is None and one.began < begin + EDGE_S for one in found)
        if begin <= history.started or not (older or hot_at_first(window)):
            return found
        length_s *= GROWS
