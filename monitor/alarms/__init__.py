"""What is wrong with a cook at a moment, with alarm states after IEC 62682."""

from monitor.alarms.active import active_alarms
from monitor.alarms.cooling import COLD_C
from monitor.alarms.heat import heat_wanted
from monitor.alarms.overdue import DueTimes
from monitor.alarms.paste_channel import NO_PASTE
from monitor.alarms.states import ACKNOWLEDGED, UNACKNOWLEDGED
from monitor.alarms.window import SILENCE_S

__all__ = [
    "ACKNOWLEDGED",
    "COLD_C",
    "NO_PASTE",
    "SILENCE_S",
    "UNACKNOWLEDGED",
    "DueTimes",
    "active_alarms",
    "heat_wanted",
]
