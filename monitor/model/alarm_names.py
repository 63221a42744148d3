"""The vocabulary of names: what is due, and the alarms. Without numpy, which `start` must not load."""

import re

from monitor.model.step_timers import TIMER_NAMES

STIR = "stir due"
CHECK = "check due"
# Nothing is being recorded, or what is recorded cannot be read.
QUIET = "monitor quiet"
# An "overdue" says again what its "due" says already, unless a person has dismissed that.
LOUDER = {STIR: "stir overdue", CHECK: "check overdue"}
NAMES = (
    STIR,
    CHECK,
    QUIET,
    *LOUDER.values(),
    *TIMER_NAMES,
    "near boil-over",
    "paste cold",
    "paste cooling",
    "lid left off",
    "wall and paste apart",
    "no data",
    "no paste temperature",
    "rig clock wrong",
)
# Alarms that carry a probe's name.
_OF_A_PROBE = re.compile(r"[\w./-]+ probe (open|shorted|fault|jumped|frozen)|no [\w./-]+ data|[\w./-]+ unit unknown")


def is_name(text: str) -> bool:
    """Whether a notification may have this name.

    >>> is_name("stir due"), is_name("paste probe open"), is_name("no wall data"), is_name("stirdue")
    (True, True, True, False)
    """
    return text in NAMES or _OF_A_PROBE.fullmatch(text) is not None
