"""What every source of readings does and reports.

A source is polled by the logger's one thread. It never raises for what happens outside: a bad line, a lost port
and a wrong password are all things it reports.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Protocol, TypeAlias

from monitor.protocol import BadLine, Pack

# A lost source is tried again after the first of these, then ever later up to the second, so that it is back
# within 2 s of its return.
FIRST_RETRY_S = 0.1
LAST_RETRY_S = 1.0


@dataclass(frozen=True, slots=True)
class Lost:
    """The source does not speak. reason: one sentence. at: cook time in Unix seconds.

    Reported once when it happens, and again only where the reason has changed.
    """

    reason: str
    at: float


@dataclass(frozen=True, slots=True)
class Restored:
    """A source that was lost speaks again. at: cook time in Unix seconds."""

    at: float


@dataclass(frozen=True, slots=True)
class Info:
    """Something to report to a person that is neither a loss nor a return. text: one sentence."""

    text: str


SourceItem: TypeAlias = Pack | BadLine | Lost | Restored | Info


class Source(Protocol):
    """One source of packs.

    url: what names it, without secrets.
    window: how many packs may wait to be stored before the sender is held up.
    """

    url: str
    window: int

    @property
    def port(self) -> str | None:
        """The path of the serial port of this machine that it has open and hears packs from, or None."""
        ...

    def poll(self, timeout_s: float) -> list[SourceItem]:
        """What was heard, at once when there is something, else after at most this many real seconds."""
        ...

    def stored(self, packs: Iterable[Pack]) -> None:
        """These packs are committed (or dropped on purpose), so the sender may forget them."""
        ...

    def close(self) -> None:
        """Closes the port or the connection."""
        ...
