"""Readings of the paste to medians of half a minute: the only part of the estimate that must run as readings come.

A block is the median of its readings, so single spikes vanish; temperatures that no paste can have are left out
beforehand. The result does not depend on the portions in which the readings are handed in.
"""

import math

import numpy as np
from numpy.typing import NDArray

from monitor.model import BLOCK_S, Floats, History, plausible

# No paste changes faster: a lid lifted and a stir cost a few degrees in half a minute.
FASTEST_C_PER_S = 0.4
JUMP_C = 6.0
# A probe that has read a new value for this long was moved and did not spike: from then on its readings count.
MOVED_AFTER_S = 300.0


class BlockMedian:
    """The block medians of one channel, growing as its readings come. Block times ascend strictly."""

    def __init__(self) -> None:
        self._times: list[float] = []
        self._values: list[float] = []
        # The readings of the block that is not full yet.
        self._open_times = self._open_values = np.empty(0)
        self.latest = -math.inf

    def extend(self, measured: Floats, temperature_c: Floats) -> bool:
        """Adds readings; False if the first is older than the latest one added before.

        measured: Unix seconds, ascending, shape (n,). temperature_c: degC, NaN at a fault, shape (n,). After False
        nothing was added, and the caller starts again from the whole history.
        """
        if len(measured) == 0:
            return True
        if measured[0] < self.latest:
            return False
        self.latest = float(measured[-1])
        good = plausible(temperature_c)
        times, values = measured[good], temperature_c[good]
        if not len(times):
            return True
        times = np.concatenate([self._open_times, times])
        values = np.concatenate([self._open_values, values])
        edges = np.concatenate([[0], np.flatnonzero(np.diff(np.floor(times / BLOCK_S))) + 1])
        closed_times, closed_values = _medians(times, values, edges)
        self._times.extend(closed_times.tolist())
        self._values.extend(closed_values.tolist())
        # Copies, because what was handed in may be part of a whole day.
        self._open_times, self._open_values = times[edges[-1] :].copy(), values[edges[-1] :].copy()
        return True

    def arrays(self) -> tuple[Floats, Floats]:
        """Block times (Unix seconds) and temperatures (degC), shape (m,) each.

        The block that is not full yet is included; blocks that no paste could have reached are left out.
        """
        times, values = self._times, self._values
        if len(self._open_times):
            edges = np.array([0, len(self._open_times)])
            open_time, open_value = _medians(self._open_times, self._open_values, edges)
            times, values = [*times, float(open_time[0])], [*values, float(open_value[0])]
        return _without_jumps(np.array(times), np.array(values))


def block_medians(history: History) -> tuple[Floats, Floats]:
    """Block times (Unix seconds) and paste temperatures (degC) of a whole history, shape (m,) each."""
    blocks = BlockMedian()
    blocks.extend(*history.temperature_c("paste"))
    return blocks.arrays()


def _medians(times: Floats, values: Floats, edges: NDArray[np.intp]) -> tuple[Floats, Floats]:
    """The mean time and the median value of each block, shape (m,); blocks from edge to edge, edges of shape (m + 1,).

    Each block by itself, so that it comes out the same whichever others stand beside it.
    """
    sizes = np.diff(edges)
    mean, median = np.empty(len(sizes)), np.empty(len(sizes))
    for size in set(sizes.tolist()):
        chosen = sizes == size
        places = edges[:-1][chosen][:, None] + np.arange(size)
        # From the block's first reading on, because sums of Unix seconds lose their last digits.
        first = times[places[:, :1]]
        mean[chosen] = first[:, 0] + (times[places] - first).sum(axis=1) / size
        ordered = np.sort(values[places], axis=1)
        half = size // 2
        median[chosen] = ordered[:, half] if size % 2 else 0.5 * (ordered[:, half - 1] + ordered[:, half])
    return mean, median


def _without_jumps(times: Floats, values: Floats) -> tuple[Floats, Floats]:
    """The blocks without those that no paste could have reached from the last accepted one; shapes (m,) to (k,)."""
    if len(times) < 2:
        return times, values
    limit = JUMP_C + FASTEST_C_PER_S * np.diff(times)
    if np.all(np.abs(np.diff(values)) <= limit):
        return times, values
    keep = np.zeros(len(times), dtype=bool)
    accepted = 0
    keep[0] = True
    suspect = -1
    for i in range(1, len(times)):
        step = abs(values[i] - values[accepted])
        if step <= JUMP_C + FASTEST_C_PER_S * (times[i] - times[accepted]):
            keep[i], accepted, suspect = True, i, -1
            continue
        if suspect < 0 or abs(values[i] - values[i - 1]) > JUMP_C:
            suspect = i
        if times[i] - times[suspect] >= MOVED_AFTER_S:
            keep[suspect : i + 1] = True
            accepted, suspect = i, -1
    return times[keep], values[keep]
