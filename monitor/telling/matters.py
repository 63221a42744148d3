"""What there is to tell at one moment: stirs and checks that are due, and what is wrong."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from monitor.conditions.states import UNACKNOWLEDGED
from monitor.progress.outlook import Outlook
from monitor.records import Event

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
)
# A due time is an estimate that wanders: an answer this much before it was meant for it.
ANSWERED_BEFORE_S = 600.0
# Conditions that carry a probe's name.
_OF_A_PROBE = re.compile(r"[\w./-]+ probe (open|shorted|fault|jumped|frozen)|no [\w./-]+ data")


@dataclass(frozen=True, slots=True)
class Matter:
    """Something that stands now. name: what is due or wrong. words: one sentence. seen: a person has answered it."""

    name: str
    words: str
    seen: bool = False


def is_name(text: str) -> bool:
    """Whether a matter may have this name.

    >>> is_name("stir due"), is_name("paste probe open"), is_name("no wall data"), is_name("stirdue")
    (True, True, True, False)
    """
    return text in NAMES or _OF_A_PROBE.fullmatch(text) is not None


def matters(outlook: Outlook, events: Sequence[Event]) -> tuple[Matter, ...]:
    """What stands at the outlook's moment, the due things first.

    events: of the cook; an ``acknowledged`` one with the name of a due thing answers it when it was logged about then
    or later.
    """
    found = []
    hushed = set()
    for name, due, why in (
        (STIR, outlook.stir_due, outlook.reasons.get("stir", "")),
        (CHECK, outlook.check_due, outlook.reasons.get("check", "")),
    ):
        if due is None or due > outlook.t:
            continue
        seen = any(
            event.kind == "acknowledged"
            and event.fields.get("condition") == name
            and event.measured >= due - ANSWERED_BEFORE_S
            for event in events
        )
        found.append(Matter(name, why, seen))
        if not seen:
            hushed.add(LOUDER[name])
    found += [
        Matter(condition.name, condition.words, condition.name in hushed)
        for condition in outlook.conditions
        if condition.state == UNACKNOWLEDGED
    ]
    return tuple(found)
