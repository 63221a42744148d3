"""The URL that names a source of readings, in its parts."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from types import MappingProxyType
from urllib.parse import SplitResult, parse_qsl, unquote, urlsplit

from monitor.protocol import PayloadLayout, parse_columns_spec, parse_named_fields, parse_plain_value
from monitor.runtime import MonitorError

# What the payloads are where they are no packs; see ``monitor.protocol.PayloadLayout``.
LAYOUT_OPTIONS = ("channel", "field", "columns")
# scheme -> the options that it knows
_OPTIONS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "serial": ("baud", "also", *LAYOUT_OPTIONS),
        "serial+socket": LAYOUT_OPTIONS,
        "serial+rfc2217": ("baud", *LAYOUT_OPTIONS),
        "mqtt": ("password_file", "version", *LAYOUT_OPTIONS),
        "mqtts": ("password_file", "version", "ca", "cert", "key", *LAYOUT_OPTIONS),
        "rig": ("seed",),
    }
)
# What the systems call their serial ports: a path, or on Windows a name. A "?" begins options, as in an address.
_PORT_NAME = re.compile(r"/[^?]+(?:\?.*)?|COM\d+(?:\?.*)?", re.IGNORECASE)


class SourceError(MonitorError):
    """A source URL that names no source. url: without any password; why: one clause."""

    exit_status = 2

    def __init__(self, url: str, why: str) -> None:
        self.url = url
        self.why = why
        super().__init__(f"The source {url} is not one: {why}.")


@dataclass(frozen=True, slots=True)
class SourceUrl:
    """A source URL in its parts.

    text: the whole, as given. scheme: such as ``serial``, ``serial+socket``, ``mqtts``. path: begins with "/" or
    is empty. options: what stands behind the "?". fields: each value of ``field``, the one option that may be repeated.
    """

    text: str
    scheme: str
    user: str | None
    host: str
    port: int | None
    path: str
    options: Mapping[str, str]
    fields: tuple[str, ...] = ()


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
    if _PORT_NAME.fullmatch(text):
        text = f"serial://{text}" if text.startswith("/") else f"serial:{text}"
    try:
        # In an MQTT topic filter "#" is a wildcard and begins no fragment.
        parts = urlsplit(text, allow_fragments=False)
        port = parts.port
    except ValueError as error:
        raise SourceError(text, str(error).lower()) from None
    if not parts.scheme:
        raise SourceError(text, "it lacks its scheme, such as serial:///dev/ttyUSB0 or mqtt://broker/topic")
    if parts.scheme not in _OPTIONS:
        near = get_close_matches(parts.scheme, list(_OPTIONS), 1, 0.0)[0]
        raise SourceError(_without_password(parts), f"there is no scheme {parts.scheme!r}; the nearest is {near!r}")
    if parts.password is not None:
        raise SourceError(
            _without_password(parts),
            "a password does not belong on the command line; put it into KETTLESIDE_MQTT_PASSWORD or a password_file",
        )
    known = _OPTIONS[parts.scheme]
    options: dict[str, str] = {}
    fields: list[str] = []
    for key, value in parse_qsl(parts.query, keep_blank_values=True):
        if key not in known:
            near_key = get_close_matches(key, known, 1, 0.0)
            hint = f"; the nearest is {near_key[0]!r}" if near_key else ""
            raise SourceError(text, f"it has no option {key!r}{hint}")
        if key == "field":
            fields.append(value)
        options[key] = value
    user = unquote(parts.username) if parts.username else None
    host = parts.hostname or ""
    return SourceUrl(text, parts.scheme, user, host, port, parts.path, MappingProxyType(options), tuple(fields))


def parse_source_urls(texts: Iterable[str]) -> tuple[SourceUrl, ...]:
    """The sources of one cooker. Raises SourceError, also where one is named twice."""
    urls = tuple(map(parse_source_url, texts))
    names = [url.text for url in urls]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        raise SourceError(twice, "the same cooker has it twice")
    return urls


def payload_layout(url: SourceUrl) -> PayloadLayout | None:
    """What the payloads are, as the URL's own options announce it; None for packs. Raises SourceError.

    >>> payload_layout(parse_source_url("mqtt://broker/kitchen/probe?channel=paste:degF"))
    PlainValue(channel='paste', unit='degF')
    """
    given = [option for option in LAYOUT_OPTIONS if option in url.options]
    if len(given) > 1:
        raise SourceError(url.text, f"{' and '.join(given)} exclude each other")
    try:
        if given == ["channel"]:
            return parse_plain_value(url.options["channel"])
        if given == ["field"]:
            return parse_named_fields(url.fields)
        return parse_columns_spec(url.options["columns"]) if given else None
    except ValueError as error:
        raise SourceError(url.text, str(error)) from None


def _without_password(parts: SplitResult) -> str:
    address = parts.netloc.rsplit("@", 1)[-1]
    user = f"{parts.username}@" if parts.username else ""
    return f"{parts.scheme}://{user}{address}{parts.path}"
