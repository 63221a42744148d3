"""Something that is wrong with a cook or its probes, as others are told of it."""

from dataclasses import dataclass

from monitor.model.alarm_priority import Priority, priority_of


@dataclass(frozen=True, slots=True)
class Alarm:
    """Something that is wrong. words: one plain sentence for a person.

    state: unacknowledged, acknowledged, returned unacknowledged or shelved (after IEC 62682). since, until: Unix
    seconds; until is None while it stands.
    """

    name: str
    state: str
    since: float
    words: str
    until: float | None = None

    @property
    def in_sight(self) -> bool:
        """Whether a person is to see it now: one that they put aside is out of sight until its time is up."""
        return self.state != "shelved"

    @property
    def priority(self) -> Priority:
        """How much it asks of a person."""
        return priority_of(self.name)
