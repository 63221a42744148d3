"""Finding the one port that speaks packs."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from serial.tools.list_ports import comports

from monitor.protocol import BadLine, ColumnSpec, Item, Pack
from monitor.runtime import Clock
from monitor.sources.serial_port import OpenPort, PortError, wait_for

# A board that resets when its port is opened needs about 2 s to speak again.
GIVE_UP_AFTER_S = 5.0
LOOK_AGAIN_S = 0.5


def listed_ports(also: str) -> list[str]:
    """The machine's serial ports and those that ``also`` names (full paths or patterns, with commas between)."""
    patterns = [pattern.strip("/ ") for pattern in also.split(",")]
    named = [str(path) for pattern in patterns if pattern for path in Path("/").glob(pattern)]
    return list(dict.fromkeys([*(port.device for port in sorted(comports())), *sorted(named)]))


@dataclass(slots=True)
class _Tried:
    """What became of one port so far."""

    port: OpenPort | None = None
    problem: str = ""
    bad: list[Item] = field(default_factory=list)

    def in_words(self, name: str) -> str:
        if self.port is None:
            return f"{name} {self.problem}"
        if self.bad:
            return f"{name} sends lines that are no packs"
        return f"{name} is silent"


class PortSearch:
    """Listens on every port at once until one sends a pack.

    The ports stay open meanwhile, because many boards start anew each time their port is opened.
    """

    def __init__(
        self,
        baud: int,
        clock: Clock,
        columns: Sequence[ColumnSpec] | None,
        list_names: Callable[[], list[str]],
    ) -> None:
        self._baud = baud
        self._clock = clock
        self._columns = columns
        self._list_names = list_names
        self._tried: dict[str, _Tried] = {}
        self._started_s: float | None = None
        self._listed_s = 0.0

    def find(self, timeout_s: float) -> tuple[OpenPort, list[Item]] | None:
        """The port that speaks and what it said, or None when there is none after this many real seconds.

        Raises PortError, which names every port and what is wrong with it, when a whole search found none; call
        again to go on.
        """
        now_s = self._clock.real_s()
        if self._started_s is None:
            self._started_s = now_s
            self._listed_s = now_s - LOOK_AGAIN_S
        if now_s - self._listed_s >= LOOK_AGAIN_S:
            self._listed_s = now_s
            self._look_at_list()
        ports = [tried.port for tried in self._tried.values() if tried.port is not None]
        for port in wait_for(ports, min(timeout_s, LOOK_AGAIN_S)):
            items = self._read(port)
            if any(isinstance(item, Pack) for item in items):
                self._tried.pop(port.name)
                self.close()
                return port, items
        if self._clock.real_s() - self._started_s >= GIVE_UP_AFTER_S:
            self._started_s = None
            raise PortError("of a rig", self._why_none())
        return None

    def _read(self, port: OpenPort) -> list[Item]:
        tried = self._tried[port.name]
        try:
            items = port.read()
        except PortError as error:
            port.close()
            tried.port, tried.problem = None, error.why
            return []
        tried.bad = (tried.bad + [item for item in items if isinstance(item, BadLine)])[-1:]
        return items

    def _look_at_list(self) -> None:
        names = self._list_names()
        for name in [name for name in self._tried if name not in names]:
            gone = self._tried.pop(name)
            if gone.port is not None:
                gone.port.close()
        for name in names:
            tried = self._tried.setdefault(name, _Tried())
            if tried.port is None:
                try:
                    tried.port = OpenPort(name, self._baud, self._clock, self._columns)
                except PortError as error:
                    tried.problem = error.why

    def _why_none(self) -> str:
        if not self._tried:
            return "was not found: this machine has no serial port; look at the cable"
        words = "; ".join(tried.in_words(name) for name, tried in sorted(self._tried.items()))
        return f"was not found: {words}"

    def close(self) -> None:
        """Lets go of every port that is still listened on."""
        for tried in self._tried.values():
            if tried.port is not None:
                tried.port.close()
        self._tried.clear()
        self._started_s = None
