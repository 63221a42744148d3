"""The temperature that the lye reaches when the flakes go into the water.

The heat of solution over the heat capacity of the lye, for a vessel without losses (upper end) and for flakes whose
water has already hydrated some of the alkali (lower end). Both ends include the uncertainty of the heat capacity.

=======================  ====================================  =======  ===============================================
constant                 quantity                              unit     source
=======================  ====================================  =======  ===============================================
KOH_HEAT_KJ_MOL          heat of solution of KOH               kJ/mol   CRC Handbook after NSRDS-NBS 2, dilute limit
NAOH_HEAT_KJ_MOL         heat of solution of NaOH              kJ/mol   the same, from memory
KOH_HYDRATE_HEAT_KJ_MOL  heat of solution of KOH.H2O           kJ/mol   the same, from memory
STRONG_LYE_GIVES_LESS    reduction of the heat in strong lye   1        judgement
CAPACITY_WITHIN          uncertainty of the heat capacity      1        from memory of handbooks
WARM_ENOUGH_C            default limit of temperature          degC     common practice, no source
=======================  ====================================  =======  ===============================================
"""

import math
from dataclasses import dataclass

from monitor.chemistry import FRACTION, KOH_G_PER_MOL, NAOH_G_PER_MOL, WATER_G_PER_MOL, check_range
from monitor.formulation.cautions import KOH_BURNS, KOH_INTO_WATER, LYE_SPITS, Caution

# kJ per mol at infinite dilution, all exothermic.
KOH_HEAT_KJ_MOL = 57.6
NAOH_HEAT_KJ_MOL = 44.5
KOH_HYDRATE_HEAT_KJ_MOL = 14.6
# Dissolving to a strong lye gives less heat than to a dilute one, by up to this fraction (judgement).
STRONG_LYE_GIVES_LESS = 0.12
CAPACITY_WITHIN = 0.06
# Above this temperature splashes scald at once and the lye fumes (common practice, no source).
WARM_ENOUGH_C = 70.0


@dataclass(frozen=True, slots=True)
class HeatInputs:
    """koh_g, naoh_g: flakes, 0 to 100 000 g.

    water_g: 1 to 100 000 g. Assays: mass fractions, 0.5 to 1. start_c: initial temperature of both, 0 to 60 degC.
    """

    koh_g: float
    water_g: float
    koh_assay: float = 0.90
    naoh_g: float = 0.0
    naoh_assay: float = 0.98
    start_c: float = 20.0

    def __post_init__(self) -> None:
        check_range("koh_g", self.koh_g, 0.0, 100_000.0, "g")
        check_range("naoh_g", self.naoh_g, 0.0, 100_000.0, "g")
        check_range("water_g", self.water_g, 1.0, 100_000.0, "g")
        check_range("koh_assay", self.koh_assay, 0.5, 1.0, FRACTION)
        check_range("naoh_assay", self.naoh_assay, 0.5, 1.0, FRACTION)
        check_range("start_c", self.start_c, 0.0, 60.0, "°C")


@dataclass(frozen=True, slots=True)
class MixingHeat:
    """Temperatures in degC. hottest_c: without losses; mildest_c: hydrated flakes, also without losses.

    parts: the number of portions in which to add the flakes, each cooled back to the start, so that none exceeds
    ``limit_c``. part_g: flakes in each, g.
    """

    inputs: HeatInputs
    mildest_c: float
    hottest_c: float
    limit_c: float
    parts: int
    part_g: float
    meaning: tuple[str, ...]
    cautions: tuple[Caution, ...]


def lye_capacity_j_g_k(strength: float) -> float:
    """The specific heat of lye near 25 degC, J/(g K): 4.18 - 5.1 w + 4.8 w^2.

    Parameters
    ----------
    strength : w, mass fraction of alkali, 0 to 0.53.

    Fitted to 3.68, 3.35, 3.1, 2.93 and 2.8 J/(g K) at 10 to 50 % KOH (from memory of handbooks, within 6 %). That of
    NaOH lye is a little higher, so the temperature of NaOH lye is overestimated.

    >>> round(lye_capacity_j_g_k(0.0), 2), round(lye_capacity_j_g_k(0.3), 2)
    (4.18, 3.08)
    """
    return 4.18 - 5.1 * strength + 4.8 * strength**2


def mixing_heat(inputs: HeatInputs, limit_c: float = WARM_ENOUGH_C) -> MixingHeat:
    """The temperature that the lye may reach, and the number of portions in which to add the flakes.

        T = T_0 + sum(n_i dH_i) / (c(w) m)

    Parameters
    ----------
    inputs : flakes, assays, water and the initial temperature.
    limit_c : temperature not to exceed, degC, from 10 above the start to 100.

    Limits: no heat loss, no boiling (above 100 degC the result only says that it may boil over), lye of at most 53 %.

    References
    ----------
    .. [1] CRC Handbook of Chemistry and Physics, enthalpy of solution of electrolytes, after NSRDS-NBS 2.

    >>> heat = mixing_heat(HeatInputs(koh_g=128.75, water_g=260))
    >>> round(heat.mildest_c), round(heat.hottest_c), heat.parts
    (81, 125, 3)
    """
    check_range("limit_c", limit_c, inputs.start_c + 10.0, 100.0, "°C")
    koh = inputs.koh_g * inputs.koh_assay
    naoh = inputs.naoh_g * inputs.naoh_assay
    koh_mol, naoh_mol = koh / KOH_G_PER_MOL, naoh / NAOH_G_PER_MOL
    whole_g = inputs.koh_g + inputs.naoh_g + inputs.water_g
    capacity = lye_capacity_j_g_k(min((koh + naoh) / whole_g, 0.53)) * whole_g
    most_j = 1000.0 * (koh_mol * KOH_HEAT_KJ_MOL + naoh_mol * NAOH_HEAT_KJ_MOL)
    bound_mol = min((inputs.koh_g - koh) / WATER_G_PER_MOL, koh_mol)
    less_j = 1000.0 * bound_mol * (KOH_HEAT_KJ_MOL - KOH_HYDRATE_HEAT_KJ_MOL)
    hottest_c = inputs.start_c + most_j / (capacity * (1.0 - CAPACITY_WITHIN))
    mildest_c = inputs.start_c + (most_j - less_j) * (1.0 - STRONG_LYE_GIVES_LESS) / (
        capacity * (1.0 + CAPACITY_WITHIN)
    )
    parts = max(1, math.ceil((hottest_c - inputs.start_c) / (limit_c - inputs.start_c)))
    return MixingHeat(
        inputs,
        mildest_c,
        hottest_c,
        limit_c,
        parts,
        (inputs.koh_g + inputs.naoh_g) / parts,
        _meaning(mildest_c, hottest_c, limit_c, parts, inputs),
        (Caution("part_g", KOH_BURNS), Caution("part_g", KOH_INTO_WATER), Caution("hottest_c", LYE_SPITS)),
    )


def _meaning(mildest_c: float, hottest_c: float, limit_c: float, parts: int, inputs: HeatInputs) -> tuple[str, ...]:
    sentences = [f"The lye may reach {mildest_c:.0f} to {min(hottest_c, 110.0):.0f} °C if all goes in at once."]
    if hottest_c > 100.0:
        sentences.append("That may boil it over.")
    if parts > 1:
        sentences.append(
            f"Add the flakes in {parts} parts and let the lye cool back to about {inputs.start_c:.0f} °C before each, "
            f"in a bath of cold water if it is to be quick; then it should stay below {limit_c:.0f} °C."
        )
    return tuple(sentences)
