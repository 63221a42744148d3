"""The serial ports of this machine, what tells one from another, and the search for the one that a rig speaks on."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from serial.tools.list_ports import comports

from monitor.protocol import BadLine, LineItem, Pack, PayloadLayout
from monitor.runtime import Clock
from monitor.sources.serial_port import PortError, SerialPort, wait_readable

# A board that resets when its port is opened needs about 2 s to speak again.
GIVE_UP_AFTER_S = 5.0
LIST_EVERY_S = 0.5


def listed_ports(also: str) -> list[str]:
    """The machine's serial ports and those that ``also`` names (full paths or patterns, with commas between)."""
    patterns = [pattern.strip("/ ") for pattern in also.split(",")]
    named = [str(path) for pattern in patterns if pattern for path in Path("/").glob(pattern)]
    return list(dict.fromkeys([*(port.device for port in sorted(comports())), *sorted(named)]))


@dataclass(frozen=True, slots=True)
class UsbPort:
    """A USB serial port. vendor, product: four hex digits, as udev has them. serial: the maker's number, or None.

    place: the USB socket it is plugged into, as the kernel names it ("1-1.2").
    """

    device: str
    vendor: str
    product: str
    serial: str | None
    place: str | None


def usb_port(device: str) -> UsbPort | None:
    """The USB port at this path, links followed; None where nothing is plugged in or it is not USB."""
    real = str(Path(device).resolve())
    for port in comports():
        if port.device == real and port.vid is not None and port.pid is not None:
            place = str(port.location).partition(":")[0] if port.location else None
            return UsbPort(real, f"{port.vid:04x}", f"{port.pid:04x}", port.serial_number or None, place)
    return None


@dataclass(slots=True)
class _Candidate:
    """A port that the rig may speak on.

    problem: why it is not open. has_bad_lines: lines that are no packs came on it.
    """

    port: SerialPort | None = None
    problem: str = ""
    has_bad_lines: bool = False

    def finding(self, name: str) -> str:
        if self.port is None:
            return f"{name} {self.problem}"
        if self.has_bad_lines:
            return f"{name} sends lines that are no packs"
        return f"{name} is silent"


class PortSearch:
    """Reads every port at once until one sends a pack.

    The ports stay open meanwhile, because many boards start anew each time their port is opened.
    """

    def __init__(
        self,
        baud: int,
        clock: Clock,
        layout: PayloadLayout | None,
        list_names: Callable[[], list[str]],
    ) -> None:
        self._baud = baud
        self._clock = clock
        self._layout = layout
        self._list_names = list_names
        self._candidates: dict[str, _Candidate] = {}
        self._started_s: float | None = None
        self._listed_s = 0.0

    def find(self, timeout_s: float) -> tuple[SerialPort, list[LineItem]] | None:
        """The port that sends packs and what it sent, or None when there is none after this many real seconds.

        Raises PortError, which names every port and what is wrong with it, when a whole search found none; another
        call begins the next search.
        """
        now_s = self._clock.real_s()
        if self._started_s is None:
            self._started_s = now_s
            self._listed_s = now_s - LIST_EVERY_S
        if now_s - self._listed_s >= LIST_EVERY_S:
            self._listed_s = now_s
            self._open_listed()
        ports = [candidate.port for candidate in self._candidates.values() if candidate.port is not None]
        for port in wait_readable(ports, min(timeout_s, LIST_EVERY_S)):
            items = self._read(port)
            if any(isinstance(item, Pack) for item in items):
                self._candidates.pop(port.name)
                self.close()
                return port, items
        if self._clock.real_s() - self._started_s >= GIVE_UP_AFTER_S:
            self._started_s = None
            raise PortError("of a rig", self._failure_text())
        return None

    def _read(self, port: SerialPort) -> list[LineItem]:
        candidate = self._candidates[port.name]
        try:
            items = port.read()
        except PortError as error:
            port.close()
            candidate.port, candidate.problem = None, error.why
            return []
        candidate.has_bad_lines |= any(isinstance(item, BadLine) for item in items)
        return items

    def _open_listed(self) -> None:
        names = self._list_names()
        for name in [name for name in self._candidates if name not in names]:
            gone = self._candidates.pop(name)
            if gone.port is not None:
                gone.port.close()
        for name in names:
            candidate = self._candidates.setdefault(name, _Candidate())
            if candidate.port is None:
                try:
                    candidate.port = SerialPort(name, self._baud, self._clock, self._layout)
                except PortError as error:
                    candidate.problem = error.why

    def _failure_text(self) -> str:
        if not self._candidates:
            return "was not found: this machine has no serial port; look at the cable"
        findings = "; ".join(candidate.finding(name) for name, candidate in sorted(self._candidates.items()))
        return f"was not found: {findings}"

    def close(self) -> None:
        """Closes every port that is still open for the search."""
        for candidate in self._candidates.values():
            if candidate.port is not None:
                candidate.port.close()
        self._candidates.clear()
        self._started_s = None
