"""Opening the source that a URL names."""

from collections.abc import Mapping, Sequence
from importlib import import_module
from types import MappingProxyType

from monitor.protocol import ColumnSpec, Renaming
from monitor.runtime import Clock
from monitor.sources.renamed import RenamedSource
from monitor.sources.source import Source
from monitor.sources.url import SourceUrl

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
    return RenamedSource(source, renamings)
