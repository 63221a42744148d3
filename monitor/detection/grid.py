"""A probe's readings on an even grid, as the search for stirs and falls wants them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from monitor.model import PASTE_AT_LEAST_C, PASTE_AT_MOST_C, Floats

FINEST_STEP_S = 10.0
# Slower sampling than this shows no stir.
COARSEST_STEP_S = 120.0
# A lone bin this far from both its neighbours is a spike.
SPIKE_C = 3.0
# A silence longer than this is no curve.
GAP_S = 90.0


@dataclass(frozen=True)
class UniformSeries:
    """Means on an even grid. start: Unix seconds of the middle of the first bin; step_s: from bin to bin.

    value: degC, shape (n,), straight lines across what is missing; seen: whether a reading was near, shape (n,);
    filled: whether a reading lies in the bin itself, shape (n,).
    """

    start: float
    step_s: float
    value: Floats
    seen: NDArray[np.bool_]
    filled: NDArray[np.bool_]

    def __len__(self) -> int:
        return len(self.value)

    @property
    def times(self) -> Floats:
        """Unix seconds of each bin's middle."""
        times: Floats = self.start + self.step_s * np.arange(len(self.value), dtype=np.float64)
        return times


def grid_step_s(times: Floats) -> float | None:
    """Seconds from bin to bin for readings at these moments; None where they come too seldom."""
    if len(times) < 2:
        return None
    usual_s = float(np.median(np.diff(times)))
    return None if usual_s > COARSEST_STEP_S else max(FINEST_STEP_S, usual_s)


def uniform_series(
    times: Floats, temperature_c: Floats, begin: float, end: float, step_s: float
) -> UniformSeries | None:
    """The readings from ``begin`` to ``end`` (Unix seconds) on a grid; None where there are too few."""
    count = int((end - begin) // step_s)
    with np.errstate(invalid="ignore"):
        good = (times >= begin) & (times < begin + count * step_s)
        good &= (temperature_c >= PASTE_AT_LEAST_C) & (temperature_c <= PASTE_AT_MOST_C)
    if count < 3 or np.count_nonzero(good) < 3:
        return None
    place = ((times[good] - begin) / step_s).astype(np.intp)
    held = np.bincount(place, minlength=count)
    filled = np.flatnonzero(held)
    mean = np.bincount(place, temperature_c[good], count)[filled] / held[filled]
    if len(mean) > 2:
        middle = np.median([mean[:-2], mean[1:-1], mean[2:]], axis=0)
        inner = mean[1:-1]
        mean[1:-1] = np.where(np.abs(inner - middle) > SPIKE_C, middle, inner)
    grid = np.arange(count)
    last = np.maximum.accumulate(np.where(held > 0, grid, -count))
    following = np.minimum.accumulate(np.where(held > 0, grid, 2 * count)[::-1])[::-1]
    seen = (following - last) * step_s <= max(GAP_S, 3.0 * step_s)
    return UniformSeries(begin + step_s / 2, step_s, np.interp(grid, filled, mean), seen, held > 0)
