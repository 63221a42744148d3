"""A channel takes a notice out of this process: to a service on the network, a program, or a rig's buzzer.

A channel either sends or raises SendError with a reason made of our own words alone, because what a library says of a
failure may repeat a password.
"""

from dataclasses import dataclass
from typing import Protocol

from monitor.notifications.repeat import Notice
from monitor.runtime import MonitorError


class SendError(MonitorError):
    """A notice was not sent. why: one clause, free of secrets."""

    def __init__(self, why: str) -> None:
        self.why = why
        super().__init__(f"The notice was not sent: {why}.")


@dataclass(frozen=True, slots=True)
class Message:
    """A notice and the rig that it is about. rig: the rig's name."""

    rig: str
    notice: Notice

    @property
    def title(self) -> str:
        """The headline of the message.

        >>> Message("left", Notice("stir due", "", 0.0)).title
        'left: stir due'
        """
        return f"{self.rig}: {self.notice.name}"


class Channel(Protocol):
    """Sends one message at a time, and may take long over it. name: what the person calls it."""

    name: str

    def send(self, message: Message) -> None:
        """Sends the message and returns when it is delivered. Raises SendError."""
        ...

    def close(self) -> None:
        """Gives up what is on its way, from another thread, and returns at once; nothing is sent any more."""
        ...
