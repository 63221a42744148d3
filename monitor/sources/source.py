"""Where readings come from: what every source does, and the URL that names one.

A source is polled by the logger's one thread. It never raises for what happens outside: a bad line, a lost port
and a wrong password are all things it reports.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from importlib import import_module
from types import MappingProxyType
from typing import Protocol, TypeAlias
from urllib.parse import SplitResult, parse_qsl, unquote, urlsplit

from monitor.protocol import BadLine, ColumnSpec, Pack, Renaming
from monitor.runtime import Clock, MonitorError

# A lost source is tried again after the first of these, then ever later up to the second, so that it is back
# within 2 s of its return.
FIRST_RETRY_S = 0.1
LAST_RETRY_S = 1.0


class SourceError(MonitorError):
    """A source URL that names no source. url: without any password; why: one clause."""

    exit_status = 2

    def __init__(self, url: str, why: str) -> None:
        self.url = url
        self.why = why
        super().__init__(f"The source {url} is not one: {why}.")


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
    """Something a person should be told that is neither a loss nor a return. words: one sentence."""

    words: str


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
        """Lets go of the port or the connection."""
        ...


@dataclass(frozen=True, slots=True)
class SourceUrl:
    """A source URL in its parts.

    text: the whole, as given. scheme: such as ``serial``, ``serial+socket``, ``mqtts``. path: begins with "/" or
    is empty. options: what stands behind the "?".
    """

    text: str
    scheme: str
    user: str | None
    host: str
    port: int | None
    path: str
    options: Mapping[str, str]


# scheme: the function that opens it, loaded by name so that a serial logger never loads MQTT, and the options it knows
_SCHEMES: Mapping[str, tuple[str, tuple[str, ...]]] = MappingProxyType(
    {
        "serial": ("monitor.sources.serial_source:open_serial_source", ("baud", "also")),
        "serial+socket": ("monitor.sources.serial_source:open_serial_source", ()),
        "serial+rfc2217": ("monitor.sources.serial_source:open_serial_source", ("baud",)),
        "mqtt": ("monitor.sources.mqtt:open_mqtt_source", ("password_file", "version")),
        "mqtts": ("monitor.sources.mqtt:open_mqtt_source", ("password_file", "version", "ca", "cert", "key")),
        "rig": ("monitor.simulator.source:open_rig_source", ("seed",)),
    }
)

# What the systems call their serial ports: a path, or on Windows a name. A "?" begins options, as in an address.
_PORT = re.compile(r"/[^?]+(?:\?.*)?|COM\d+(?:\?.*)?", re.IGNORECASE)


def parse_source_url(text: str) -> SourceUrl:
    """The parts of a source URL.

    Raises SourceError.

    >>> parse_source_url("serial:///dev/ttyUSB0?baud=9600").options["baud"]
    '9600'
    >>> parse_source_url("mqtt://anna@broker:1884/kettleside/+/readings").path
    '/kettleside/+/readings'

    The bare name of a serial port will do.

    >>> parse_source_url("/dev/ttyUSB0").text, parse_source_url("COM3").path
    ('serial:///dev/ttyUSB0', 'COM3')
    """
    if _PORT.fullmatch(text):
        text = f"serial://{text}" if text.startswith("/") else f"serial:{text}"
    try:
        # In an MQTT topic filter "#" is a wildcard and begins no fragment.
        parts = urlsplit(text, allow_fragments=False)
        port = parts.port
    except ValueError as error:
        raise SourceError(text, str(error).lower()) from None
    if not parts.scheme:
        raise SourceError(text, "it lacks its scheme, such as serial:///dev/ttyUSB0 or mqtt://broker/topic")
    if parts.scheme not in _SCHEMES:
        near = get_close_matches(parts.scheme, list(_SCHEMES), 1, 0.0)[0]
        raise SourceError(_without_password(parts), f"there is no scheme {parts.scheme!r}; the nearest is {near!r}")
    if parts.password is not None:
        raise SourceError(
            _without_password(parts),
            "a password does not belong on the command line; put it into KETTLESIDE_MQTT_PASSWORD or a password_file",
        )
    known = _SCHEMES[parts.scheme][1]
    options: dict[str, str] = {}
    for key, value in parse_qsl(parts.query, keep_blank_values=True):
        if key not in known:
            near_key = get_close_matches(key, known, 1, 0.0)
            hint = f"; the nearest is {near_key[0]!r}" if near_key else ""
            raise SourceError(text, f"it has no option {key!r}{hint}")
        options[key] = value
    user = unquote(parts.username) if parts.username else None
    return SourceUrl(text, parts.scheme, user, parts.hostname or "", port, parts.path, MappingProxyType(options))


def _without_password(parts: SplitResult) -> str:
    address = parts.netloc.rsplit("@", 1)[-1]
    user = f"{parts.username}@" if parts.username else ""
    return f"{parts.scheme}://{user}{address}{parts.path}"


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
    module, _, opens = _SCHEMES[url.scheme][0].partition(":")
    source: Source = getattr(import_module(module), opens)(url, clock, columns, identity)
    if not renamings:
        return source
    door: Source = import_module("monitor.sources.renamed").RenamedSource(source, renamings)
    return door
