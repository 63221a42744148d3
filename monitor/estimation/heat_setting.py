"""What was logged of the cooker's switch: whether the heat is set below what it was at the start, or off."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from monitor.model import Event

# The words on a cooker's switch, by their heat.
SETTINGS: Mapping[str, int] = MappingProxyType(
    {"off": 0, "keep warm": 1, "warm": 1, "low": 2, "medium": 3, "med": 3, "high": 4}
)
OFF, HIGHEST = 0, 4


@dataclass(frozen=True, slots=True)
class HeatChange:
    """A logged change of the heat. at: Unix seconds.

    lowered: whether it is set below the usual setting from then on; None where the words do not say.
    """

    at: float
    lowered: bool | None


def heat_changes(events: tuple[Event, ...]) -> list[HeatChange]:
    """The logged changes of the heat, in order.

    The usual setting is the one of the start, the highest where nobody logged it: so a cooker that is on low from the
    start is not a lowered one. A lid that goes on after the heat was off begins anew.

    >>> from monitor.model import make_event
    >>> words = [make_event(str(at), "heat", at, at, {"setting": word}) for at, word in ((60, "Low"), (120, "high"))]
    >>> [change.lowered for change in heat_changes(tuple(words))]
    [True, False]
    """
    start = next((event.measured for event in events if event.kind in ("thick trace", "lid on")), None)
    usual = now = HIGHEST
    changes: list[HeatChange] = []
    for event in events:
        if event.kind == "lid on":
            if now == OFF:
                now = usual
                changes.append(HeatChange(event.measured, False))
        elif event.kind in ("heat", "heat off"):
            rank = _rank(event)
            at_start = start is not None and event.measured <= start
            if at_start and rank:
                usual = rank
            changes.append(HeatChange(event.measured, None if rank is None else rank < usual))
            now = usual if rank is None else rank
    return changes


def heat_is_off(events: tuple[Event, ...]) -> bool:
    """Whether the last event about the heat says that it is off."""
    for event in reversed(events):
        if event.kind in ("heat", "heat off", "lid on"):
            return event.kind != "lid on" and _rank(event) == OFF
    return False


def _rank(event: Event) -> int | None:
    """The heat of a logged setting, None for words that are not known."""
    if event.kind == "heat off":
        return OFF
    return SETTINGS.get(str(event.fields.get("setting", "")).strip().lower())
