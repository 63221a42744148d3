"""What is believed before a cook begins: a grid over the unknowns of a kitchen, and its usual temperatures.

The numbers are judgement, shown to the user as such, and are replaced by what the kitchen's own cooks teach.
"""

import math
from dataclasses import dataclass
from functools import cache

import numpy as np

from monitor.model import Floats

# Equivalent minutes at 95 degC from thick trace to a clear check, at the reference excess.
NEED_MIN = 160.0
NEED_FACTOR = 1.4
REFERENCE_EXCESS = 0.03
EA_J_MOL = 50_000.0
EA_SD_J_MOL = 12_000.0
EA_LOW_J_MOL, EA_HIGH_J_MOL = 25_000.0, 80_000.0
# How fast the paste goes on when nobody has stirred for long, against just stirred.
FLOOR, FLOOR_SD = 0.65, 0.2
FADE_S = 1800.0
COOK_SCATTER = 0.12
# How far the need follows the alkali excess: 1 as the rate law has it, 0 not at all. Where mixing or diffusion holds
# the tail back it follows less.
FOLLOW, FOLLOW_SD = 0.65, 0.3

LN_NEED = np.linspace(math.log(NEED_MIN * 60) - 1.75, math.log(NEED_MIN * 60) + 1.75, 71)
EA = np.linspace(EA_LOW_J_MOL, EA_HIGH_J_MOL, 5)
FLOORS = np.array([0.35, 0.6, 0.85])
FOLLOWS = np.array([0.2, 0.5, 0.8, 1.1])


@dataclass(frozen=True)
class Prior:
    """Belief before a cook.

    weight: probability over ln need in s at the reference excess, activation energy, mixing floor and how far the
    need follows the excess, on the grid of LN_NEED, EA (J/mol), FLOORS, FOLLOWS; shape (71, 5, 3, 4), sum 1.
    plateau_c, plateau_sd_c: where the paste usually settles under the lid.
    cooks: from how many finished cooks it was learned.
    """

    weight: Floats
    plateau_c: float = 93.0
    plateau_sd_c: float = 6.0
    cooks: int = 0

    def for_batch(self, ln_shift: float) -> Floats:
        """The belief about one batch's ln need, activation energy and floor, shape (71, 5, 3), sum 1.

        ln_shift: by how much the rate law alone would move the ln need from the reference excess to the batch's.
        """
        moved = [diffused(self.weight[..., i], follow * ln_shift) for i, follow in enumerate(FOLLOWS)]
        result: Floats = np.sum(moved, axis=0)
        return result


def normal_weights(grid: Floats, mean: float, sd: float) -> Floats:
    """Probabilities on a grid that follow a normal density, sum 1."""
    weights: Floats = np.exp(-0.5 * ((grid - mean) / sd) ** 2)
    weights /= weights.sum()
    return weights


def diffused(weight: Floats, ln_shift: float) -> Floats:
    """Weights on LN_NEED, along axis 0, moved up by ln_shift; what would leave the grid stays at its edge.

    >>> float(diffused(normal_weights(LN_NEED, 9.0, 0.2), 0.13) @ LN_NEED - 9.0).__round__(6)
    0.13
    """
    steps = ln_shift / float(LN_NEED[1] - LN_NEED[0])
    whole = math.floor(steps)
    part = steps - whole
    size = len(LN_NEED)
    result = np.zeros_like(weight)
    for offset, share in ((whole, 1.0 - part), (whole + 1, part)):
        targets = np.clip(np.arange(size) + offset, 0, size - 1)
        np.add.at(result, targets, share * weight)
    return result


@cache
def first_prior() -> Prior:
    """The belief of a kitchen that has cooked nothing yet.

    >>> round(float(first_prior().weight.sum()), 12)
    1.0
    """
    scatter = math.hypot(math.log(NEED_FACTOR), COOK_SCATTER)
    need = normal_weights(LN_NEED, math.log(NEED_MIN * 60), scatter)
    ea = normal_weights(EA, EA_J_MOL, EA_SD_J_MOL)
    floor = normal_weights(FLOORS, FLOOR, FLOOR_SD)
    follow = normal_weights(FOLLOWS, FOLLOW, FOLLOW_SD)
    weight: Floats = np.einsum("i,j,k,l->ijkl", need, ea, floor, follow)
    return Prior(weight)
