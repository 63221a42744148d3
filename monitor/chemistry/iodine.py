"""The iodine value of oils and their mixtures: how many double bonds there are, and so how soon a soap turns rancid.

=========================  ===================================  =======  ============================================
constant                   quantity                             unit     source
=========================  ===================================  =======  ============================================
IODINE_G_PER_MOL           M(I2)                                g/mol    IUPAC standard atomic weights, 2 x 126.904 47
=========================  ===================================  =======  ============================================
"""

from dataclasses import dataclass

from monitor.chemistry.fatty_acids import (
    GLYCERYL_G_PER_MOL,
    FattyAcidProfile,
    all_fatty_acids,
    fatty_acid_profile,
)
from monitor.chemistry.oil_amounts import Portion
from monitor.chemistry.oils import OilRow, find_oil

IODINE_G_PER_MOL = 253.809


@dataclass(frozen=True, slots=True)
class IodineValue:
    """g of iodine that 100 g of oil take up: the ends of what the standards allow, and what is typical."""

    low: float
    typical: float
    high: float


def double_bonds(code: str) -> int:
    """Carbon-carbon double bonds of a fatty acid, from its code.

    >>> double_bonds("C18:3"), double_bonds("C18:1-OH"), double_bonds("C16:0")
    (3, 1, 0)
    """
    return int(code.partition(":")[2].partition("-")[0])


def iodine_of_acids(profile: FattyAcidProfile) -> float:
    """The iodine value of the free acids, g per 100 g: 100 M(I2) sum(w_i n_i / M_i).

    w_i: mass fraction of an acid, n_i: its double bonds, M_i: its molar mass. Every double bond takes one I2.

    References
    ----------
    .. [1] AOCS Cd 1c-85, calculated iodine value, from memory: its factors are these, 0.860 for triolein.

    >>> round(iodine_of_acids(fatty_acid_profile("oleic acid")), 1)
    89.9
    """
    table = all_fatty_acids()
    bonds = sum(share * double_bonds(code) / table[code].acid_g_per_mol for code, share in profile.shares.items())
    return 100.0 * IODINE_G_PER_MOL * bonds


def iodine_of_triglyceride(profile: FattyAcidProfile) -> float:
    """The iodine value of the triglycerides of these acids, g per 100 g.

    The acids' own, less the weight of the glycerol that binds them: 3 M / (3 M + 38.049), M being their mean.
    """
    three_acids = 3.0 * profile.acid_g_per_mol
    return iodine_of_acids(profile) * three_acids / (three_acids + GLYCERYL_G_PER_MOL)


def iodine_of_oil(row: OilRow) -> IodineValue:
    """The iodine value of an oil of the table: its standard's range, and the typical one from its fatty acids.

    Typical is the middle of the range for a wax ester, whose alcohols the profile does not hold, and for an oil without
    a profile. Limits: as good as the profile, which is not every harvest's; unsaponifiable matter is left out.

    >>> olive = iodine_of_oil(find_oil("olive"))
    >>> olive.low, round(olive.typical), olive.high
    (75.0, 83, 94.0)
    """
    profile = fatty_acid_profile(row.name)
    if profile is None or row.kind == "wax ester":
        return IodineValue(row.iodine_low, (row.iodine_low + row.iodine_high) / 2.0, row.iodine_high)
    computed = iodine_of_acids(profile) if row.kind == "free acid" else iodine_of_triglyceride(profile)
    return IodineValue(row.iodine_low, computed, row.iodine_high)


def iodine_value(portions: tuple[Portion, ...]) -> IodineValue | None:
    """The iodine value of a mixture, weighted by mass; None where an oil is not in the table.

    The ends take all oils at their own ends at once.
    """
    try:
        parts = [(portion.grams, iodine_of_oil(find_oil(portion.name))) for portion in portions]
    except ValueError:
        return None
    total = sum(grams for grams, _ in parts)
    if not total:
        return None
    return IodineValue(
        sum(grams * value.low for grams, value in parts) / total,
        sum(grams * value.typical for grams, value in parts) / total,
        sum(grams * value.high for grams, value in parts) / total,
    )
