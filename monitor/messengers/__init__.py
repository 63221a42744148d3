"""Who carries a notice out of the house's processes: services on the network, and programs on this machine.

A messenger either carries or raises NotCarriedError with a reason made of our own words alone, because what a
library says of a failure may repeat a password.
"""

from typing import Protocol

from monitor.errors import MonitorError


class NotCarriedError(MonitorError):
    """A notice was not carried. why: one clause, free of secrets."""

    def __init__(self, why: str) -> None:
        self.why = why
        super().__init__(f"The notice was not carried: {why}.")


class Messenger(Protocol):
    """Carries one notice at a time, and may take long over it. name: what the person calls it."""

    name: str

    def carry(self, title: str, words: str) -> None:
        """Carries it. Raises NotCarriedError."""
        ...
