"""The paste's curve: few enough points for a phone, with every dip still in it."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from monitor.estimation import Estimate
from monitor.model import Floats

MOST_BUCKETS = 280
LONGEST_SHOWN_S = 12 * 3600.0
ORIGIN_STEP_S = 3600.0
AHEAD_POINTS = 13


@dataclass(frozen=True, slots=True)
class Grid:
    """How time is cut for a curve. origin: Unix seconds, whole; width_s: seconds a bucket, whole."""

    origin: int
    width_s: int


def grid_for(started: float, now: float) -> Grid:
    """The grid of a cook: all of it, or its last half day, in at most 280 buckets.

    >>> grid_for(1000.0, 1000.0 + 6 * 3600)
    Grid(origin=1000, width_s=128)
    """
    origin = int(started)
    if now - origin > LONGEST_SHOWN_S:
        steps = np.ceil((now - LONGEST_SHOWN_S - origin) / ORIGIN_STEP_S)
        origin += int(steps * ORIGIN_STEP_S)
    width_s = 1
    while (now - origin) / width_s > MOST_BUCKETS:
        width_s *= 2
    return Grid(origin, width_s)


def curve_points(times: Floats, values_c: Floats, grid: Grid) -> list[int | None]:
    """Lowest and highest reading of each bucket.

    times, values_c: shape (n,), ordered; NaN at a fault. Returns offset in seconds from the grid's origin and
    tenths of a degree in turn; a tenths of None breaks the line where readings are missing.
    """
    start = int(np.searchsorted(times, float(grid.origin)))
    times, values_c = times[start:], values_c[start:]
    real = np.isfinite(values_c)
    times, values_c = times[real], values_c[real]
    if not len(times):
        return []
    bucket = ((times - grid.origin) // grid.width_s).astype(np.int64)
    begins = np.concatenate([[0], np.flatnonzero(np.diff(bucket)) + 1])
    ends = np.append(begins[1:], len(times))
    # The first of the lowest and the first of the highest of each bucket, and the latest reading of all.
    chosen = np.zeros(len(times), dtype=bool)
    chosen[_firsts_at(np.minimum.reduceat(values_c, begins), values_c, begins, ends)] = True
    chosen[_firsts_at(np.maximum.reduceat(values_c, begins), values_c, begins, ends)] = True
    chosen[-1] = True
    before = times[ends[:-1] - 1]
    broken = np.flatnonzero(times[begins[1:]] - before > max(60.0, 3.0 * grid.width_s))
    places = np.flatnonzero(chosen)
    offsets = [round(moment - grid.origin) for moment in times[places].tolist()]
    tenths: list[int | None] = [round(value * 10) for value in values_c[places].tolist()]
    points: list[int | None] = []
    done = 0
    for gap in broken.tolist():
        here = int(np.searchsorted(places, begins[gap + 1]))
        points += _in_turn(offsets[done:here], tenths[done:here])
        points += [round(float(before[gap]) - grid.origin) + 1, None]
        done = here
    return points + _in_turn(offsets[done:], tenths[done:])


def _firsts_at(wanted: Floats, values: Floats, begins: NDArray[np.intp], ends: NDArray[np.intp]) -> NDArray[np.intp]:
    """The first place in each part of ``values`` that holds the part's wanted value."""
    places = np.flatnonzero(values == np.repeat(wanted, ends - begins))
    return places[np.searchsorted(places, begins)]


def _in_turn(offsets: Sequence[int], tenths: Sequence[int | None]) -> list[int | None]:
    return [one for pair in zip(offsets, tenths, strict=True) for one in pair]


def ahead_points(estimate: Estimate, origin: int) -> list[list[int]]:
    """What the paste is expected to do: offsets from ``origin`` in seconds, then low, middle and high in tenths."""
    ahead = estimate.ahead
    if not ahead.times:
        return []
    keep = np.unique(np.linspace(0, len(ahead.times) - 1, AHEAD_POINTS).round().astype(int))
    return [
        [round(ahead.times[i] - origin) for i in keep],
        *([round(column[i] * 10) for i in keep] for column in (ahead.low_c, ahead.middle_c, ahead.high_c)),
    ]
