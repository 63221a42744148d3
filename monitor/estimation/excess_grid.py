"""The true excess of a batch as an unknown: a few values of it, and what each does to conversion and need.

The need of a batch follows its excess: ln need moves by a part of what the rate law says, the exponent, which is the
kitchen's to learn. The rate constant is then the same at every excess (``kinetics.damped_excess``), so that more alkali
never means less conversion at the same moment, and no conversion goes beyond what the alkali allows.

Most of what is not known of the excess (the saponification values of a shop's oils, the assay of a bag) is the same in
cook after cook. A kitchen's need was learned with it, so the need axis stands for the need that a usual batch shows in
that kitchen, and the rate constant of each value is the one that fits: more alkali than thought means a slower rate.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from monitor.chemistry import batch_excess
from monitor.estimation.kinetics import CLEAR_RESIDUAL, clear_gain, damped_excess, second_order_converted
from monitor.estimation.prior import EXCESS_EXPONENTS, NEED_S, OFFSETS, REFERENCE_EXCESS, offset_places
from monitor.model import Batch, Floats

# How well the excess of a usual batch is known (``chemistry.batch_excess`` of most oils), and how well where no sheet
# tells it (judgement).
USUAL_SD, UNTOLD_SD = 0.0125, 0.015
# Titrations tell the excess so sharply that more values of it are needed.
TITRATED_OFFSETS = 25
# The rate law starts from a conversion of a tenth, so alkali for less than that is no batch.
LEAST_EXCESS = -0.85
# No usual batch has less, or it would never come clear.
LEAST_USUAL = -0.5 * CLEAR_RESIDUAL


@dataclass(frozen=True, eq=False)
class ExcessGrid:
    """Pairs of a value that the true excess may have and an exponent of the excess; every pair of both.

    excess: fraction of the need, shape (k,). exponent: shape (k,), running faster than the excess through
    EXCESS_EXPONENTS. effective: the excess that stands in the rate law. need_shift: ln of the need over the kitchen's
    at the usual excess; inf where a sample never comes clear. rate: the rate constant over that of the middle value.
    All of shape (k,).
    """

    excess: Floats
    exponent: Floats
    effective: Floats
    need_shift: Floats
    rate: Floats

    @property
    def never_clear(self) -> Floats:
        """1.0 where a sample never comes clear at this excess, else 0.0, shape (k,)."""
        return np.isinf(self.need_shift).astype(np.float64)

    def converted(self, equivalent_s: Floats) -> Floats:
        """Fraction converted at every grid point, shape (71, e, f, k).

        equivalent_s: equivalent time by activation energy and mixing floor, s, shape (e, f).
        """
        gain = equivalent_s[None, :, :, None] * ((_REFERENCE_GAIN / NEED_S)[:, None] * self.rate)[:, None, None, :]
        law = second_order_converted(gain, self.effective)
        return np.minimum(law, 1.0 + self.excess)

    def share_of_need(self, equivalent_s: Floats) -> Floats:
        """Equivalent time over this batch's need, shape (71, e, f, k).

        Where a sample never comes clear, over the need at the reference excess. equivalent_s: s, shape (e, f).
        """
        shift = np.where(np.isinf(self.need_shift), 0.0, self.need_shift)
        need_s = NEED_S[:, None] * np.exp(shift)[None, :]
        result: Floats = equivalent_s[None, :, :, None] / need_s[:, None, None, :]
        return result

    def usual_effective(self, weight: Floats) -> float:
        """The mean effective excess of those at which a sample comes clear; the reference where there is none.

        weight: over the excess, shape (k,).
        """
        clears = weight * (1.0 - self.never_clear)
        total = float(clears.sum())
        return float(clears @ self.effective) / total if total > 1e-9 else REFERENCE_EXCESS


def _reference_gain() -> float:
    """The gain to a clear check of a usual batch: the mean, in ln, over what its excess may truly be."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(3)
    return float(np.exp(np.log(clear_gain(REFERENCE_EXCESS + USUAL_SD * nodes)) @ weights / weights.sum()))


_REFERENCE_GAIN = _reference_gain()


@lru_cache(maxsize=64)
def excess_grid(middle: float, sd: float, offsets: int = OFFSETS) -> ExcessGrid:
    """The values of an excess of this middle and standard deviation (fractions of the need).

    offsets: how many values, odd.

    >>> grid = excess_grid(0.03, 0.01)
    >>> grid.excess[[0, -1]].round(3).tolist(), len(grid.excess)
    ([0.006, 0.054], 28)
    """
    places = offset_places(offsets)
    exponents = len(EXCESS_EXPONENTS)
    excess = np.repeat(np.maximum(middle + sd * places, LEAST_EXCESS), exponents)
    exponent = np.tile(EXCESS_EXPONENTS, len(places))
    # What a usual batch's need would be off by if its excess were off by as much; the kitchen's need has that in it.
    usual = np.maximum(REFERENCE_EXCESS + np.repeat(sd * places, exponents), LEAST_USUAL)
    ln_rate = exponent * (np.log(clear_gain(usual)) - math.log(_REFERENCE_GAIN))
    need_shift = exponent * (np.log(clear_gain(excess)) - math.log(_REFERENCE_GAIN)) - ln_rate
    effective = damped_excess(excess, exponent, _REFERENCE_GAIN)
    return ExcessGrid(excess, exponent, effective, need_shift, np.exp(ln_rate))


@lru_cache(maxsize=64)
def grid_of(batch: Batch | None, offsets: int = OFFSETS) -> ExcessGrid:
    """The excess of a batch as weighed (``chemistry.batch_excess``), or the usual one where no sheet tells it."""
    found = None if batch is None else batch_excess(batch)
    if found is None:
        return excess_grid(batch.alkali.excess if batch else REFERENCE_EXCESS, UNTOLD_SD, offsets)
    return excess_grid(found.taken, found.sd, offsets)


def is_short(grid: ExcessGrid, weight: Floats) -> float:
    """The probability that the alkali does not suffice for a clear sample. weight: over the excess last, sum 1."""
    marginal = weight.sum(axis=(0, 1, 2))
    return float(marginal @ (grid.excess <= -CLEAR_RESIDUAL))
