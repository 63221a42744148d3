"""Who carries a notice out of the house's processes: services on the network, and programs on this machine.

A messenger either carries or raises SendError with a reason made of our own words alone, because what a
library says of a failure may repeat a password.
"""

from dataclasses import dataclass
from typing import Protocol

from monitor.notifications.repeat import Notice
from monitor.runtime import MonitorError


class SendError(MonitorError):
    """A notice was not carried. why: one clause, free of secrets."""

    def __init__(self, why: str) -> None:
        self.why = why
        super().__init__(f"The notice was not carried: {why}.")


@dataclass(frozen=True, slots=True)
class Message:
    """A notice and the cooker that it is about. rig: the cooker's name."""

    rig: str
    notice: Notice

    @property
    def title(self) -> str:
        """What stands over it.

        >>> Message("left", Notice("stir due", "", 0.0)).title
        'left: stir due'
        """
        return f"{self.rig}: {self.notice.name}"


class Channel(Protocol):
    """Carries one letter at a time, and may take long over it. name: what the person calls it."""

    name: str

    def send(self, letter: Message) -> None:
        """Carries it. Raises NotCarriedError."""
        ...

    def close(self) -> None:
        """Has what is on its way given up, from another thread, and returns at once; nothing is carried any more."""
        ...
