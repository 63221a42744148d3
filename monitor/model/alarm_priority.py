"""What goes before what: the one order of dangers, of what is due, and of the rest (priorities after IEC 62682).

Without numpy, as everything that ``start`` reads.
"""

import re
from enum import IntEnum

from monitor.model.alarm_names import CHECK, LOUDER, QUIET, STIR


class Priority(IntEnum):
    """How much a matter asks of a person: act now, do it in its turn, know of it."""

    DANGER = 1
    DUE = 2
    ADVICE = 3


# The gravest first: hot caustic paste over the rim, then nobody watching. Quiet hours hold none of these back, unless
# they are told to.
WAKING = ("near boil-over", QUIET, "no data", "no paste temperature", "no paste data")
# Then a probe in doubt and a batch that loses its heat.
_DANGERS = (*WAKING, "paste probe", "paste cold", "paste cooling")
_DUE = (STIR, CHECK, *LOUDER.values())
_PASTE_PROBE = re.compile(r"paste probe \w+\Z")


def priority_of(name: str) -> Priority:
    """The priority of what is due or wrong, by its name.

    >>> [priority_of(name).name for name in ("near boil-over", "paste probe open", "stir due", "wall probe open")]
    ['DANGER', 'DANGER', 'DUE', 'ADVICE']
    """
    return rank(name)[0]


def rank(name: str) -> tuple[Priority, int]:
    """By what to sort matters of these names, the one that goes first the least."""
    kind = _PASTE_PROBE.sub("paste probe", name)
    if kind in _DANGERS:
        return Priority.DANGER, _DANGERS.index(kind)
    return (Priority.DUE, _DUE.index(name)) if name in _DUE else (Priority.ADVICE, 0)
