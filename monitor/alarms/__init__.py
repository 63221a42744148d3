"""What is wrong with a cook at a moment, with alarm states after IEC 62682."""

from monitor.alarms.active import ACKNOWLEDGED, UNACKNOWLEDGED, DueTimes, active_alarms, ringing_timers
from monitor.alarms.pot import COLD_C, heat_wanted
from monitor.alarms.sensor_faults import NO_PASTE
from monitor.alarms.timers import RunningTimer, running_timers
from monitor.alarms.window import SILENCE_S, is_fresh

__all__ = [
    "ACKNOWLEDGED",
    "COLD_C",
    "NO_PASTE",
    "SILENCE_S",
    "UNACKNOWLEDGED",
    "DueTimes",
    "RunningTimer",
    "active_alarms",
    "heat_wanted",
    "is_fresh",
    "ringing_timers",
    "running_timers",
]
