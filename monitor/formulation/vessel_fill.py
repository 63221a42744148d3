"""Whether the batch fits the cooker: volumes in litres, and the fill level."""

from dataclasses import dataclass

from monitor.chemistry import FRACTION, check_range
from monitor.formulation.alkali import Charge
from monitor.formulation.cautions import Caution

# Density of warm oil, kg per litre, from memory of handbooks, within a few per cent.
OIL_KG_L = 0.90
# Paste swells and foams over when it nears boiling, so a third stays free: common practice, no source.
FULL_ENOUGH = 2.0 / 3.0


@dataclass(frozen=True, slots=True)
class VesselFill:
    """The fill of the cooker. Volumes in litres; fractions of the volume to the rim.

    largest_batch: the factor on every mass that fills the cooker exactly to ``full_enough``.
    """

    oil_l: float
    lye_l: float
    batch_l: float
    cooker_l: float
    filled: float
    full_enough: float
    largest_batch: float
    cautions: tuple[Caution, ...]


def lye_kg_l(strength: float) -> float:
    """The density of KOH lye near 25 degC, kg/L: 1 + 0.86 w + 0.33 w^2.

    Parameters
    ----------
    strength : w, mass fraction of alkali, 0 to 0.53. From memory of handbooks, within 2 %.

    >>> round(lye_kg_l(0.0), 2), round(lye_kg_l(0.3), 2), round(lye_kg_l(0.5), 2)
    (1.0, 1.29, 1.51)
    """
    return 1.0 + 0.86 * strength + 0.33 * strength**2


def cooker_fill(charge: Charge, cooker_l: float, full_enough: float = FULL_ENOUGH) -> VesselFill:
    """The fill of a cooker by this charge.

        V = (m_oil + m_glycerol 0.90 / 1.26) / 0.90 + m_lye / rho(w)

    Parameters
    ----------
    charge : the charge.
    cooker_l : the cooker's volume to the rim, L, 0.5 to 200.
    full_enough : the fraction to stay below, 0.3 to 0.9; two thirds is common practice, no source.

    Raises ValueError outside these ranges. Limits: volumes are taken as additive; densities from memory, within a few
    per cent.

    >>> from monitor.formulation.alkali import ChargeInputs, charge
    >>> from monitor.chemistry.oil_amounts import portion
    >>> plan = charge(ChargeInputs((portion("rapeseed", 600),), water_g=540))
    >>> round(cooker_fill(plan, 3.0).batch_l, 2)
    1.24
    """
    check_range("cooker_l", cooker_l, 0.5, 200.0, "L")
    check_range("full_enough", full_enough, 0.3, 0.9, FRACTION)
    oil_l = (charge.oil_g + charge.inputs.glycerol_g * OIL_KG_L / 1.26) / OIL_KG_L / 1000.0
    lye_l = (charge.koh_g + charge.naoh_g + charge.water_g) / lye_kg_l(charge.lye_strength) / 1000.0
    filled = (oil_l + lye_l) / cooker_l
    if filled > 1.0:
        words = f"It does not fit: {oil_l + lye_l:.1f} L into {cooker_l:g} L."
    elif filled > full_enough:
        words = (
            f"Too full: {filled:.0%} of the cooker, where {full_enough:.0%} leaves room to foam and to stir. Hot "
            f"caustic paste over the rim burns; make {full_enough / filled:.0%} of the batch, or take a larger cooker."
        )
    else:
        words = "Watch it all the same: paste can climb in the first half hour. Use the cooker as its maker says."
    return VesselFill(
        oil_l,
        lye_l,
        oil_l + lye_l,
        cooker_l,
        filled,
        full_enough,
        full_enough / filled,
        (Caution("filled", words),),
    )
