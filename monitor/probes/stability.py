"""When a reading is stable: a line fitted to the latest readings, and whether its slope is surely below the limit."""

import math
from collections import deque
from dataclasses import dataclass

import numpy as np

# Project defaults, to be changed by whoever knows the probe better.
STEADY_PH = 0.02
STEADY_C = 0.3
WINDOW_S = 30.0
TIMEOUT_S = 240.0
MIN_READINGS = 8
# After this long with faults only, the person is asked to check the plug.
FAULT_TIMEOUT_S = 10.0


@dataclass(frozen=True, slots=True)
class Unsettled:
    """Not stable yet.

    change: of the fitted line over the window, in the limit's unit; None while the window is not full.
    """

    latest: float | None
    change: float | None


@dataclass(frozen=True, slots=True)
class Stable:
    """Stable.

    value: mean of the window's last third; scatter: standard deviation about the line.
    """

    value: float
    scatter: float


@dataclass(frozen=True, slots=True)
class TimedOut:
    """The reading cannot become stable. why: one sentence that says what was seen and what to try."""

    why: str


StabilityState = Unsettled | Stable | TimedOut


class StabilityDetector:
    """Decides from the readings in one bath when they are stable.

    Least-squares line v = a + b t over the last ``window_s``; stable when |b| w + 2 s_b w < limit, with s_b the
    standard error of the slope and w the window.

    Parameters
    ----------
    limit : the greatest change of a stable reading within the window, its uncertainty (two sigma) included, in
        ``unit``.
    unit : of the limit, for messages.
    per : ``unit`` per unit of the readings, such as pH per volt.
    window_s : length of the window, s, above 0.
    timeout_s : how long a drifting reading is given, s, longer than the window.

    Raises ValueError for limits that contradict each other.
    """

    def __init__(
        self,
        limit: float,
        unit: str,
        per: float = 1.0,
        window_s: float = WINDOW_S,
        timeout_s: float = TIMEOUT_S,
    ) -> None:
        if not (limit > 0 and window_s > 0 and timeout_s > window_s):
            raise ValueError(
                f"limit, window_s and timeout_s are {limit}, {window_s}, {timeout_s}; "
                "they must be above 0, and the timeout longer than the window"
            )
        self._limit, self._unit, self._per = limit, unit, abs(per)
        self._window_s, self._timeout_s = window_s, timeout_s
        self._window: deque[tuple[float, float]] = deque()
        self._began: float | None = None
        self._faulty_since: float | None = None

    def add(self, moment: float, value: float | None, fault: str | None = None) -> StabilityState:
        """Adds one reading and returns the state.

        moment: Unix seconds. value: None at a fault, which ``fault`` names.
        """
        self._began = moment if self._began is None else self._began
        if value is None or not math.isfinite(value):
            return self._handle_fault(moment, fault or "no value")
        self._faulty_since = None
        self._window.append((moment, value))
        # One reading from before the window is kept, so that a full window stays full.
        while len(self._window) > 1 and self._window[1][0] <= moment - self._window_s:
            self._window.popleft()
        return self._assess(moment, value)

    def _handle_fault(self, moment: float, fault: str) -> StabilityState:
        self._window.clear()
        if self._faulty_since is None:
            self._faulty_since = moment
        if moment - self._faulty_since >= FAULT_TIMEOUT_S:
            return TimedOut(f"The probe says “{fault}”: look at its plug, its cable and its tip, then try again.")
        return Unsettled(None, None)

    def _assess(self, moment: float, value: float) -> StabilityState:
        times, values = np.array(self._window).T
        span_s = float(times[-1] - times[0])
        change, change_uncertainty = None, 0.0
        if span_s >= self._window_s and len(values) >= MIN_READINGS:
            at = times - times.mean()
            slope = float(at @ values / (at @ at))
            residual = values - values.mean() - slope * at
            scatter = math.sqrt(float(residual @ residual) / (len(values) - 2))
            unit = self._window_s * self._per
            change, change_uncertainty = slope * unit, 2.0 * scatter / math.sqrt(float(at @ at)) * unit
            if abs(change) + change_uncertainty < self._limit:
                if not values.any():
                    return TimedOut(
                        "It reads exactly 0 all the time: the probe is unplugged or shorted, or its amplifier has no "
                        "power."
                    )
                # The remaining drift is smallest in the last third.
                latest = values[times > times[-1] - self._window_s / 3.0]
                return Stable(float(latest.mean()), scatter)
        if self._began is not None and moment - self._began >= self._timeout_s:
            return TimedOut(self._timeout_reason(change, change_uncertainty))
        return Unsettled(value, change)

    def _timeout_reason(self, change: float | None, change_uncertainty: float) -> str:
        waited = f"{self._timeout_s:.0f} s"
        if change is None:
            return f"Too few readings came in {waited} to tell whether it is steady: look at the cable and the sketch."
        if abs(change) < change_uncertainty:
            return (
                f"After {waited} it still jumps about too much to be called steady: look at its plug and earthing, and "
                "keep the cable away from the mains."
            )
        return (
            f"After {waited} it still drifts by {abs(change):.3g} {self._unit} in {self._window_s:.0f} s: stir the "
            "bath, rinse the probe, and if it goes on, clean or replace it."
        )
