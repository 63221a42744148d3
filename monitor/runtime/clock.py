"""The only user of the wall clock.

Cook time is Unix seconds. The wall clock is read once and counted on by the machine's time since boot, which
no clock step bends and which goes on while the machine sleeps. A virtual cook runs at a rate above one.
"""

import json
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol


@dataclass(frozen=True, slots=True)
class Anchor:
    """One moment told in both times, so that another process can count on from it.

    cook_time, wall: Unix seconds. boot_s: seconds since the machine started, on the boot ``boot_id``.
    rate: seconds of cook time in one real second.
    """

    cook_time: float
    wall: float
    boot_id: str
    boot_s: float
    rate: float = 1.0

    def as_text(self) -> str:
        """The anchor as one word, to hand to another process."""
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
    """What the rest of the program may know of time."""

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
        """This moment in both times."""
        ...


def _boot_s() -> float:
    # CLOCK_BOOTTIME counts through suspend; where it is missing the monotonic clock has to do.
    return time.clock_gettime(getattr(time, "CLOCK_BOOTTIME", time.CLOCK_MONOTONIC))


def _boot_id() -> str:
    try:
        return Path("/proc/sys/kernel/random/boot_id").read_text(encoding="ascii").strip()
    except OSError:
        return ""


class SystemClock:
    """The real clock, or one that runs faster than life.

    >>> abs(SystemClock().now() - time.time()) < 1.0
    True
    """

    def __init__(self, anchor: Anchor | None = None, rate: float = 1.0) -> None:
        if anchor is None:
            wall = time.time()
            anchor = Anchor(wall, wall, _boot_id(), _boot_s(), rate)
        self._anchor = anchor
        self._same_boot = bool(anchor.boot_id) and anchor.boot_id == _boot_id()
        # After a restart of the machine, or on another one, only the wall clock is shared.
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
    """A clock for tests and for replay: it stands still until told, and waiting is a jump."""

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
