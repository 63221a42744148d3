"""The names of alarms and of what is due. Loads no numpy, because `start` reads the settings and must stay small."""

import re
from dataclasses import dataclass

STIR = "stir due"
CHECK = "check due"
# Nothing is being recorded, or what is recorded cannot be read.
QUIET = "monitor quiet"
# "overdue" repeats what "due" says, unless a person has dismissed that.
LOUDER = {STIR: "stir overdue", CHECK: "check overdue"}
NAMES = (
    STIR,
    CHECK,
    QUIET,
    *LOUDER.values(),
    "near boil-over",
    "paste cold",
    "paste cooling",
    "lid left off",
    "wall and paste apart",
    "no data",
    "no paste temperature",
    "rig clock wrong",
)
# Names of alarms that contain a probe's name.
_OF_A_PROBE = re.compile(r"[\w./-]+ probe (open|shorted|fault|jumped|frozen)|no [\w./-]+ data|[\w./-]+ unit unknown")


@dataclass(frozen=True, slots=True)
class PendingNotification:
    """Something that is due or wrong now, by its name. words: one sentence. seen: a person has acknowledged it.

    waits: it is held back for now, and notified as new once that ends.
    """

    name: str
    words: str
    seen: bool = False
    waits: bool = False


def is_name(text: str) -> bool:
    """Whether an alarm, or something due, may have this name.

    >>> is_name("stir due"), is_name("paste probe open"), is_name("no wall data"), is_name("stirdue")
    (True, True, True, False)
    """
    return text in NAMES or _OF_A_PROBE.fullmatch(text) is not None
