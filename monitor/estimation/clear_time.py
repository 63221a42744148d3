"""When the paste comes clear: one distribution, from which quantiles, chances and the best check are read."""

from dataclasses import dataclass

import numpy as np

from monitor.model import Floats

BIN_S = 60.0

# In about one cook of three something comes between: the power, the lid, a hand at the switch (judgement). What has
# not happened yet is expected in proportion to the time still to go, and to cost about this much each.
INTERRUPTED_SHARE, INTERRUPTED_PER_S = 0.3, 14_400.0
DELAY_MEAN_S, DELAY_LONGEST_S = 1500.0, 7200.0


@dataclass(frozen=True)
class ClearTimeDistribution:
    """The distribution of the moment at which the paste falls below the clear threshold.

    start: Unix seconds of the first edge. by: chance to be clear by start + i * 60 s, shape (n,), rising. What is
    missing to 1 at the end is the chance that it never comes clear within the time looked ahead.
    """

    start: float
    by: Floats

    @property
    def edges(self) -> Floats:
        """The moments of ``by``, Unix seconds, shape (n,)."""
        return self.start + BIN_S * np.arange(len(self.by), dtype=np.float64)

    def chance_by(self, moment: float) -> float:
        """The chance to be clear by a moment, Unix seconds."""
        return float(np.interp(moment, self.edges, self.by, left=0.0))

    def quantile(self, share: float) -> float | None:
        """The moment by which it is clear with this chance, Unix seconds; None where that is not within sight."""
        if self.by[-1] <= share:
            return None
        i = int(np.searchsorted(self.by, share, side="right"))
        if i == 0:
            return self.start
        part = (share - self.by[i - 1]) / (self.by[i] - self.by[i - 1])
        return float(self.start + BIN_S * (i - 1 + part))


def with_interruptions(clearing: ClearTimeDistribution, now: float) -> ClearTimeDistribution:
    """The same distribution with what may still come between and now (Unix seconds) added to its late side."""
    mass = np.diff(clearing.by, prepend=0.0)
    to_go_s = np.maximum(clearing.edges - now, 0.0)
    held_up = mass * INTERRUPTED_SHARE * np.minimum(to_go_s / INTERRUPTED_PER_S, 1.0)
    delay = np.exp(-np.arange(0.0, DELAY_LONGEST_S, BIN_S) / DELAY_MEAN_S)
    late = np.convolve(held_up, delay / delay.sum())
    padded = np.concatenate([mass - held_up, np.zeros(len(late) - len(mass))])
    return ClearTimeDistribution(clearing.start, np.minimum(np.cumsum(padded + late), 1.0))


def clear_times_from(moments: Floats, weights: Floats, start: float) -> ClearTimeDistribution:
    """The distribution of weighted moments (Unix seconds, inf for never); weights sum to 1.

    Each moment's weight is shared between the two nearest edges, so that a small shift of a moment is a small shift
    of every quantile.
    """
    finite = np.isfinite(moments)
    places = np.maximum((moments[finite] - start) / BIN_S, 0.0)
    part = weights[finite]
    if not len(places):
        return ClearTimeDistribution(start, np.zeros(2))
    lower = places.astype(np.int64)
    share = places - lower
    length = int(lower.max()) + 3
    mass = np.bincount(lower, part * (1.0 - share), length) + np.bincount(lower + 1, part * share, length)
    return ClearTimeDistribution(start, np.minimum(np.cumsum(mass), 1.0))
