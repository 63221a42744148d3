"""What of a cook its course shows: from when to when, the paste's temperature on an even grid, and the holes in it."""

import math
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import pandas as pd

from monitor.estimation import Estimate
from monitor.model import BLOCK_S, LONGEST_GRID_S, Floats
from monitor.plots.channels import GAP, temperatures_c, unix_s

MOST_POINTS = 400
# Shown beyond the late end of the clear time, and at the least beyond now; and what a cook shows at the least.
AFTER_END_S, AFTER_NOW_S, SHORTEST_S = 1200.0, 1800.0, 2.5 * 3600.0
# A letter's part of the strip's width on a phone: some 7 px of 310.
LETTER = 0.024
# A clear time further off than this is left to words, or the cook so far would be a sliver.
LONGEST_AHEAD_S = 8 * 3600.0
# Readings this long before the lid are shown, for the way up to it.
BEFORE_START_S = 600.0

Span: TypeAlias = tuple[float, float]


@dataclass(frozen=True, slots=True)
class CourseWindow:
    """The stretch that is drawn, Unix seconds. start: of the cook. now: None where the cook is finished."""

    start: float
    begin: float
    end: float
    now: float | None

    def place(self, moment: float) -> float:
        """Where a moment lies, 0 at the left edge to 1 at the right one."""
        return (moment - self.begin) / (self.end - self.begin)

    def holds(self, moment: float) -> bool:
        """Whether it is drawn."""
        return self.begin <= moment <= self.end


def window_of(readings: pd.DataFrame, events: pd.DataFrame, estimate: Estimate | None) -> CourseWindow:
    """The stretch from lid on to some time after the expected end, or after the end of a finished cook."""
    known = [*unix_s(readings.index)[[0, -1]].tolist()] if len(readings) else []
    logged = unix_s(events.index)
    finished = logged[(events["kind"] == "finished").to_numpy()]
    last = estimate.t if estimate is not None else max([*known[-1:], *logged.tolist()], default=0.0)
    start = _start(events, logged, estimate, known[0] if known else float(logged.min()) if len(logged) else last)
    if len(finished):
        end, now = float(finished[-1]) + AFTER_NOW_S / 3.0, None
    else:
        end, now = max(last + AFTER_NOW_S, start + SHORTEST_S), last
        late = None if estimate is None else _late_end(estimate)
        if late is not None:
            end = max(end, min(late, last + LONGEST_AHEAD_S) + AFTER_END_S)
    end = max(end, start + AFTER_NOW_S)
    begin = max(start - BEFORE_START_S, end - LONGEST_GRID_S)
    return CourseWindow(start, begin, end, now)


def _late_end(estimate: Estimate) -> float | None:
    """The late end of the clear time, Unix seconds; where it is open, as far from the middle as the early end."""
    low, middle, high = estimate.clear_at
    if low is None or middle is None:
        return None
    return 2.0 * middle - low if high is None else high


def _start(events: pd.DataFrame, logged: Floats, estimate: Estimate | None, otherwise: float) -> float:
    if estimate is not None and estimate.elapsed_s is not None:
        return estimate.t - estimate.elapsed_s
    for kind in ("lid on", "thick trace"):
        found = logged[(events["kind"] == kind).to_numpy()]
        if len(found):
            return float(found[0])
    return otherwise


@dataclass(frozen=True, slots=True)
class CourseTemperature:
    """The paste's temperature on an even grid.

    begin, step_s: of the grid, Unix seconds and s. level_c: degC, NaN in the gaps, shape (n,). gaps: begin and end of
    each stretch of more than five minutes without a reading, Unix seconds.
    """

    begin: float
    step_s: float
    level_c: Floats
    gaps: tuple[Span, ...]

    @property
    def moments(self) -> Floats:
        """Unix seconds of the grid, shape (n,)."""
        return self.begin + self.step_s * np.arange(len(self.level_c), dtype=np.float64)


def course_temperature(readings: pd.DataFrame, window: CourseWindow) -> CourseTemperature:
    """Medians on a grid of at most MOST_POINTS over what is drawn, so that each dip is still in it."""
    step_s = BLOCK_S * math.ceil((window.end - window.begin) / MOST_POINTS / BLOCK_S)
    begin = step_s * math.floor(window.begin / step_s)
    channels = temperatures_c(readings)
    paste = next(iter(channels.values()), pd.Series(dtype="float64"))
    until = window.end if window.now is None else min(window.now, window.end)
    moments = unix_s(paste.index) if len(paste) else np.empty(0)
    inside = (moments >= begin) & (moments <= until)
    moments, values = moments[inside], paste.to_numpy(dtype=np.float64)[inside]
    if not len(moments):
        return CourseTemperature(begin, step_s, np.empty(0), ())
    bins = ((moments - begin) // step_s).astype(np.int64)
    medians = pd.Series(values).groupby(bins).median()
    places = medians.index.to_numpy()
    grid = np.arange(places[-1] + 1)
    level = np.interp(grid, places, medians.to_numpy(), left=np.nan)
    # What was merely read less often than the grid is fine stays joined.
    holes = _holes(moments, window)
    for first, last in holes:
        level[(begin + step_s * grid > first) & (begin + step_s * (grid + 1) <= last)] = np.nan
    return CourseTemperature(begin, step_s, level, holes)


def _holes(moments: Floats, window: CourseWindow) -> tuple[Span, ...]:
    """Stretches of more than five minutes without a reading, the last of them up to now."""
    ends = moments if window.now is None else np.append(moments, window.now)
    wide = np.flatnonzero(np.diff(ends) > GAP.total_seconds() + BLOCK_S)
    return tuple((float(ends[i]) + BLOCK_S, float(ends[i + 1])) for i in wide)
