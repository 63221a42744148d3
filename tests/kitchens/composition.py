"""How a batch's oils and water move its need in a virtual kitchen: short chains soap sooner (makers' experience, no source)."""

import math
from dataclasses import dataclass

import numpy as np

from monitor.model import Batch

# Mass share of the chains C8 to C14 (from memory; coconut about 0.8, palm kernel about 0.7, the others next to none).
SHORT_CHAIN_SHARES = {"coconut": 0.79, "palm kernel": 0.71}
# ln need per unit of the share, cut off at 0; and per unit of water over oil (judgement).
SHORT_CHAIN_SLOPE, SHORT_CHAIN_SLOPE_SD = -0.3, 0.15
WATER_SLOPE_SD = 0.15
# A batch like this takes the kitchen's own need.
USUAL_SHORT_CHAIN_SHARE, USUAL_WATER_PER_OIL = 0.2, 0.925


@dataclass(frozen=True)
class Composition:
    """A kitchen's slopes of ln need: per unit of the share of short chains, per unit of water over oil."""

    short_chain_slope: float = 0.0
    water_slope: float = 0.0

    def pace(self, batch: Batch) -> float:
        """How much faster this batch goes than a usual one, as a factor."""
        off_share = short_chain_share(batch) - USUAL_SHORT_CHAIN_SHARE
        off_water = batch.water_grams / sum(oil.grams for oil in batch.oils) - USUAL_WATER_PER_OIL
        return math.exp(-self.short_chain_slope * off_share - self.water_slope * off_water)


def short_chain_share(batch: Batch) -> float:
    """Share of the chains C8 to C14 in the batch's oils, by mass."""
    short_g = sum(oil.grams * SHORT_CHAIN_SHARES.get(oil.name, 0.0) for oil in batch.oils)
    return short_g / sum(oil.grams for oil in batch.oils)


def draw_composition(rng: np.random.Generator) -> Composition:
    """The slopes of one kitchen."""
    short_chain_slope = 1.0
    while short_chain_slope > 0.0:
        short_chain_slope = float(rng.normal(SHORT_CHAIN_SLOPE, SHORT_CHAIN_SLOPE_SD))
    return Composition(short_chain_slope, float(rng.normal(0.0, WATER_SLOPE_SD)))
