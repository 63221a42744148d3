"""The virtual paste's chemistry: saponification across the interface between oil and lye.

A film between oil and lye carries two resistances in series: the reaction at the interface (Arrhenius, with an area
that grows as soap emulsifies the oil and shrinks as the droplets do) and diffusion through the thickening paste (helped
little by heat, much by stirring). GAS_CONSTANT_J_MOL_K, symbol R, J/(mol K): CODATA 2018, to ten digits.
"""

import math
from dataclasses import dataclass

from monitor.model import ABSOLUTE_ZERO_C

GAS_CONSTANT_J_MOL_K = 8.314462618
REFERENCE_C = 95.0


@dataclass(frozen=True, slots=True)
class Chemistry:
    """Parameters of the saponification; the usual range of each stands beside it. All are judgement.

    Rates are per minute at 95 degC in fully mixed paste that holds no soap yet.

    settled_mixing: the mixing long after a stir, relative to just after it. settling_s: the time constant with which
    the mixing settles. early_interface: the interfacial area before any soap, relative to the area after emulsifying.
    """

    interface_per_min: float = 0.3  # 0.02 to 1
    activation_j_mol: float = 54_000.0  # 25 000 to 80 000
    fat_order: float = 0.8  # 0.6 to 1.2; 2/3 is a shrinking droplet
    alkali_order: float = 0.75  # 0.4 to 1.2
    early_interface: float = 0.2  # 0.05 to 1
    emulsified_at: float = 0.07  # 0.01 to 0.3, conversion where half the gain is had
    diffusion_per_min: float = 0.225  # 0.02 to 1
    diffusion_activation_j_mol: float = 20_000.0  # 12 000 to 30 000
    diffusion_alkali_order: float = 0.5  # 0.2 to 1
    diffusion_mixing_order: float = 1.3  # 0.5 to 2
    settling_s: float = 1500.0  # 600 to 5400
    settled_mixing: float = 0.4  # 0.1 to 0.9
    blender_mixing: float = 1.2  # 1 to 3
    thickening: float = 0.5  # 0 to 2, how much slower diffusion is in finished soap


def conversion_per_s(chemistry: Chemistry, excess: float, paste_c: float, converted: float, mixing: float) -> float:
    """The rate of conversion, fraction of the fat per second.

    Two resistances in series, 1/r = 1/r_i + 1/r_d, with the reaction at the interface r_i and diffusion r_d:

        r_i = k_i exp(-E_i/R (1/T - 1/T_0)) area(x) m (1 - x)^a c^b
        r_d = k_d exp(-E_d/R (1/T - 1/T_0)) m^e (1 - x) c^d / (1 + h x)

    where c = (1 + excess - x) / (1 + excess) is the alkali left and T_0 is 95 degC. Form and parameters: judgement.

    Parameters
    ----------
    excess : alkali above what the oils take, fraction of it.
    paste_c : temperature of the paste, degC.
    converted : conversion x, fraction of the fat that is soap, 0 to 1.
    mixing : mixing m, 1 just after a thorough stir.

    >>> conversion_per_s(Chemistry(), 0.03, 95.0, 1.0, 1.0)
    0.0
    """
    fat = 1.0 - converted
    alkali = (1.0 + excess - converted) / (1.0 + excess)
    if fat <= 0.0 or alkali <= 0.0:
        return 0.0
    colder = 1.0 / (paste_c - ABSOLUTE_ZERO_C) - 1.0 / (REFERENCE_C - ABSOLUTE_ZERO_C)
    emulsified = converted / (converted + chemistry.emulsified_at) * (1.0 + chemistry.emulsified_at)
    area = chemistry.early_interface + (1.0 - chemistry.early_interface) * emulsified
    interface: float = (
        chemistry.interface_per_min
        * math.exp(-chemistry.activation_j_mol / GAS_CONSTANT_J_MOL_K * colder)
        * area
        * mixing
        * fat**chemistry.fat_order
        * alkali**chemistry.alkali_order
    )
    diffusion: float = (
        chemistry.diffusion_per_min
        * math.exp(-chemistry.diffusion_activation_j_mol / GAS_CONSTANT_J_MOL_K * colder)
        * mixing**chemistry.diffusion_mixing_order
        * fat
        * alkali**chemistry.diffusion_alkali_order
        / (1.0 + chemistry.thickening * converted)
    )
    return interface * diffusion / (interface + diffusion) / 60.0
