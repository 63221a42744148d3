"""Hearing the lines of one serial port, at the speed at which they are text."""

from collections.abc import Sequence

from monitor.listening.heard import Heard
from monitor.protocol import LineSplitter
from monitor.runtime import Clock
from monitor.sources import SerialPort

# The speeds that sketches use, the usual ones first.
BAUDS: Sequence[int] = (115200, 9600, 57600, 38400, 19200, 230400, 74880, 4800)
# So many bytes are judged at once. Text at a wrong speed is mostly bytes that no text has.
JUDGED_BYTES, JUDGED_EARLY_BYTES = 24, 8
MOST_UNPRINTABLE, PLAINLY_UNPRINTABLE = 0.2, 0.5
_TEXT_BYTES = frozenset((*range(0x20, 0x7F), 0x09, 0x0A, 0x0D))
# Beyond ASCII only what a unit is written with is expected: the degree sign in UTF-8 or Latin-1.
_SIGN_BYTES = frozenset((0xC2, 0xB0))
STALLED_AFTER_S = 2.0
# A board that starts anew when its port is opened takes about 2 s to speak.
SILENT_AFTER_S = 3.0


class PortEar:
    """One open port. baud: its speed, or None to find it out. Raises PortError."""

    def __init__(self, name: str, baud: int | None, clock: Clock) -> None:
        self.port = SerialPort(name, baud or BAUDS[0], clock, None)
        self._clock = clock
        self._searches = baud is None and "://" not in name
        self._speed = 0
        self._turns = 0
        self._judged = bytearray()
        self._splitter = LineSplitter()
        self._is_first_line = True
        self._opened_s = clock.real_s()
        self._last_byte_s: float | None = None

    @property
    def found_baud(self) -> int | None:
        """The speed that was found out, where it is not the usual one."""
        return BAUDS[self._speed] if self._searches and self._speed else None

    @property
    def problem(self) -> str:
        """What is wrong, in one sentence, or empty."""
        if self._last_byte_s is None and self._clock.real_s() - self._opened_s > SILENT_AFTER_S:
            return f"The port {self.port.name} is silent so far."
        if self._turns:
            return f"The port {self.port.name} sends bytes that are no text at any usual speed."
        return ""

    def hear(self) -> list[Heard]:
        """The lines in what has come by now. Raises PortError."""
        data = self.port.read_bytes()
        if not data:
            return []
        self._last_byte_s = self._clock.real_s()
        self._judged += data[:4096]
        if self._searches and not self._is_text_so_far():
            self._try_next_speed()
            return []
        return self._lines(data)

    def _is_text_so_far(self) -> bool:
        share, count = unprintable_share(self._judged), len(self._judged)
        if count >= JUDGED_BYTES and share <= MOST_UNPRINTABLE:
            self._judged.clear()
            self._turns = 0
            return True
        return count < (JUDGED_EARLY_BYTES if share > PLAINLY_UNPRINTABLE else JUDGED_BYTES)

    def wait(self) -> list[Heard]:
        """What is to be said of a port that nothing comes from: a line without an end, after 2 s."""
        if self._last_byte_s is None or self._clock.real_s() - self._last_byte_s < STALLED_AFTER_S:
            return []
        line = self._splitter.flush()
        return [Heard(self.port.name, line, self._clock.now())] if line.strip() and not self._is_first_line else []

    def _try_next_speed(self) -> None:
        self._speed = (self._speed + 1) % len(BAUDS)
        self._turns += self._speed == 0
        self.port.set_baud(BAUDS[self._speed])
        self._splitter.flush()
        self._judged.clear()
        self._is_first_line = True

    def _lines(self, data: bytes) -> list[Heard]:
        lines = self._splitter.feed(data)
        # The first line of a stream that is joined midway may be the end of one.
        if lines and self._is_first_line:
            self._is_first_line = False
            lines = lines[1:]
        return [Heard(self.port.name, line, self._clock.now()) for line in lines if line.strip()]

    def close(self) -> None:
        """Lets go of the port."""
        self.port.close()


def unprintable_share(data: bytes | bytearray) -> float:
    """The share of bytes that no line of text has.

    >>> unprintable_share("93.5 °C".encode()), unprintable_share(bytes([0, 255, 128, 65]))
    (0.0, 0.75)
    """
    return sum(byte not in _TEXT_BYTES and byte not in _SIGN_BYTES for byte in data) / max(1, len(data))
