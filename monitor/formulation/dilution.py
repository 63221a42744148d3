"""Dilution: the water for a target strength, given both as real soap and as paste in the product."""

from dataclasses import dataclass

from monitor.chemistry import FRACTION, Portion, check_range
from monitor.formulation.cautions import BOILING_WATER, PRESERVATIVE, Caution
from monitor.formulation.fluidity import fluid_up_to
from monitor.formulation.hard_water import lime_soap_g
from monitor.formulation.mass_balance import MassBalance

WEAKEST_SHARE = 0.02
MUCH_SODIUM = 0.1
CAUTIONS = (
    Caution("water_g", BOILING_WATER),
    Caution("water_g", "Add about two thirds hot and let it stand, lid on; keep the rest for lumps."),
    Caution("product_g", PRESERVATIVE),
)


@dataclass(frozen=True, slots=True)
class Dilution:
    """The water to add and the product it gives. Shares are mass fractions of the product.

    water_g: to add, g. pot: the contents after adding it. fluid_up_to: the strength, as real soap, up to which such a
    soap usually stays fluid when cold; ``fluid_words`` states the basis.
    """

    water_g: float
    product_g: float
    soap_share: float
    paste_share: float
    pot: MassBalance
    fluid_up_to: float
    fluid_words: str
    meaning: tuple[str, ...]
    cautions: tuple[Caution, ...]


def dilute(
    pot: MassBalance,
    portions: tuple[Portion, ...],
    *,
    soap_share: float | None = None,
    paste_share: float | None = None,
    water_g: float | None = None,
) -> Dilution:
    """The water for a target strength, or the strength that an amount of water gives.

        m_water = m_soap / w_soap - m_pot

    Parameters
    ----------
    pot : the contents before dilution.
    portions : the oils, for the strength up to which their soap stays fluid.
    soap_share : real soap in the product, mass fraction, 0.02 to its share now.
    paste_share : paste in the product, mass fraction, 0.02 to its share now.
    water_g : water to add, g, 0 to 1e6. Exactly one of the three is given.

    Raises ValueError for a target above the present strength, which would need water taken out.

    >>> from monitor.formulation.alkali import ChargeInputs, charge
    >>> from monitor.formulation.mass_balance import cooked_batch
    >>> from monitor.chemistry.oil_amounts import portion
    >>> plan = charge(ChargeInputs((portion("rapeseed", 600),), water_g=540))
    >>> product = dilute(cooked_batch(plan, paste_weighed_g=1200), plan.inputs.portions, soap_share=0.2)
    >>> round(product.water_g), round(product.product_g)
    (2026, 3226)
    """
    water_g = _water_g(pot, soap_share, paste_share, water_g)
    product = pot.with_water(water_g)
    limit, basis = fluid_up_to(portions)
    return Dilution(
        water_g,
        product.total_g,
        product.soap_share,
        product.paste_share,
        product,
        limit,
        basis,
        _meaning(product, limit, water_g),
        CAUTIONS,
    )


def _water_g(pot: MassBalance, soap_share: float | None, paste_share: float | None, water_g: float | None) -> float:
    """The water to add, g, for the one target that is given."""
    if [soap_share, paste_share, water_g].count(None) != 2:
        raise ValueError("a dilution is told in exactly one way: soap_share, paste_share or water_g")
    if soap_share is not None:
        check_range("soap_share", soap_share, WEAKEST_SHARE, pot.soap_share, FRACTION)
        water_g = pot.soap_g / soap_share - pot.total_g
    if paste_share is not None:
        check_range("paste_share", paste_share, WEAKEST_SHARE, pot.paste_share, FRACTION)
        water_g = pot.paste_g / paste_share - pot.total_g
    assert water_g is not None
    # For a target that the pot already meets, rounding may give slightly less than 0.
    return max(water_g, 0.0) if water_g > -1e-6 else water_g


def _meaning(pot: MassBalance, limit: float, water_g: float) -> tuple[str, ...]:
    sentences = [
        f"{pot.soap_share:.1%} real soap, which is {pot.paste_share:.0%} paste in the product.",
        "If lumps or a skin stay after a few hours hot, add a little more water, log it, and these figures follow.",
    ]
    if water_g > 0.0:
        lost_g = lime_soap_g(water_g, 1.0, pot.soap_g / pot.soap_mol)
        sentences.append(
            f"Distilled water: each German degree of hardness in it would bind {lost_g:.2g} g of soap as haze for good."
        )
    if pot.sodium_share > MUCH_SODIUM:
        sentences.append("With so much NaOH beside the KOH it sets sooner than that (common practice, no source).")
    if pot.soap_share > limit:
        sentences.append(f"Above about {limit:.0%} real soap this one may set to a jelly or string when cold.")
    return tuple(sentences)
