"""What every source of readings does, and how the source that a URL names is opened.

A source is polled by the logger's one thread. It never raises for what happens outside: a bad line, a lost port
and a wrong password are all things it reports.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from importlib import import_module
from types import MappingProxyType
from typing import Protocol, TypeAlias

from monitor.protocol import BadLine, ColumnSpec, Pack, Renaming
from monitor.runtime import Clock
from monitor.sources.url import SourceUrl

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


# The first part of a scheme -> the function that opens it, loaded by name so that a serial logger never loads MQTT.
_OPENERS: Mapping[str, str] = MappingProxyType(
    {
        "serial": "monitor.sources.serial_source:open_serial_source",
        "mqtt": "monitor.sources.mqtt:open_mqtt_source",
        "mqtts": "monitor.sources.mqtt:open_mqtt_source",
        "rig": "monitor.simulator.source:open_rig_source",
    }
)


def open_source(
    url: SourceUrl,
    clock: Clock,
    columns: Sequence[ColumnSpec] | None = None,
    identity: str = "",
    renamings: Sequence[Renaming] = (),
) -> Source:
    """The source that the URL names; it connects when it is polled, and keeps trying.

    columns: for sketches that print bare numbers. identity: what this listener is to a broker, the same after
    every restart, so that the broker keeps for it what was sent meanwhile. renamings: what channels are recorded as.
    Raises SourceError.
    """
    module, _, opener = _OPENERS[url.scheme.partition("+")[0]].partition(":")
    source: Source = getattr(import_module(module), opener)(url, clock, columns, identity)
    if not renamings:
        return source
    renamed: Source = import_module("monitor.sources.renamed").RenamedSource(source, renamings)
    return renamed
