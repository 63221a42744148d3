"""A recipe as a batch: oils by shares or grams, made larger or smaller to fit a pot, a number of bottles or an oil."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

from monitor.chemistry import FRACTION, check_range, find_oil
from monitor.formulation import FULL_ENOUGH, SOAP_KG_L, charge_of, cooked_batch, cooker_fill
from monitor.model import Batch, Oil
from monitor.runtime import MonitorError

# Grams of water to a gram of flakes where nobody says: common practice, no source.
USUAL_WATER_PER_ALKALI = 3.0
# Part of the product that clarity samples, jars and what clings to the pot take (judgement).
SPARE_SHARE = 0.03
# Shares typed to a tenth of a per cent may miss the whole by this.
SHARES_WITHIN = 0.0015

Rounding: TypeAlias = Callable[[float], float]


class PlanError(MonitorError):
    """A batch or a day cannot be planned so. why: one clause, what is wrong and what would do.

    about: what has to change: "oils", "oil at hand", "pot", "bottle" or "time"; empty where it is none of them.
    """

    exit_status = 2

    def __init__(self, why: str, about: str = "") -> None:
        self.why = why
        self.about = about
        super().__init__(f"It cannot be planned so: {why}.")


@dataclass(frozen=True, slots=True)
class OilShare:
    """An oil by its part of all oils, a mass fraction. saponification_value: of its certificate, mg KOH per g."""

    name: str
    share: float
    saponification_value: float | None = None


def oil_of(name: str, grams: float, saponification_value: float | None = None) -> Oil:
    """An oil of a batch, with the table's typical saponification value where no certificate gives one (mg KOH per g).

    Raises PlanError for a name that the table lacks, naming the nearest.

    >>> oil_of("rapeseed", 600).saponification_value
    188.6
    """
    if saponification_value is not None:
        return Oil(name, grams, saponification_value, certified=True)
    try:
        return Oil(name, grams, find_oil(name).saponification_typical)
    except ValueError as error:
        raise PlanError(str(error)) from None


def oils_by_share(shares: Sequence[OilShare], oil_g: float) -> tuple[Oil, ...]:
    """The oils of a batch of ``oil_g`` grams of oil in all.

    Raises PlanError where the shares do not add up to one, OutOfRangeError for a share outside 0 to 1.

    >>> [oil.grams for oil in oils_by_share((OilShare("olive", 0.7), OilShare("coconut", 0.3)), 1000)]
    [700.0, 300.0]
    """
    check_range("oil_g", oil_g, 0.1, 100_000.0, "g")
    for each in shares:
        check_range(each.name, each.share, 0.0, 1.0, FRACTION)
    total = sum(each.share for each in shares)
    if abs(total - 1.0) > SHARES_WITHIN:
        gap = 100.0 * (1.0 - total)
        words = f"{gap:.4g} % is missing" if gap > 0 else f"that is {-gap:.4g} % too much"
        raise PlanError(f"the shares of the oils add up to {total * 100:.4g} %; {words}", "oils")
    return tuple(
        oil_of(each.name, each.share / total * oil_g, each.saponification_value) for each in shares if each.share > 0
    )


def fresh_sheet(batch: Batch) -> Batch:
    """A past batch as the plan of a next one: without its date, its lots and what was weighed."""
    alkali = replace(batch.alkali, grams=None, naoh_grams=None, lot="")
    return replace(batch, started=None, lot="", alkali=alkali, oils=tuple(replace(oil, lot="") for oil in batch.oils))


def scaled(batch: Batch, factor: float, rounding: Rounding = round) -> Batch:
    """The batch with every mass multiplied by ``factor``, in whole steps of its scale.

    What was weighed is left out: it was of the other size. rounding: of a count of steps.
    Raises PlanError where an oil would fall below one step of the scale.

    >>> from monitor.model import Alkali
    >>> small = scaled(Batch("x", (oil_of("olive", 500),), Alkali("KOH", 0.9, 0.03), 250), 0.5)
    >>> small.oils[0].grams, small.water_grams
    (250.0, 125.0)
    """
    step = batch.scale_grams

    def sized(grams: float) -> float:
        # A factor that was worked out may miss a whole step by what binary fractions add.
        return float(f"{rounding(float(f'{grams * factor / step:.9g}')) * step:.9g}")

    oils = tuple(replace(oil, grams=sized(oil.grams)) for oil in batch.oils)
    for old, new in zip(batch.oils, oils, strict=True):
        if new.grams < step:
            raise PlanError(
                f"{old.name} would be {old.grams * factor:.2g} g, and the scale shows steps of {step:g} g", "oils"
            )
    alkali = replace(batch.alkali, grams=None, naoh_grams=None)
    water_g, glycerol_g = sized(batch.water_grams), sized(batch.glycerol_grams)
    return replace(batch, oils=oils, alkali=alkali, water_grams=water_g, glycerol_grams=glycerol_g)


def scaled_to_pot(batch: Batch, cooker_l: float, full_enough: float = FULL_ENOUGH) -> Batch:
    """The largest batch that a cooker takes with room to stir and to foam.

    cooker_l: volume to the rim, L. full_enough: the part to fill, 0.3 to 0.9 (``cooker_fill``).
    Raises PlanError, and OutOfRangeError for a pot or a part outside its range.
    """
    fill = cooker_fill(charge_of(scaled(batch, 1.0)), cooker_l, full_enough)
    return replace(scaled(batch, fill.largest_batch, math.floor), cooker_litres=cooker_l)


def scaled_to_bottles(
    batch: Batch, count: float, bottle_ml: float, soap_share: float, spare_share: float = SPARE_SHARE
) -> Batch:
    """The batch that fills this many bottles.

        factor = n V rho w / ((1 - s) m_soap)

    count: bottles, 1 to 10 000. bottle_ml: of one, mL, 5 to 20 000. soap_share: real soap in them, mass fraction.
    spare_share: s, the part of the product that never reaches a bottle, 0 to 0.5.
    Raises PlanError, and OutOfRangeError outside these ranges.
    """
    check_range("bottles", count, 1.0, 10_000.0)
    check_range("bottle_ml", bottle_ml, 5.0, 20_000.0, "mL")
    check_range("spare_share", spare_share, 0.0, 0.5, FRACTION)
    paste = cooked_batch(charge_of(scaled(batch, 1.0)))
    check_range("soap_share", soap_share, 0.02, paste.soap_share, FRACTION, "")
    wanted_g = count * bottle_ml * SOAP_KG_L * soap_share / (1.0 - spare_share)
    return scaled(batch, wanted_g / paste.soap_g, math.ceil)


def scaled_to_oil(batch: Batch, name: str, grams: float) -> Batch:
    """The batch that uses up an oil at hand. grams: of that oil, 0.1 to 100 000.

    Raises PlanError for an oil that the batch has none of, OutOfRangeError for an amount outside its range.
    """
    check_range(name, grams, 0.1, 100_000.0, "g")
    found = next((oil for oil in batch.oils if same_oil(oil.name, name)), None)
    if found is None:
        there = ", ".join(oil.name for oil in batch.oils)
        raise PlanError(f"there is no {name} in this batch; there are: {there}", "oil at hand")
    return scaled(batch, grams / found.grams, math.floor)


def same_oil(one: str, other: str) -> bool:
    """Whether two names mean one oil, by the table where it has them.

    >>> same_oil("rapeseed", "Canola oil"), same_oil("olive", "coconut"), same_oil("my own", "My own")
    (True, False, True)
    """
    if one.casefold() == other.casefold():
        return True
    try:
        return find_oil(one) == find_oil(other)
    except ValueError:
        return False
