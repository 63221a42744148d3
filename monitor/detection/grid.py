"""The readings of a cook's probes on an even grid, for the search for stirs and falls."""

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from monitor.model import (
    BIN_SPIKE_C,
    COARSEST_STEP_S,
    CURVE_GAP_S,
    FINEST_STEP_S,
    LONGEST_GRID_S,
    Floats,
    History,
    cook_start,
    longest_step_s,
    plausible,
)

# Readings from before the start show how the paste stood.
BEFORE_START_S = 600.0


@dataclass(frozen=True)
class UniformSeries:
    """Means on an even grid.

    start: Unix seconds of the middle of the first bin. step_s: from bin to bin. value: degC, shape (n,), on straight
    lines across empty bins. seen: whether no gap lies across the bin, shape (n,). filled: whether a reading lies in the
    bin itself, shape (n,).
    """

    start: float
    step_s: float
    value: Floats
    seen: NDArray[np.bool_]
    filled: NDArray[np.bool_]

    @cached_property
    def times(self) -> Floats:
        """Unix seconds of each bin's middle."""
        times: Floats = self.start + self.step_s * np.arange(len(self.value), dtype=np.float64)
        return times


@dataclass(frozen=True)
class Curves:
    """What is searched of a cook. start: of the cook, Unix seconds. paste, wall: on one grid; wall may be None."""

    start: float
    paste: UniformSeries
    wall: UniformSeries | None


def searched_curves(history: History, step_s: float | None = None, until: float = math.inf) -> Curves | None:
    """The part of a cook that is searched for stirs and falls; None before it has started, or where it is too sparse.

    A little of the curve from before the start, up to the last reading, the finish or ``until`` (Unix seconds).
    step_s: of a grid whose bins stay where they are as the cook goes on; by the paste's readings if None.
    """
    start, finished = cook_start(history), history.finished()
    times, paste_c = history.temperature_c("paste")
    wall_readings = history.temperature_c("wall")
    if start is None or len(times) < 2:
        return None
    end = min(float(times[-1]), history.as_of, until, finished or math.inf)
    begin = max(start - BEFORE_START_S, float(times[0]), end - LONGEST_GRID_S)
    if not math.isfinite(begin + end):
        return None
    if step_s is not None:
        begin = math.floor(begin / step_s) * step_s
    else:
        usual_s = float(np.median(np.diff(times)))
        if usual_s > COARSEST_STEP_S:
            return None
        step_s = max(FINEST_STEP_S, usual_s)
    paste = uniform_series(times, paste_c, begin, end, step_s)
    return None if paste is None else Curves(start, paste, uniform_series(*wall_readings, begin, end, step_s))


def uniform_series(
    times: Floats, temperature_c: Floats, begin: float, end: float, step_s: float
) -> UniformSeries | None:
    """The readings from ``begin`` to ``end`` (Unix seconds) on an even grid; None for fewer than three.

    times: Unix seconds, ascending, shape (n,). temperature_c: degC, NaN at a fault, shape (n,). step_s: of the grid.
    Implausible readings are left out; a lone bin that is a spike becomes the median of it and its neighbours.
    """
    count = int((end - begin) // step_s)
    good = (times >= begin) & (times < begin + count * step_s) & plausible(temperature_c)
    if count < 3 or np.count_nonzero(good) < 3:
        return None
    place = ((times[good] - begin) / step_s).astype(np.intp)
    held = np.bincount(place, minlength=count)
    filled = np.flatnonzero(held)
    mean = np.bincount(place, temperature_c[good], count)[filled] / held[filled]
    if len(mean) > 2:
        middle = np.median([mean[:-2], mean[1:-1], mean[2:]], axis=0)
        inner = mean[1:-1]
        mean[1:-1] = np.where(np.abs(inner - middle) > BIN_SPIKE_C, middle, inner)
    grid = np.arange(count)
    last = np.maximum.accumulate(np.where(held > 0, grid, -count))
    following = np.minimum.accumulate(np.where(held > 0, grid, 2 * count)[::-1])[::-1]
    seen = (following - last) * step_s <= longest_step_s(step_s, CURVE_GAP_S)
    return UniformSeries(begin + step_s / 2, step_s, np.interp(grid, filled, mean), seen, held > 0)
