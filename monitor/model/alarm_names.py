"""What may be told of, by name. Without numpy, because `start` reads the settings and must stay small."""

import re
from dataclasses import dataclass

STIR = "stir due"
CHECK = "check due"
# Nothing is being recorded, or what is recorded cannot be read.
QUIET = "monitor quiet"
# What "overdue" says is already being said by "due", unless a person has waved that off.
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
# Conditions that carry a probe's name.
_OF_A_PROBE = re.compile(r"[\w./-]+ probe (open|shorted|fault|jumped|frozen)|no [\w./-]+ data|[\w./-]+ unit unknown")


@dataclass(frozen=True, slots=True)
class PendingNotification:
    """Something that stands now. name: what is due or wrong. words: one sentence. seen: a person has answered it.

    waits: it is not told for as long as something else holds it back, and then as if it were new.
    """

    name: str
    words: str
    seen: bool = False
    waits: bool = False


def is_name(text: str) -> bool:
    """Whether a matter may have this name.

    >>> is_name("stir due"), is_name("paste probe open"), is_name("no wall data"), is_name("stirdue")
    (True, True, True, False)
    """
    return text in NAMES or _OF_A_PROBE.fullmatch(text) is not None
