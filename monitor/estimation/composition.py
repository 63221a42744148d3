"""How the need follows what is in the pot: the share of short fatty acids, and the water.

Makers find that coconut (C8 to C14) soaps sooner than long chains (common practice, no source), and water thins both
the lye and the paste. By how much is the kitchen's to learn; the prior is small.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from monitor.chemistry import batch_portions, short_chain_share
from monitor.model import Batch, Floats

# A batch as most are: a sixth of short acids, nine tenths of water to a gram of oil.
USUAL_SHORT_SHARE, USUAL_WATER_RATIO = 0.15, 0.9
# ln need by unit of each, and its standard deviation (judgement): all short acids instead of none would shorten the
# cook by a fifth, give or take as much; twice the water might change it by a tenth either way.
SHORT_SLOPE, SHORT_SLOPE_SD = -0.2, 0.2
WATER_SLOPE, WATER_SLOPE_SD = 0.0, 0.1


@dataclass(frozen=True, slots=True)
class Composition:
    """What sets a batch apart from the usual one.

    short_share: mass fraction of acids up to C14, above USUAL_SHORT_SHARE. water_ratio: water over oil by mass, above
    USUAL_WATER_RATIO.
    """

    short_share: float
    water_ratio: float

    @property
    def vector(self) -> Floats:
        """Both, shape (2,)."""
        return np.array([self.short_share, self.water_ratio])


@lru_cache(maxsize=64)
def composition_of(batch: Batch | None) -> Composition | None:
    """The composition of a batch; None without a sheet or oils. What is not known counts as usual."""
    oil_g = 0.0 if batch is None else sum(oil.grams for oil in batch.oils)
    if batch is None or oil_g <= 0.0:
        return None
    short = short_chain_share(batch_portions(batch))
    water = batch.water_grams / oil_g
    return Composition(
        0.0 if short is None else short - USUAL_SHORT_SHARE,
        0.0 if water <= 0.0 else min(water, 3.0) - USUAL_WATER_RATIO,
    )


@dataclass(frozen=True, eq=False)
class Slopes:
    """How ln need follows the composition: mean, shape (2,), and covariance, shape (2, 2), of the two slopes."""

    mean: Floats
    covariance: Floats

    def shift(self, composition: Composition) -> tuple[float, float]:
        """The mean and the standard deviation of the change of ln need at this composition."""
        x = composition.vector
        return float(self.mean @ x), math.sqrt(max(float(x @ self.covariance @ x), 0.0))

    def learned(self, composition: Composition, before: tuple[float, float], after: tuple[float, float]) -> "Slopes":
        """The slopes after a cook of this composition.

        before, after: mean and variance of the cook's ln need, as expected before it and as its evidence leaves it.
        The update of jointly normal unknowns: with c the covariance of slopes and ln need, the mean moves by
        c (m1 - m0) / v0 and the covariance falls by c c' (v0 - v1) / v0^2 (Maybeck, Stochastic Models, 1979, assumed
        density filtering; from memory).
        """
        (mean0, variance0), (mean1, variance1) = before, after
        c = self.covariance @ composition.vector
        mean = self.mean + c * (mean1 - mean0) / variance0
        covariance = self.covariance - np.outer(c, c) * max(variance0 - variance1, 0.0) / variance0**2
        return Slopes(mean, covariance)


FIRST_SLOPES = Slopes(np.array([SHORT_SLOPE, WATER_SLOPE]), np.diag([SHORT_SLOPE_SD**2, WATER_SLOPE_SD**2]))
