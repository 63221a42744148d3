"""What is believed before a cook begins: a grid over the unknowns of a kitchen, and its usual temperatures.

The numbers are judgement, shown to the user as such, and are replaced by what the kitchen's own cooks teach.
"""

import math
from dataclasses import dataclass
from functools import cache

import numpy as np

from monitor.history import Floats

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

LN_NEED = np.linspace(math.log(NEED_MIN * 60) - 1.5, math.log(NEED_MIN * 60) + 1.5, 61)
EA = np.linspace(EA_LOW_J_MOL, EA_HIGH_J_MOL, 6)
FLOORS = np.array([0.3, 0.5, 0.7, 0.9])


@dataclass(frozen=True)
class Prior:
    """Belief before a cook.

    weight: probability over (ln need in s, activation energy, mixing floor), shape (61, 6, 4), sum 1; the grid is
    LN_NEED, EA (J/mol), FLOORS. plateau_c, plateau_sd_c: where the paste usually settles under the lid.
    cooks: from how many finished cooks it was learned.
    """

    weight: Floats
    plateau_c: float = 93.0
    plateau_sd_c: float = 6.0
    cooks: int = 0


def normal_weights(grid: Floats, mean: float, sd: float) -> Floats:
    """Probabilities on a grid that follow a normal density, sum 1."""
    weights: Floats = np.exp(-0.5 * ((grid - mean) / sd) ** 2)
    weights /= weights.sum()
    return weights


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
    return Prior(need[:, None, None] * ea[None, :, None] * floor[None, None, :])
