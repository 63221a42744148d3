"""The source URL that reads what was heard."""

from collections.abc import Mapping, Sequence
from urllib.parse import quote

from monitor.listening.heard import PayloadKind
from monitor.sources import LAYOUT_OPTIONS, SourceUrl

# What stands for itself in a URL and, inside quotes, in a shell.
_PLAIN = "/:,.@=~"


def layout_option(kind: PayloadKind, channels: Sequence[tuple[str, str, str]]) -> tuple[tuple[str, str], ...]:
    """The option that announces these payloads. channels: path, channel and unit of each.

    >>> layout_option(PayloadKind.OBJECT, [("probe.t", "paste", "degC")])
    (('field', 'probe.t:paste:degC'),)
    """
    if kind is PayloadKind.VALUE:
        _, channel, unit = channels[0]
        return (("channel", f"{channel}:{unit}"),)
    if kind is PayloadKind.COLUMNS:
        return (("columns", ",".join(f"{channel}:{unit}" for _, channel, unit in channels)),)
    return tuple(("field", f"{path}:{channel}:{unit}") for path, channel, unit in channels)


def source_text(listened: SourceUrl, place: str, options: Mapping[str, str], layout: Sequence[tuple[str, str]]) -> str:
    """The URL of one topic of a broker, or of one port.

    listened: the URL that was listened to. options: of the connection, such as a port's speed.
    """
    kept = {name: value for name, value in listened.options.items() if name not in (*LAYOUT_OPTIONS, "also")}
    pairs = [*{**kept, **options}.items(), *layout]
    query = "&".join(f"{name}={quote(value, safe=_PLAIN)}" for name, value in pairs)
    if listened.scheme in ("mqtt", "mqtts"):
        user = f"{quote(listened.user, safe='')}@" if listened.user is not None else ""
        host = f"[{listened.host}]" if ":" in listened.host else listened.host
        port = f":{listened.port}" if listened.port else ""
        address = f"{listened.scheme}://{user}{host}{port}/{quote(place, safe=_PLAIN)}"
    elif listened.scheme == "serial":
        address = f"serial://{place}" if place.startswith("/") else f"serial:{place}"
    else:
        address = listened.text.partition("?")[0]
    return f"{address}?{query}" if query else address
