"""The pace against which cooks are compared: the kitchen's kinetics at its plateau, stirred as is common."""

import math
from dataclasses import dataclass, replace

from monitor.estimation import (
    EA,
    LN_NEED,
    MIXING_FADE_S,
    MIXING_FLOORS,
    STIR_INTERVAL_S,
    Prior,
    arrhenius_factor,
    mean_mixing_factor,
)
from monitor.model import Floats


@dataclass(frozen=True)
class ReferencePace:
    """The pace that time is counted against: the same for all reports that are compared.

    ea_j_mol: activation energy, J/mol; floor: mixing floor, 0 to 1; both the kitchen's means. plateau_c: temperature at
    which its paste usually settles, degC. need_s: equivalent time that its batches need at the reference excess.
    """

    ea_j_mol: float
    floor: float
    plateau_c: float
    need_s: float

    @property
    def mean_mixing(self) -> float:
        """The mixing factor averaged over the common stir interval."""
        return float(mean_mixing_factor(STIR_INTERVAL_S, self.floor, MIXING_FADE_S))

    @property
    def pace(self) -> float:
        """Equivalent seconds in one second at the plateau, stirred at the common interval."""
        return float(arrhenius_factor(self.plateau_c, self.ea_j_mol)) * self.mean_mixing

    @property
    def ideal_s(self) -> float:
        """How long the ideal cook takes from lid on to clear, s."""
        return self.need_s / self.pace

    def relative_rate(self, temperature_c: Floats | float) -> Floats:
        """The rate at these temperatures (degC, any shape) over that at the plateau."""
        return arrhenius_factor(temperature_c, self.ea_j_mol, self.plateau_c)


def reference_pace(prior: Prior) -> ReferencePace:
    """The pace by which a kitchen's cooks are compared: the means of its prior."""
    shares = prior.weight.sum(axis=3)
    return ReferencePace(
        float(shares.sum(axis=(0, 2)) @ EA),
        float(shares.sum(axis=(0, 1)) @ MIXING_FLOORS),
        prior.plateau_c,
        math.exp(float(shares.sum(axis=(1, 2)) @ LN_NEED)),
    )


def alternative_paces(reference: ReferencePace) -> list[ReferencePace]:
    """The pace by every pair of activation energy and mixing floor, in the order of a prior's weights."""
    return [replace(reference, ea_j_mol=float(ea), floor=float(floor)) for ea in EA for floor in MIXING_FLOORS]
