"""Opening the source that a URL names."""

from collections.abc import Mapping, Sequence
from importlib import import_module
from types import MappingProxyType

from monitor.protocol import PayloadLayout, Renaming
from monitor.runtime import Clock
from monitor.sources.renamed import RenamedSource
from monitor.sources.several import SeveralSources
from monitor.sources.source import Source
from monitor.sources.url import SourceError, SourceUrl, payload_layout

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
    url: SourceUrl | Sequence[SourceUrl],
    clock: Clock,
    layout: PayloadLayout | None = None,
    identity: str = "",
    renamings: Sequence[Renaming] = (),
) -> Source:
    """The source that the URL names, or several as one; it connects when it is polled, and keeps trying.

    layout: what the payloads are, where they are no packs and the URL does not say it. identity: what this listener
    is to a broker, the same after every restart, so that the broker keeps for it what was sent meanwhile.
    renamings: what channels are recorded as. Raises SourceError.
    """
    urls = (url,) if isinstance(url, SourceUrl) else tuple(url)
    opened: list[Source] = []
    try:
        for one in urls:
            opened.append(_open(one, clock, layout, identity))
    except SourceError:
        for source in opened:
            source.close()
        raise
    source = opened[0] if len(opened) == 1 else SeveralSources(opened)
    return RenamedSource(source, renamings) if renamings else source


def _open(url: SourceUrl, clock: Clock, layout: PayloadLayout | None, identity: str) -> Source:
    module, _, opener = _OPENERS[url.scheme.partition("+")[0]].partition(":")
    source: Source = getattr(import_module(module), opener)(url, clock, payload_layout(url) or layout, identity)
    return source
