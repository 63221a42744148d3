"""When a probe has settled: a line through its latest readings, and whether it is sure to be level."""

import math
from collections import deque
from dataclasses import dataclass

import numpy as np

# Project defaults, to be changed by whoever knows the probe better.
STEADY_PH = 0.02
STEADY_C = 0.3
WINDOW_S = 30.0
PATIENCE_S = 240.0
LEAST_READINGS = 8
# Faults alone for this long, and the person should look at the plug.
FAULTY_S = 10.0


@dataclass(frozen=True, slots=True)
class Unsettled:
    """Not yet. change: what the window's line gains from end to end, in the limit's unit; None while it is short."""

    latest: float | None
    change: float | None


@dataclass(frozen=True, slots=True)
class Stable:
    """Settled. value: mean of the window's last third; scatter: one sigma about its line; over_s: its length."""

    value: float
    scatter: float
    over_s: float


@dataclass(frozen=True, slots=True)
class TimedOut:
    """It will not do. why: one sentence that says what was seen and what to try."""

    why: str


Settling = Unsettled | Stable | TimedOut


class StabilityDetector:
    """Fed the readings of one dip until they are steady.

    limit: the most that a steady reading may change within ``window_s``, in ``unit``, its uncertainty (two sigma)
    included. per: ``unit`` per unit of the readings, such as pH per volt. patience_s: how long a drifting reading is
    given.
    """

    def __init__(
        self,
        limit: float,
        unit: str,
        per: float = 1.0,
        window_s: float = WINDOW_S,
        patience_s: float = PATIENCE_S,
    ) -> None:
        if not (limit > 0 and window_s > 0 and patience_s > window_s):
            raise ValueError(
                f"limit, window_s and patience_s are {limit}, {window_s}, {patience_s}; "
                "they must be above 0, and the patience longer than the window"
            )
        self._limit, self._unit, self._per = limit, unit, abs(per)
        self._window_s, self._patience_s = window_s, patience_s
        self._taken: deque[tuple[float, float]] = deque()
        self._began: float | None = None
        self._faulty_since: float | None = None

    def take(self, moment: float, value: float | None, fault: str | None = None) -> Settling:
        """One reading (Unix seconds; None is a fault in words), and what it makes of them all."""
        self._began = moment if self._began is None else self._began
        if value is None or not math.isfinite(value):
            return self._fault(moment, fault or "no value")
        self._faulty_since = None
        self._taken.append((moment, value))
        # One reading from before the window stays, so that the window is always full once it was.
        while len(self._taken) > 1 and self._taken[1][0] <= moment - self._window_s:
            self._taken.popleft()
        return self._judge(moment, value)

    def _fault(self, moment: float, fault: str) -> Settling:
        self._taken.clear()
        if self._faulty_since is None:
            self._faulty_since = moment
        if moment - self._faulty_since >= FAULTY_S:
            return TimedOut(f"The probe says “{fault}”: look at its plug, its cable and its tip, then try again.")
        return Unsettled(None, None)

    def _judge(self, moment: float, value: float) -> Settling:
        times, values = np.array(self._taken).T
        span_s = float(times[-1] - times[0])
        change, doubt = None, 0.0
        if span_s >= self._window_s and len(values) >= LEAST_READINGS:
            at = times - times.mean()
            slope = float(at @ values / (at @ at))
            residual = values - values.mean() - slope * at
            scatter = math.sqrt(float(residual @ residual) / (len(values) - 2))
            unit = self._window_s * self._per
            change, doubt = slope * unit, 2.0 * scatter / math.sqrt(float(at @ at)) * unit
            if abs(change) + doubt < self._limit:
                if not values.any():
                    return TimedOut(
                        "It reads exactly 0 all the time: the probe is unplugged or shorted, or its amplifier has no "
                        "power."
                    )
                # What is left of the settling is least there.
                latest = values[times > times[-1] - self._window_s / 3.0]
                return Stable(float(latest.mean()), scatter, span_s)
        if self._began is not None and moment - self._began >= self._patience_s:
            return TimedOut(self._too_long(change, doubt))
        return Unsettled(value, change)

    def _too_long(self, change: float | None, doubt: float) -> str:
        waited = f"{self._patience_s:.0f} s"
        if change is None:
            return f"Too few readings came in {waited} to tell whether it is steady: look at the cable and the sketch."
        if abs(change) < doubt:
            return (
                f"After {waited} it still jumps about too much to be called steady: look at its plug and earthing, and "
                "keep the cable away from the mains."
            )
        return (
            f"After {waited} it still drifts by {abs(change):.3g} {self._unit} in {self._window_s:.0f} s: stir the "
            "bath, rinse the probe, and if it goes on, clean or replace it."
        )
