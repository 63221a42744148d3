"""An alarm: something that is wrong with a cook or its probes."""

from dataclasses import dataclass

from monitor.model.alarm_priority import Priority, priority_of


@dataclass(frozen=True, slots=True)
class Alarm:
    """Something that is wrong. words: one plain sentence for a person.

    state: unacknowledged, acknowledged, returned unacknowledged or shelved (after IEC 62682). since, until: Unix
    seconds; until is None while the alarm is active.
    """

    name: str
    state: str
    since: float
    words: str
    until: float | None = None

    @property
    def in_sight(self) -> bool:
        """Whether it is shown now; a shelved alarm is not, until its time is up."""
        return self.state != "shelved"

    @property
    def priority(self) -> Priority:
        """What it asks of a person."""
        return priority_of(self.name)
