"""The clock of a cook, and the only module that reads the machine's clocks.

Cook time is in Unix seconds. The wall clock is read once; from there the time since boot counts, which no step of the
wall clock changes and which goes on while the machine is suspended. A virtual cook runs at a rate above one.
"""

import json
import sys
import time
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Protocol


@dataclass(frozen=True, slots=True)
class Anchor:
    """One moment in both cook time and machine time, from which another process can go on counting.

    cook_time, wall: Unix seconds. boot_s: seconds since boot, where ``boot_id`` names the boot.
    rate: seconds of cook time in one real second.
    """

    cook_time: float
    wall: float
    boot_id: str
    boot_s: float
    rate: float = 1.0

    def as_text(self) -> str:
        """The anchor as text without blanks, for the command line of another process."""
        return json.dumps([self.cook_time, self.wall, self.boot_id, self.boot_s, self.rate], separators=(",", ":"))

    @staticmethod
    def from_text(text: str) -> "Anchor":
        """The anchor that ``as_text`` wrote. Raises ValueError.

        >>> Anchor.from_text(Anchor(1.0, 2.0, "b", 3.0, 80.0).as_text()).rate
        80.0
        """
        try:
            cook_time, wall, boot_id, boot_s, rate = json.loads(text)
            return Anchor(float(cook_time), float(wall), str(boot_id), float(boot_s), float(rate))
        except (TypeError, ValueError):
            raise ValueError(f"anchor is {text!r}; it must be what Anchor.as_text wrote") from None


class Clock(Protocol):
    """The interface through which everything else reads the time and waits."""

    def now(self) -> float:
        """Cook time in Unix seconds."""
        ...

    def real_s(self) -> float:
        """Real seconds from an arbitrary start, for pacing and time-outs only."""
        ...

    def wait_until(self, cook_time: float) -> None:
        """Blocks until ``now()`` has reached this cook time."""
        ...

    def anchor(self) -> Anchor:
        """This moment in cook time and machine time."""
        ...


def _boot_s() -> float:
    if sys.platform == "win32":
        return time.monotonic()
    # CLOCK_BOOTTIME counts while the machine is suspended; systems without it have the monotonic clock.
    return time.clock_gettime(getattr(time, "CLOCK_BOOTTIME", time.CLOCK_MONOTONIC))


# It stays the same for as long as a process runs, and a page's every look asks for it.
@cache
def _boot_id() -> str:
    try:
        return Path("/proc/sys/kernel/random/boot_id").read_text(encoding="ascii").strip()
    except OSError:
        return ""


class SystemClock:
    """The real clock, or one that runs faster than real time.

    >>> abs(SystemClock().now() - time.time()) < 1.0
    True
    """

    def __init__(self, anchor: Anchor | None = None, rate: float = 1.0) -> None:
        if anchor is None:
            wall = time.time()
            anchor = Anchor(wall, wall, _boot_id(), _boot_s(), rate)
        self._anchor = anchor
        self._same_boot = bool(anchor.boot_id) and anchor.boot_id == _boot_id()
        # After a restart of the machine, or on another machine, only the wall clock is common with the anchor.
        self._start_wall = time.time()
        self._start_boot_s = _boot_s()

    def now(self) -> float:
        return self._anchor.cook_time + self._since_anchor_s() * self._anchor.rate

    def _since_anchor_s(self) -> float:
        if self._same_boot:
            return _boot_s() - self._anchor.boot_s
        return self._start_wall - self._anchor.wall + (_boot_s() - self._start_boot_s)

    def real_s(self) -> float:
        return _boot_s()

    def wait_until(self, cook_time: float) -> None:
        while (left_s := (cook_time - self.now()) / self._anchor.rate) > 0:
            time.sleep(min(left_s, 1.0))

    def anchor(self) -> Anchor:
        boot_s = _boot_s()
        return Anchor(self.now(), time.time(), _boot_id(), boot_s, self._anchor.rate)


class JumpClock:
    """A clock for tests and for replay: it stands still until it is set, and waiting sets it forward."""

    def __init__(self, now: float = 1_773_480_000.0) -> None:
        self.moment = now

    def now(self) -> float:
        return self.moment

    def real_s(self) -> float:
        return self.moment

    def wait_until(self, cook_time: float) -> None:
        self.moment = max(self.moment, cook_time)

    def anchor(self) -> Anchor:
        return Anchor(self.moment, self.moment, "", 0.0, 1.0)
