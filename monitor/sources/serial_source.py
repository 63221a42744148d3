"""Packs from a serial port, a pseudo-terminal, or what stands for one on the network."""

import select
from collections.abc import Iterable, Sequence
from typing import Protocol

from monitor.protocol import ColumnSpec, Item, Pack
from monitor.runtime import Clock
from monitor.sources.serial_discovery import PortSearch, listed_ports
from monitor.sources.serial_port import OpenPort, PortError, wait_for
from monitor.sources.source import FIRST_RETRY_S, LAST_RETRY_S, Info, Lost, Restored, SourceError, SourceItem, SourceUrl

BAUD = 115200
# A port found by what it speaks is looked for anew after this silence: the rig may speak on another one.
SILENT_AFTER_S = 60.0
# A port from which nothing has come for this long is not said to speak.
SPEAKS_WITHIN_S = 15.0


class _Finder(Protocol):
    def find(self, timeout_s: float) -> tuple[OpenPort, list[Item]] | None: ...

    def close(self) -> None: ...


class _Named:
    """The one port that the URL names."""

    def __init__(self, name: str, baud: int, clock: Clock, columns: Sequence[ColumnSpec] | None) -> None:
        self._open = (name, baud, clock, columns)

    def find(self, timeout_s: float) -> tuple[OpenPort, list[Item]]:  # noqa: ARG002
        return OpenPort(*self._open), []

    def close(self) -> None:
        """Holds nothing."""


class SerialSource:
    """A serial source. It opens its port when polled and tries again for as long as it must."""

    window = 100_000

    def __init__(self, url: str, finder: _Finder, clock: Clock, *, searches: bool) -> None:
        self.url = url
        self._finder = finder
        self._clock = clock
        self._searches = searches
        self._port: OpenPort | None = None
        self._lost: str | None = None
        self._retry_s = 0.0
        self._delay_s = FIRST_RETRY_S
        self._last_pack_s = 0.0
        self._found: str | None = None
        self._spoke_s: float | None = None

    @property
    def port(self) -> str | None:
        """The port's path, while packs come; see Source."""
        if self._port is None or self._spoke_s is None or "://" in self._port.name:
            return None
        return self._port.name if self._clock.real_s() - self._spoke_s <= SPEAKS_WITHIN_S else None

    def poll(self, timeout_s: float) -> list[SourceItem]:
        """What was heard within this many real seconds; see Source."""
        try:
            items = self._listen(self._port, timeout_s) if self._port else self._look_for_port(timeout_s)
        except PortError as error:
            return self._lose(str(error))
        return self._told(items)

    def _listen(self, port: OpenPort, timeout_s: float) -> list[Item]:
        items = port.read() if wait_for([port], timeout_s) else port.stalled()
        if self._searches and not items and self._clock.real_s() - self._last_pack_s > SILENT_AFTER_S:
            raise PortError(port.name, f"has sent no pack for {SILENT_AFTER_S:g} s; every port is looked at again")
        return items

    def _look_for_port(self, timeout_s: float) -> list[Item]:
        wait_s = self._retry_s - self._clock.real_s()
        if wait_s > 0.0:
            select.select([], [], [], min(wait_s, timeout_s))
            timeout_s -= wait_s
            if timeout_s <= 0.0:
                return []
        found = self._finder.find(timeout_s)
        if found is None:
            return []
        self._port, items = found
        self._found = self._port.name if self._searches else None
        self._delay_s = FIRST_RETRY_S
        self._last_pack_s = self._clock.real_s()
        return items

    def _lose(self, reason: str) -> list[SourceItem]:
        heard: list[SourceItem] = []
        self._spoke_s = None
        if self._port is not None:
            heard += self._port.close()
            self._port = None
        self._retry_s = self._clock.real_s() + self._delay_s
        self._delay_s = min(self._delay_s * 2.0, LAST_RETRY_S)
        if reason != self._lost:
            self._lost = reason
            heard.append(Lost(reason, self._clock.now()))
        return heard

    def _told(self, items: list[Item]) -> list[SourceItem]:
        heard: list[SourceItem] = []
        if any(isinstance(item, Pack) for item in items):
            self._last_pack_s = self._spoke_s = self._clock.real_s()
            if self._lost is not None:
                self._lost = None
                heard.append(Restored(self._clock.now()))
            if self._found is not None:
                heard.append(Info(f"The rig speaks on {self._found}."))
                self._found = None
        return [*heard, *items]

    def stored(self, packs: Iterable[Pack]) -> None:
        """A serial line has nobody to tell."""

    def close(self) -> None:
        """Lets go of the port."""
        self._finder.close()
        if self._port is not None:
            self._port.close()
            self._port = None


def open_serial_source(
    url: SourceUrl, clock: Clock, columns: Sequence[ColumnSpec] | None, _identity: str
) -> SerialSource:
    """The serial source that the URL names. Raises SourceError."""
    baud_text = url.options.get("baud", str(BAUD))
    if not baud_text.isdecimal() or not 50 <= int(baud_text) <= 4_000_000:
        raise SourceError(url.text, f"its baud is {baud_text!r}; it must be a whole number from 50 to 4000000")
    baud = int(baud_text)
    if url.scheme == "serial" and url.host == "auto" and url.path in ("", "/"):
        also = url.options.get("also", "")
        search = PortSearch(baud, clock, columns, lambda: listed_ports(also))
        return SerialSource(url.text, search, clock, searches=True)
    if "also" in url.options:
        raise SourceError(url.text, "the option 'also' belongs to serial://auto")
    if url.scheme == "serial":
        if url.host or len(url.path) < 2:
            raise SourceError(
                url.text, "it names no port; write serial:///dev/ttyUSB0, with three slashes, or serial://auto"
            )
        name = url.path
    else:
        if not url.host or not url.port:
            raise SourceError(url.text, f"it lacks its host or port, such as {url.scheme}://192.168.1.20:4000")
        host = f"[{url.host}]" if ":" in url.host else url.host
        name = f"{url.scheme.removeprefix('serial+')}://{host}:{url.port}"
    return SerialSource(url.text, _Named(name, baud, clock, columns), clock, searches=False)
