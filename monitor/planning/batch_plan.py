"""A planned batch at one look: what to weigh, what its oils are, how far it fills the pot, and what it gives."""

import math
from dataclasses import dataclass, replace

from monitor.chemistry import FRACTION, check_range
from monitor.formulation import (
    SOAP_KG_L,
    Bottles,
    Charge,
    Dilution,
    OilFacts,
    VesselFill,
    bottles,
    charge,
    charge_inputs,
    cooked_batch,
    cooker_fill,
    dilute,
    oil_facts,
)
from monitor.model import Batch
from monitor.planning.recipe import SPARE_SHARE, USUAL_WATER_PER_ALKALI, PlanError, same_oil

# Below this part of the pot neither blender nor probe is covered (judgement).
SHALLOW = 0.15
# Whole grams move a share by less than this.
SHARES_APART = 0.0025


@dataclass(frozen=True, slots=True)
class BatchPlan:
    """A planned batch.

    batch: as its sheet. shares: of each oil in all oils, mass fractions, in the sheet's order. fill: of the pot, None
    where no pot is told. dilution: the water for the strength in the bottle. bottles: None where no size is told;
    spare_share: the part of the product that is not counted on for them. words: sentences on all of it.
    """

    batch: Batch
    charge: Charge
    shares: tuple[tuple[str, float], ...]
    oils: OilFacts
    fill: VesselFill | None
    dilution: Dilution
    bottles: Bottles | None
    spare_share: float
    words: tuple[str, ...]


def with_usual_water(batch: Batch, water_per_alkali: float = USUAL_WATER_PER_ALKALI) -> Batch:
    """The batch with its water by the flakes: ``water_per_alkali`` grams to a gram, 0.5 to 20, to whole steps."""
    inputs = replace(charge_inputs(batch), water_g=None, water_per_alkali=water_per_alkali)
    steps = math.ceil(charge(inputs).water_g / batch.scale_grams - 1e-9)
    return replace(batch, water_grams=float(f"{steps * batch.scale_grams:.9g}"))


def plan_batch(
    batch: Batch,
    *,
    soap_share: float | None = None,
    bottle_ml: float | None = None,
    spare_share: float = SPARE_SHARE,
) -> BatchPlan:
    """The plan of a batch.

    Parameters
    ----------
    batch : as its sheet; weights already made are left out, because a plan is before them.
    soap_share : real soap in the bottle, mass fraction; the strength up to which this soap stays fluid where None.
    bottle_ml : what goes into one bottle, mL, 5 to 20 000.
    spare_share : part of the product that never reaches a bottle, 0 to 0.5.

    Raises PlanError for a batch that does not fit its cooker, ValueError for a figure outside its range.

    >>> from monitor.planning import oil_of
    >>> from monitor.model import Alkali
    >>> plan = plan_batch(Batch("x", (oil_of("rapeseed", 600),), Alkali("KOH", 0.9, 0.03), 540), bottle_ml=250)
    >>> round(plan.dilution.soap_share, 2), plan.bottles.full
    (0.26, 9)
    """
    check_range("spare_share", spare_share, 0.0, 0.5, FRACTION)
    if bottle_ml is not None:
        check_range("bottle_ml", bottle_ml, 5.0, 20_000.0, "mL")
    made = charge(charge_inputs(batch))
    portions = made.inputs.portions
    facts = oil_facts(portions)
    fill = None if batch.cooker_litres is None else fill_of(made, batch.cooker_litres)
    paste = cooked_batch(made)
    # A thin batch is weaker as it comes out of the cook than it may be in the bottle.
    fluid = min(math.floor(100.0 * facts.fluid_up_to) / 100.0, paste.soap_share)
    diluted = dilute(paste, portions, soap_share=fluid if soap_share is None else soap_share)
    filled = None if bottle_ml is None else bottles(diluted.product_g * (1.0 - spare_share), bottle_ml)
    if filled is not None and filled.full == 0:
        raise PlanError(
            f"it gives {filled.product_ml:.0f} mL of soap, which does not fill one bottle of {bottle_ml:g} mL", "bottle"
        )
    shares = tuple((each.name, each.grams / made.oil_g) for each in portions)
    return BatchPlan(
        batch, made, shares, facts, fill, diluted, filled, spare_share, _words(fill, diluted, facts.fluid_up_to)
    )


def fill_of(made: Charge, cooker_l: float) -> VesselFill:
    """The fill of the cooker. Raises PlanError where the batch goes over the rim, OutOfRangeError for a strange pot."""
    fill = cooker_fill(made, cooker_l)
    if fill.filled > 1.0:
        raise PlanError(
            f"it makes {fill.batch_l:.2f} L, and the pot holds {cooker_l:g} L to the rim, of which "
            f"{fill.full_enough * cooker_l:.2f} L leave room to foam and to stir",
            "pot",
        )
    return fill


def _words(fill: VesselFill | None, diluted: Dilution, fluid_up_to: float) -> tuple[str, ...]:
    words = []
    if fill is not None and fill.filled < SHALLOW:
        words.append(
            f"It fills only {fill.filled:.0%} of the pot: see that it covers the blender's head and the probe."
        )
    product_l = diluted.product_g / SOAP_KG_L / 1000.0
    if fill is not None and product_l > fill.cooker_l * fill.full_enough:
        words.append(
            f"The finished soap is {product_l:.1f} L, more than this pot takes: dilute in a larger vessel, or in parts."
        )
    if diluted.soap_share > fluid_up_to:
        words.append(f"Above about {fluid_up_to:.0%} real soap this one may set to a jelly or string when cold.")
    return tuple(words)


def batch_changes(before: Batch, after: Batch) -> tuple[str, ...]:
    """What a batch has otherwise than an earlier one, one sentence each; empty where nothing differs.

    Shares, alkali and water are compared for the same mass of oil, and the size once.

    >>> from monitor.planning import oil_of
    >>> from monitor.model import Alkali
    >>> one = Batch("x", (oil_of("olive", 500),), Alkali("KOH", 0.9, 0.03), 250)
    >>> batch_changes(one, replace(one, alkali=Alkali("KOH", 0.9, 0.05)))
    ('Excess +5 % instead of +3 %.',)
    """
    old, new = _figures(before), _figures(after)
    changes = _oil_changes(before, after)
    changes += [f"{name} {new[name]} instead of {old[name]}." for name in new if new[name] != old[name]]
    oil_before, oil_after = _oil_g(before), _oil_g(after)
    if abs(oil_after / oil_before - 1.0) > 0.005:
        changes.append(
            f"{oil_after / oil_before:.3g} times as large: {oil_after:.0f} g of oil, was {oil_before:.0f} g."
        )
    return tuple(changes)


def _figures(batch: Batch) -> dict[str, str]:
    """What is compared, as a person reads it."""
    alkali, oil_g = batch.alkali, _oil_g(batch)
    portions = charge_inputs(batch).portions
    facts = oil_facts(portions)
    return {
        "Excess": f"{alkali.excess * 100:+z.3g} %",
        "KOH in the flakes": f"{alkali.assay * 100:.4g} %",
        "Carbonate in the flakes": f"{alkali.carbonate * 100:.3g} %",
        "The part that NaOH meets": f"{alkali.naoh_share * 100:.3g} %",
        "Water to a gram of oil": f"{batch.water_grams / oil_g:.2f} g",
        "Glycerol to a gram of oil": f"{batch.glycerol_grams / oil_g:.2f} g",
        "Need of pure KOH for 100 g of oil": f"{sum(each.need_koh_g for each in portions) / oil_g * 100:.1f} g",
        "Iodine value": "not known" if facts.iodine is None else f"{facts.iodine.typical:.0f}",
        "Fluid when cold up to": f"{facts.fluid_up_to:.0%} real soap",
    }


def _oil_changes(before: Batch, after: Batch) -> list[str]:
    sentences = []
    for oil in after.oils:
        share = oil.grams / _oil_g(after)
        was = next((each.grams / _oil_g(before) for each in before.oils if same_oil(each.name, oil.name)), None)
        if was is None:
            sentences.append(f"{oil.name.capitalize()} is new, {share:.1%} of the oils.")
        elif abs(share - was) > SHARES_APART:
            sentences.append(f"{oil.name.capitalize()} {share:.1%} of the oils instead of {was:.1%}.")
    gone = [each for each in before.oils if not any(same_oil(each.name, oil.name) for oil in after.oils)]
    return sentences + [
        f"{each.name.capitalize()} is left out; it was {each.grams / _oil_g(before):.1%}." for each in gone
    ]


def _oil_g(batch: Batch) -> float:
    return sum(oil.grams for oil in batch.oils)
