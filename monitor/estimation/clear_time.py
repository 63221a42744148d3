"""When the paste comes clear: one distribution, from which quantiles, probabilities and the next check are read."""

from dataclasses import dataclass

import numpy as np

from monitor.estimation.estimate import ClearDensity
from monitor.model import Floats

BIN_S = 60.0
# A drawn density is cut into stretches of this, from where one in a thousand is clear to where all but five are.
DENSITY_STEP_S = 300.0
DENSITY_FROM, DENSITY_TO = 0.001, 0.995

# About one cook of three is interrupted: by the power, the lid, a hand at the switch (judgement). An interruption that
# has not happened yet is expected in proportion to the time still to go, with an exponential delay of this mean.
INTERRUPTED_SHARE, INTERRUPTED_PER_S = 0.3, 14_400.0
DELAY_MEAN_S, DELAY_LONGEST_S = 1500.0, 7200.0


@dataclass(frozen=True)
class ClearTimeDistribution:
    """The distribution of the moment at which the paste falls below the clear threshold.

    start: Unix seconds of the first edge. by: probability to be clear by start + i * 60 s, shape (n,), never falling.
    What its last value lacks to 1 is the probability of no clear paste within the time that is looked ahead.
    """

    start: float
    by: Floats

    @property
    def edges(self) -> Floats:
        """The moments of ``by``, Unix seconds, shape (n,)."""
        return self.start + BIN_S * np.arange(len(self.by), dtype=np.float64)

    def chance_by(self, moment: float) -> float:
        """The probability, 0 to 1, to be clear by a moment (Unix seconds); 0 before the first edge."""
        return float(np.interp(moment, self.edges, self.by, left=0.0))

    def quantile(self, share: float) -> float | None:
        """The moment (Unix seconds) by which the paste is clear with this probability, 0 to 1.

        None where the distribution never reaches it. Linear between edges.
        """
        if self.by[-1] <= share:
            return None
        i = int(np.searchsorted(self.by, share, side="right"))
        if i == 0:
            return self.start
        part = (share - self.by[i - 1]) / (self.by[i] - self.by[i - 1])
        return float(self.start + BIN_S * (i - 1 + part))

    def density(self, until: float) -> ClearDensity:
        """The distribution by five minutes, without its thin ends, up to a moment (Unix seconds).

        >>> clearing = ClearTimeDistribution(0.0, np.linspace(0.0, 1.0, 11))
        >>> [round(share, 3) for share in clearing.density(600.0).probability]
        [0.5, 0.5]
        """
        first, last = self.quantile(DENSITY_FROM * float(self.by[-1])), self.quantile(DENSITY_TO * float(self.by[-1]))
        if first is None or last is None:
            return ClearDensity()
        begin = DENSITY_STEP_S * (first // DENSITY_STEP_S)
        steps = max(1, int(np.ceil((min(last, until) - begin) / DENSITY_STEP_S)))
        edges = begin + DENSITY_STEP_S * np.arange(steps + 1)
        by = np.interp(edges, self.edges, self.by, left=0.0)
        return ClearDensity(tuple(edges.tolist()), tuple(np.diff(by).tolist()))


def with_interruptions(clearing: ClearTimeDistribution, now: float) -> ClearTimeDistribution:
    """The distribution with possible interruptions: part of its mass moved to later times.

    clearing: without interruptions. now: Unix seconds. A clear time that lies d seconds ahead is delayed with
    probability INTERRUPTED_SHARE * min(d / INTERRUPTED_PER_S, 1), by an exponential of mean DELAY_MEAN_S that is cut
    off at DELAY_LONGEST_S. Judgement, no source.
    """
    mass = np.diff(clearing.by, prepend=0.0)
    to_go_s = np.maximum(clearing.edges - now, 0.0)
    held_up = mass * INTERRUPTED_SHARE * np.minimum(to_go_s / INTERRUPTED_PER_S, 1.0)
    delay = np.exp(-np.arange(0.0, DELAY_LONGEST_S, BIN_S) / DELAY_MEAN_S)
    late = np.convolve(held_up, delay / delay.sum())
    padded = np.concatenate([mass - held_up, np.zeros(len(late) - len(mass))])
    return ClearTimeDistribution(clearing.start, np.minimum(np.cumsum(padded + late), 1.0))


def clear_times_from(moments: Floats, weights: Floats, start: float) -> ClearTimeDistribution:
    """The distribution of weighted moments.

    moments: Unix seconds, inf for never, shape (n,). weights: probabilities, shape (n,), sum 1. start: Unix seconds of
    the first edge; earlier moments count as there. Each weight is shared between the two nearest edges, so that a
    small shift of a moment is a small shift of every quantile.

    >>> clear_times_from(np.array([60.0, 180.0]), np.array([0.5, 0.5]), 0.0).quantile(0.75)
    150.0
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
