"""Readings of the paste to half-minute blocks: the only part of the estimate that must run as readings come.

A block is the median of its readings, so single spikes vanish; what no paste can be is left out beforehand. The
result is the same however the readings are portioned out.
"""

import math
from itertools import pairwise

import numpy as np

from monitor.history import Floats

BLOCK_S = 30.0
# Soap paste freezes below this and boils, with its dissolved alkali, below that.
COLDEST_C = -10.0
HOTTEST_C = 125.0
# No paste changes faster: a lid lifted and a stir cost a few degrees in half a minute.
FASTEST_C_PER_S = 0.4
JUMP_C = 6.0
# A probe that was moved, not one that spiked: believed after it has read the new value for this long.
MOVED_AFTER_S = 300.0


class Blocks:
    """Block medians of one channel, growing. Times ascend strictly."""

    def __init__(self) -> None:
        self._times: list[float] = []
        self._values: list[float] = []
        self._open: list[float] = []
        self._open_times: list[float] = []
        self._open_index = -math.inf
        self.latest = -math.inf
        self.rejected = 0

    def extend(self, measured: Floats, temperature_c: Floats) -> bool:
        """Takes in readings (Unix seconds, degC; NaN is a fault). False if any came too late to be in order.

        Readings must ascend in time within a call; after False the caller starts again from the whole history.
        """
        if len(measured) == 0:
            return True
        if measured[0] < self.latest:
            return False
        self.latest = float(measured[-1])
        with np.errstate(invalid="ignore"):
            good = (temperature_c >= COLDEST_C) & (temperature_c <= HOTTEST_C)
        self.rejected += int(len(good) - np.count_nonzero(good) - np.count_nonzero(np.isnan(temperature_c)))
        times, values = measured[good], temperature_c[good]
        if not len(times):
            return True
        index = np.floor(times / BLOCK_S)
        cuts = np.flatnonzero(np.diff(index)) + 1
        edges = [0, *cuts.tolist(), len(times)]
        for first, last in pairwise(edges):
            if index[first] != self._open_index:
                self._close()
                self._open_index = float(index[first])
            self._open.extend(values[first:last].tolist())
            self._open_times.extend(times[first:last].tolist())
        return True

    def _close(self) -> None:
        if self._open:
            self._times.append(_mean(self._open_times))
            self._values.append(_median(self._open))
            self._open.clear()
            self._open_times.clear()

    def arrays(self) -> tuple[Floats, Floats]:
        """Block times (Unix seconds) and temperatures (degC), the open block included; impossible jumps left out."""
        times, values = self._times, self._values
        if self._open:
            times = [*times, _mean(self._open_times)]
            values = [*values, _median(self._open)]
        return _without_jumps(np.array(times), np.array(values))


def _mean(values: list[float]) -> float:
    return math.fsum(values) / len(values)


def _median(values: list[float]) -> float:
    ordered = sorted(values)
    middle = len(ordered) // 2
    return ordered[middle] if len(ordered) % 2 else 0.5 * (ordered[middle - 1] + ordered[middle])


def _without_jumps(times: Floats, values: Floats) -> tuple[Floats, Floats]:
    """Leaves out blocks that no paste could have reached from the last believed one."""
    if len(times) < 2:
        return times, values
    limit = JUMP_C + FASTEST_C_PER_S * np.diff(times)
    if np.all(np.abs(np.diff(values)) <= limit):
        return times, values
    keep = np.zeros(len(times), dtype=bool)
    believed = 0
    keep[0] = True
    doubted = -1
    for i in range(1, len(times)):
        step = abs(values[i] - values[believed])
        if step <= JUMP_C + FASTEST_C_PER_S * (times[i] - times[believed]):
            keep[i], believed, doubted = True, i, -1
            continue
        if doubted < 0 or abs(values[i] - values[i - 1]) > JUMP_C:
            doubted = i
        if times[i] - times[doubted] >= MOVED_AFTER_S:
            keep[doubted : i + 1] = True
            believed, doubted = i, -1
    return times[keep], values[keep]
