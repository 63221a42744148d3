"""The priorities of alarms and of what is due (after IEC 62682, from memory), and their one order.

Loads no numpy, like everything that ``start`` reads.
"""

import re
from enum import IntEnum

from monitor.model.alarm_names import CHECK, LOUDER, QUIET, STIR
from monitor.model.step_timers import TIMER_NAMES


class Priority(IntEnum):
    """What is asked of a person: to act now, to act when it is due, to know."""

    DANGER = 1
    DUE = 2
    ADVICE = 3


# The gravest first: hot caustic paste over the rim, then nobody watching. Quiet hours hold none of these back unless
# they are set to.
WAKING = ("near boil-over", QUIET, "no data", "no paste temperature", "no paste data")
# Then a faulty paste probe, and a batch that loses its heat.
_DANGERS = (*WAKING, "paste probe", "paste cold", "paste cooling")
_DUE = (STIR, CHECK, *LOUDER.values(), *TIMER_NAMES)
_PASTE_PROBE = re.compile(r"paste probe \w+\Z")


def priority_of(name: str) -> Priority:
    """The priority of what is due or wrong, by its name.

    >>> [priority_of(name).name for name in ("near boil-over", "paste probe open", "stir due", "wall probe open")]
    ['DANGER', 'DANGER', 'DUE', 'ADVICE']
    """
    return rank(name)[0]


def rank(name: str) -> tuple[Priority, int]:
    """The key by which to sort names; the most urgent has the least key."""
    kind = _PASTE_PROBE.sub("paste probe", name)
    if kind in _DANGERS:
        return Priority.DANGER, _DANGERS.index(kind)
    return (Priority.DUE, _DUE.index(name)) if name in _DUE else (Priority.ADVICE, 0)
