"""Packs from a serial port, a pseudo-terminal, or what stands for one on the network."""

from collections.abc import Iterable
from threading import Event
from typing import Protocol

from monitor.protocol import LineItem, Pack, PayloadLayout
from monitor.runtime import Clock
from monitor.sources.serial_discovery import PortSearch, listed_ports
from monitor.sources.serial_port import PortError, SerialPort, wait_readable
from monitor.sources.source import FIRST_RETRY_S, LAST_RETRY_S, Info, Lost, Restored, SourceItem
from monitor.sources.url import SourceError, SourceUrl

BAUD = 115200
# A port that was found by its packs is given up after this silence, because the rig may speak on another by now.
SILENT_AFTER_S = 60.0
# A port on which no pack has come for this long is not reported as the rig's.
HEARD_WITHIN_S = 15.0


class _PortFinder(Protocol):
    def find(self, timeout_s: float) -> tuple[SerialPort, list[LineItem]] | None: ...

    def close(self) -> None: ...


class _FixedPort:
    """The one port that the URL names."""

    def __init__(self, name: str, baud: int, clock: Clock, layout: PayloadLayout | None) -> None:
        self._open = (name, baud, clock, layout)

    def find(self, timeout_s: float) -> tuple[SerialPort, list[LineItem]]:  # noqa: ARG002
        return SerialPort(*self._open), []

    def close(self) -> None:
        """Holds nothing."""


class SerialSource:
    """A serial source. It opens its port when polled and tries again for as long as it must."""

    window = 100_000

    def __init__(self, url: str, finder: _PortFinder, clock: Clock, *, searches: bool) -> None:
        self.url = url
        self._finder = finder
        self._clock = clock
        self._searches = searches
        self._port: SerialPort | None = None
        self._lost_reason: str | None = None
        self._retry_s = 0.0
        self._delay_s = FIRST_RETRY_S
        self._last_pack_s = 0.0
        self._found_port: str | None = None
        self._heard_s: float | None = None

    @property
    def port(self) -> str | None:
        """The port's path, while packs come; see Source."""
        if self._port is None or self._heard_s is None or "://" in self._port.name:
            return None
        return self._port.name if self._clock.real_s() - self._heard_s <= HEARD_WITHIN_S else None

    def poll(self, timeout_s: float) -> list[SourceItem]:
        """What was heard within this many real seconds; see Source."""
        try:
            items = self._read(self._port, timeout_s) if self._port else self._find_port(timeout_s)
        except PortError as error:
            return self._report_lost(str(error))
        return self._with_reports(items)

    def _read(self, port: SerialPort, timeout_s: float) -> list[LineItem]:
        items = port.read() if wait_readable([port], timeout_s) else port.cut_stalled()
        if self._searches and not items and self._clock.real_s() - self._last_pack_s > SILENT_AFTER_S:
            raise PortError(port.name, f"has sent no pack for {SILENT_AFTER_S:g} s; every port is looked at again")
        return items

    def _find_port(self, timeout_s: float) -> list[LineItem]:
        wait_s = self._retry_s - self._clock.real_s()
        if wait_s > 0.0:
            Event().wait(min(wait_s, timeout_s))
            timeout_s -= wait_s
            if timeout_s <= 0.0:
                return []
        found = self._finder.find(timeout_s)
        if found is None:
            return []
        self._port, items = found
        self._found_port = self._port.name if self._searches else None
        self._delay_s = FIRST_RETRY_S
        self._last_pack_s = self._clock.real_s()
        return items

    def _report_lost(self, reason: str) -> list[SourceItem]:
        reports: list[SourceItem] = []
        self._heard_s = None
        if self._port is not None:
            reports += self._port.close()
            self._port = None
        self._retry_s = self._clock.real_s() + self._delay_s
        self._delay_s = min(self._delay_s * 2.0, LAST_RETRY_S)
        if reason != self._lost_reason:
            self._lost_reason = reason
            reports.append(Lost(reason, self._clock.now()))
        return reports

    def _with_reports(self, items: list[LineItem]) -> list[SourceItem]:
        reports: list[SourceItem] = []
        if any(isinstance(item, Pack) for item in items):
            self._last_pack_s = self._heard_s = self._clock.real_s()
            if self._lost_reason is not None:
                self._lost_reason = None
                reports.append(Restored(self._clock.now()))
            if self._found_port is not None:
                reports.append(Info(f"The rig speaks on {self._found_port}."))
                self._found_port = None
        return [*reports, *items]

    def stored(self, packs: Iterable[Pack]) -> None:
        """A sender on a serial line keeps nothing that it could forget."""

    def close(self) -> None:
        """Lets go of the port."""
        self._finder.close()
        if self._port is not None:
            self._port.close()
            self._port = None


def baud_of_url(url: SourceUrl) -> int:
    """The speed that the URL of a port names, else the usual one. Raises SourceError."""
    baud_text = url.options.get("baud", str(BAUD))
    if not baud_text.isdecimal() or not 50 <= int(baud_text) <= 4_000_000:
        raise SourceError(url.text, f"its baud is {baud_text!r}; it must be a whole number from 50 to 4000000")
    return int(baud_text)


def port_of_url(url: SourceUrl) -> str | None:
    """The port that the URL names, as pyserial has it; None for ``serial://auto``. Raises SourceError."""
    if url.scheme == "serial" and url.host == "auto" and url.path in ("", "/"):
        return None
    if "also" in url.options:
        raise SourceError(url.text, "the option 'also' belongs to serial://auto")
    if url.scheme == "serial":
        if url.host or len(url.path) < 2:
            raise SourceError(
                url.text, "it names no port; write serial:///dev/ttyUSB0, with three slashes, or serial://auto"
            )
        return url.path
    if not url.host or not url.port:
        raise SourceError(url.text, f"it lacks its host or port, such as {url.scheme}://192.168.1.20:4000")
    host = f"[{url.host}]" if ":" in url.host else url.host
    return f"{url.scheme.removeprefix('serial+')}://{host}:{url.port}"


def open_serial_source(url: SourceUrl, clock: Clock, layout: PayloadLayout | None, _identity: str) -> SerialSource:
    """The serial source that the URL names. Raises SourceError."""
    baud, name = baud_of_url(url), port_of_url(url)
    if name is None:
        also = url.options.get("also", "")
        search = PortSearch(baud, clock, layout, lambda: listed_ports(also))
        return SerialSource(url.text, search, clock, searches=True)
    return SerialSource(url.text, _FixedPort(name, baud, clock, layout), clock, searches=False)
