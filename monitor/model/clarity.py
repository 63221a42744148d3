"""What the clarity checks of a cook say together: when the paste came clear, and whether they contradict each other.

The one place for that rule. A paste that is clear stays clear, so a hazy or cloudy sample after a clear one
contradicts it. Everybody then does the same: the paste counts as clear from the first check of the last unbroken run
of clear ones; the estimate lets contradictory checks count for less, and the kitchen learns nothing from them.
"""

from collections.abc import Sequence

from monitor.model.history import History
from monitor.model.records import Event

CLEAR = "clear"


def is_clear(check: Event) -> bool:
    """Whether the sample of this check read clear."""
    return check.fields.get("result") == CLEAR


def checks_contradict(checks: Sequence[Event]) -> bool:
    """Whether a sample that was not clear follows one that was.

    checks: events of kind "checked", in the order in which they were measured.
    """
    clear = [is_clear(check) for check in checks]
    return True in clear and not all(clear[clear.index(True) :])


def clear_since(checks: Sequence[Event]) -> float | None:
    """The moment (Unix seconds) of the clear check after which none was otherwise; None where the last was not clear.

    checks: events of kind "checked", in the order in which they were measured.
    """
    since: float | None = None
    for check in checks:
        since = (since or check.measured) if is_clear(check) else None
    return since


def last_not_clear(checks: Sequence[Event], before: float) -> float | None:
    """When (Unix seconds) the last sample up to a moment was taken that was not clear; None where there was none."""
    return max((check.measured for check in checks if check.measured <= before and not is_clear(check)), default=None)


def cook_end(history: History) -> float | None:
    """When cooking ended (Unix seconds): when the paste came clear, else when the cook was logged as finished.

    None while the cook goes on.
    """
    clear = clear_since(history.events_of("checked"))
    return clear if clear is not None else history.finished()


def clear_bracket(history: History) -> tuple[float | None, float] | None:
    """The moments (Unix seconds) between which the paste came clear.

    The last sample that was not clear (None where there was none) and the first of the clear ones; None where the
    last check was not clear.
    """
    checks = history.events_of("checked")
    clear = clear_since(checks)
    return None if clear is None else (last_not_clear(checks, clear), clear)
