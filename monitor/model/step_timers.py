"""The timers of the steps before a cook and after it: when each is over, and what it says when it rings.

Loads no numpy, like everything that ``start`` reads. How long they run is common practice, no source.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

# Of one night the plan of a day and the timers say the same: paste rests so many hours in its water, and is looked at
# in the morning at this hour.
REST_H, MORNING_HOUR = 8.0, 9
# A dose works for a quarter of an hour before its pH is read; soap settles for about a week.
DOSE_MIN, SETTLING_DAYS = 15.0, 7.0


@dataclass(frozen=True, slots=True)
class StepTimer:
    """name: of its notice. text: one sentence. minutes: how long it usually runs; None for the next morning.

    over_by: kinds of event that end it at any time. answered_by: those that end it once it rings.
    """

    name: str
    text: str
    minutes: float | None
    over_by: tuple[str, ...]
    answered_by: tuple[str, ...] = ()


_LID = ("lye in", "thick trace", "lid on", "finished")
_BOTTLE = ("settled", "bottled")
# What the event ``timer set`` calls the step -> its timer.
STEP_TIMERS: Mapping[str, StepTimer] = MappingProxyType(
    {
        "oils": StepTimer(
            "oils due",
            "The oils have had their time: heat off once nothing solid is left.",
            10.0,
            ("oils melted", *_LID),
        ),
        "lye": StepTimer(
            "lye due",
            "See whether the lye has cooled; it goes in when its jug is no more than warm.",
            15.0,
            ("lye cooled", *_LID),
        ),
        "rest": StepTimer(
            "paste due",
            "The paste has rested in its water: stir it, and give what lumps are left a little more boiling water.",
            None,
            ("jar neutralised", "neutraliser added", *_BOTTLE),
            ("water added", "ph read"),
        ),
        "dose": StepTimer(
            "reading due",
            "The dose has had its quarter of an hour: stir, cool a sample and read its pH.",
            DOSE_MIN,
            ("ph read", "neutraliser added", *_BOTTLE),
        ),
        "settling": StepTimer(
            "settling due",
            "The soap has had its rest: see whether it is clear, or wants a filter.",
            SETTLING_DAYS * 1440.0,
            _BOTTLE,
        ),
    }
)
TIMER_NAMES = tuple(timer.name for timer in STEP_TIMERS.values())
