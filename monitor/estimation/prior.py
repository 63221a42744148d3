"""The prior of a cook: a grid over the unknowns of a kitchen, and the temperature at which its paste settles.

The numbers are judgement, shown to the user as such; the kitchen's own cooks replace them.
"""

import math
from dataclasses import dataclass
from functools import cache

import numpy as np

from monitor.chemistry import NO_OFFSET, PhOffset
from monitor.estimation.composition import FIRST_SLOPES, Composition, Slopes
from monitor.model import Floats

# Equivalent minutes at 95 degC from thick trace to a clear check, at the reference excess.
NEED_MIN = 160.0
# Factor between kitchens, one standard deviation.
NEED_FACTOR = 1.4
REFERENCE_EXCESS = 0.03
# The trade's two weeks at 25 degC and three to four hours near 95 degC ask for about 63 kJ/mol (common practice).
EA_J_MOL = 60_000.0
EA_SD_J_MOL = 10_000.0
EA_LOW_J_MOL, EA_HIGH_J_MOL = 35_000.0, 85_000.0
# Rate of a paste that nobody has stirred for long over that of one just stirred, and how soon it fades to that.
MIXING_FLOOR, MIXING_FLOOR_SD = 0.65, 0.2
MIXING_FADE_S = 1800.0
# Standard deviation of ln need from cook to cook of one kitchen.
COOK_SCATTER = 0.12
# Exponent of the excess: ln need moves by this times what the rate law says of the alkali excess, so 1 is the law and
# 0 no effect. Where mixing or diffusion holds the tail back it lies between.
EXCESS_EXPONENT, EXCESS_EXPONENT_SD = 0.65, 0.3

LN_NEED = np.linspace(math.log(NEED_MIN * 60) - 1.75, math.log(NEED_MIN * 60) + 1.75, 71)
NEED_S = np.exp(LN_NEED)
EA = np.linspace(EA_LOW_J_MOL, EA_HIGH_J_MOL, 6)
MIXING_FLOORS = np.array([0.35, 0.6, 0.85])
EXCESS_EXPONENTS = np.array([0.2, 0.5, 0.8, 1.1])
# The true excess lies off what the sheet says, mostly by the same in cook after cook: values of that offset, and how
# far they reach in standard deviations.
OFFSETS, REACH_SD = 7, 2.4


@dataclass(frozen=True)
class Prior:
    """What is known of a kitchen before a cook.

    weight: probability over ln need (s, of a usual batch), activation energy (J/mol), mixing floor, and the pairs of
    excess offset and exponent of the excess, on the grid of LN_NEED, EA, MIXING_FLOORS and ``pair_weights``; shape
    (71, 6, 3, 28), sum 1.
    plateau_c, plateau_sd_c: temperature at which the paste settles under the lid, and its standard deviation, degC.
    cooks: number of finished cooks from which it was learned. slopes: how the need follows oils and water.
    ph_offset: how far its pH readings lie off the model. bracketed: how many of those cooks had a sample that was not
    clear, which bounds their need from below.
    """

    weight: Floats
    plateau_c: float = 93.0
    plateau_sd_c: float = 6.0
    cooks: int = 0
    slopes: Slopes = FIRST_SLOPES
    ph_offset: PhOffset = NO_OFFSET
    bracketed: int = 0

    def for_batch(self, offsets: int = OFFSETS, composition: Composition | None = None) -> Floats:
        """Probability over ln need, activation energy, mixing floor, and excess with exponent, shape (71, 6, 3, k).

        offsets: how many values the excess has, from which k is four times as many. composition: of the oils and the
        water, or None where it is not known. The sum is 1.
        """
        weight = self.weight
        if composition is not None:
            move, sd = self.slopes.shift(composition)
            weight = blurred(shifted(weight, move), sd)
        return weight if offsets == OFFSETS else _with_more_offsets(weight, offsets)


def offset_places(count: int) -> Floats:
    """Places of the excess in standard deviations from its middle, shape (count,); 0 alone for one."""
    return np.linspace(-REACH_SD, REACH_SD, count) if count > 1 else np.zeros(1)


def offset_weights(count: int) -> Floats:
    """Probabilities of those places before anything was learned, shape (count,), sum 1."""
    return normal_weights(offset_places(count), 0.0, 1.0)


def _with_more_offsets(weight: Floats, count: int) -> Floats:
    """The weights on another number of offsets: what was learned of them is interpolated, the normal density exact."""
    by_offset = weight.reshape(*weight.shape[:3], OFFSETS, len(EXCESS_EXPONENTS)) / offset_weights(OFFSETS)[:, None]
    at = np.interp(offset_places(count), offset_places(OFFSETS), np.arange(OFFSETS))
    lower = np.minimum(at.astype(np.int64), OFFSETS - 2)
    part = (at - lower)[:, None]
    finer = (1.0 - part) * by_offset[..., lower, :] + part * by_offset[..., lower + 1, :]
    finer *= offset_weights(count)[:, None]
    result: Floats = finer.reshape(*weight.shape[:3], -1) / finer.sum()
    return result


def normal_weights(grid: Floats, mean: float, sd: float) -> Floats:
    """Probabilities proportional to a normal density at the points of a grid, sum 1.

    grid: shape (n,). mean, sd: of the density, in the grid's unit; sd > 0.

    >>> normal_weights(np.array([-1.0, 0.0, 1.0]), 0.0, 1.0).round(3).tolist()
    [0.274, 0.452, 0.274]
    """
    weights: Floats = np.exp(-0.5 * ((grid - mean) / sd) ** 2)
    weights /= weights.sum()
    return weights


def shifted(weight: Floats, ln_shift: float) -> Floats:
    """Weights moved up the need axis; what would leave the grid stays at its edge, so the sum is unchanged.

    weight: over LN_NEED along axis 0, shape (71, ...). ln_shift: in ln need, either sign. Each weight is shared
    between the two nearest grid points, which keeps the mean and widens the distribution by less than a step.

    >>> float(shifted(normal_weights(LN_NEED, 9.0, 0.2), 0.13) @ LN_NEED - 9.0).__round__(6)
    0.13
    """
    steps = ln_shift / float(LN_NEED[1] - LN_NEED[0])
    whole = math.floor(steps)
    part = steps - whole
    return (1.0 - part) * _moved(weight, whole) + part * _moved(weight, whole + 1)


def _moved(weight: Floats, steps: int) -> Floats:
    """Weights moved up by whole steps; what would leave the grid is added at its edge."""
    size = len(weight)
    steps = max(-size, min(size, steps))
    if steps == 0:
        return weight
    result = np.zeros_like(weight)
    if steps > 0:
        result[steps:] = weight[: size - steps]
        result[-1] += weight[size - steps :].sum(axis=0)
    else:
        result[:steps] = weight[-steps:]
        result[0] += weight[:-steps].sum(axis=0)
    return result


def blurred(weight: Floats, sd: float) -> Floats:
    """Weights with the need axis convolved with a normal density, their sum unchanged.

    weight: over LN_NEED along axis 0, shape (71, ...). sd: of the normal, in ln need; cut off at four sd, and what
    would leave the grid is spread over it.
    """
    step = LN_NEED[1] - LN_NEED[0]
    reach = math.ceil(4 * sd / float(step))
    if reach == 0:
        return weight
    apart = np.arange(len(weight))[:, None] - np.arange(len(weight))
    # All columns at once: each estimate of each look comes by here.
    kernel = np.where(abs(apart) <= reach, np.exp(-0.5 * (apart * step / sd) ** 2), 0.0)
    convolved = np.tensordot(kernel, weight, 1)
    result: Floats = convolved * (weight.sum() / convolved.sum())
    return result


@cache
def first_prior() -> Prior:
    """The prior of a kitchen that has cooked nothing yet.

    The need is lognormal about NEED_MIN; its spread is that between kitchens and that between cooks together.

    >>> round(float(first_prior().weight.sum()), 12)
    1.0
    """
    scatter = math.hypot(math.log(NEED_FACTOR), COOK_SCATTER)
    need = normal_weights(LN_NEED, math.log(NEED_MIN * 60), scatter)
    ea = normal_weights(EA, EA_J_MOL, EA_SD_J_MOL)
    floor = normal_weights(MIXING_FLOORS, MIXING_FLOOR, MIXING_FLOOR_SD)
    return Prior(np.einsum("i,j,k,l->ijkl", need, ea, floor, pair_weights()))


def pair_weights() -> Floats:
    """Probabilities of the pairs of offset and exponent before anything was learned, shape (28,), sum 1."""
    exponent = normal_weights(EXCESS_EXPONENTS, EXCESS_EXPONENT, EXCESS_EXPONENT_SD)
    return np.outer(offset_weights(OFFSETS), exponent).ravel()
