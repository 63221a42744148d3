"""A batch and the shelf: what it needs, whose certificates it takes over, and what it costs."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal

from monitor.chemistry import KOH_FLAKES, NAOH_FLAKES, as_weighed
from monitor.formulation import Charge, charge_of
from monitor.model import Batch, Event, Oil
from monitor.stock.movements import ALKALI, BOTTLE, OIL, OTHER, REAGENT
from monitor.stock.shelf import Allocation, Need, Shelf, allocate, shortages

DISTILLED_WATER = "distilled water"
GLYCEROL = "glycerol"
CENT = Decimal("0.01")
# By these the alkali is with the oils.
ALKALI_IN = ("lye in", "thick trace", "lid on")
# The longest lot text of a batch sheet.
LONGEST_LOT = 60


def amount_of(grams: float) -> Decimal:
    """Grams as an amount of the stock, to a tenth of a gram."""
    return Decimal(f"{grams:.1f}")


def charge_needs(
    made: Charge, *, dilution_water_g: float = 0.0, bottles: tuple[int, float] | None = None
) -> list[Need]:
    """What a charge takes from the shelf.

    dilution_water_g: water after the cook, g. bottles: how many, and the mL of one. Water and glycerol count only where
    the shelf has them.
    """
    needs = [Need(OIL, each.name, amount_of(each.grams)) for each in made.inputs.portions]
    needs += [
        Need(ALKALI, name, amount_of(grams))
        for name, grams in ((KOH_FLAKES, made.koh_g), (NAOH_FLAKES, made.naoh_g))
        if grams > 0
    ]
    others = ((DISTILLED_WATER, made.water_g + dilution_water_g), (GLYCEROL, made.inputs.glycerol_g))
    needs += [Need(OTHER, name, amount_of(grams), if_kept=True) for name, grams in others if amount_of(grams) > 0]
    if bottles is not None and bottles[0] > 0:
        count, bottle_ml = bottles
        needs.append(Need(BOTTLE, "bottle", Decimal(count), Decimal(f"{bottle_ml:g}")))
    return needs


def event_needs(events: Sequence[Event]) -> list[Need]:
    """What the log of a cook says was added and filled after the charge."""
    needs: list[Need] = []
    for event in events:
        grams = event.fields.get("grams")
        amount = amount_of(grams) if isinstance(grams, float) else Decimal(0)
        if event.kind == "neutraliser added" and amount > 0:
            needs.append(Need(REAGENT, str(event.fields["reagent"]), amount))
        elif event.kind == "added" and amount > 0:
            needs.append(Need(OTHER, str(event.fields["what"]), amount, if_kept=True))
        elif event.kind == "water added" and amount > 0:
            needs.append(Need(OTHER, DISTILLED_WATER, amount, if_kept=True))
        elif event.kind == "bottled":
            count, bottle_ml = event.fields["bottles"], event.fields["bottle_ml"]
            if isinstance(count, float) and isinstance(bottle_ml, float) and count >= 1:
                pieces = Decimal(count).to_integral_value(ROUND_CEILING)
                needs.append(Need(BOTTLE, "bottle", pieces, Decimal(f"{bottle_ml:g}")))
    return needs


def cook_needs(
    sheet: Batch, events: Sequence[Event], bottles: tuple[int, float] | None = None
) -> tuple[list[Need], int]:
    """What a cook takes by its sheet and its log, and how many bottles it fills.

    bottles: how many, and the mL of one, where the log says none. Raises ValueError for a sheet without oils.
    """
    logged = event_needs(events)
    filled = sum(int(need.amount) for need in logged if need.kind == BOTTLE)
    needs = charge_needs(charge_of(as_weighed(sheet, events)), bottles=None if filled else bottles)
    return [*needs, *logged], filled or (bottles[0] if bottles else 0)


def certified_sheet(sheet: Batch, events: Sequence[Event], shelf: Shelf) -> tuple[Batch, tuple[str, ...]]:
    """The sheet of a cook as it was weighed, with lots and certificates of what it draws; and what that changed.

    Once the alkali is in the oils another assay changes the excess and no longer the mass.
    """
    weighed = as_weighed(sheet, events)
    if weighed.alkali.grams is None and any(event.kind in ALKALI_IN for event in events):
        made = charge_of(weighed)
        naoh_g = made.naoh_g if made.naoh_g > 0 else weighed.alkali.naoh_grams
        weighed = replace(weighed, alkali=replace(weighed.alkali, grams=round(made.koh_g, 1), naoh_grams=naoh_g))
    return with_certificates(weighed, shelf)


def with_certificates(batch: Batch, shelf: Shelf) -> tuple[Batch, tuple[str, ...]]:
    """The batch with the lots that it will draw from, and the values of their certificates; and what that changed.

    An oil that comes out of several lots takes the mean of their values by mass, where each has one. The alkali is
    worked out anew, because another assay asks for another mass, which may reach another lot.
    """
    sentences: list[str] = []
    oils = tuple(_certified_oil(oil, shelf, sentences) for oil in batch.oils)
    batch = replace(batch, oils=oils)
    changed: dict[str, str] = {}
    # The mass follows the assay and the lots follow the mass; the second time nothing moves any more.
    for _ in range(3):
        batch = _certified_alkali(batch, shelf, changed)
    return batch, (*sentences, *changed.values())


def _certified_oil(oil: Oil, shelf: Shelf, sentences: list[str]) -> Oil:
    (found,) = allocate(shelf, [Need(OIL, oil.name, amount_of(oil.grams))])
    if not found.draws or found.short > 0:
        return oil
    value = _mean(found, "saponification_value")
    lots = _lots(found)
    if value is not None:
        name = oil.name.capitalize() + (lots and f" of lot {lots}")
        certified = replace(oil, saponification_value=float(f"{value:.5g}"), certified=True, lot=lots)
        if certified != oil:
            sentences.append(
                f"{name}: saponification value {value:.1f} of its certificate, was {oil.saponification_value:.1f}."
            )
        return certified
    return replace(oil, lot=lots)


def _certified_alkali(batch: Batch, shelf: Shelf, changed: dict[str, str]) -> Batch:
    made = charge_of(batch)
    alkali = batch.alkali
    for name, grams, field in ((KOH_FLAKES, made.koh_g, "assay"), (NAOH_FLAKES, made.naoh_g, "naoh_assay")):
        if grams <= 0:
            continue
        (found,) = allocate(shelf, [Need(ALKALI, name, amount_of(grams))])
        value = None if not found.draws or found.short > 0 else _mean(found, "assay")
        if value is None:
            continue
        old, lots = getattr(alkali, field), _lots(found)
        if name == KOH_FLAKES:
            carbonate = _mean(found, "carbonate")
            alkali = replace(
                alkali,
                assay=float(value),
                carbonate=alkali.carbonate if carbonate is None else float(carbonate),
                lot=lots,
            )
        else:
            alkali = replace(alkali, naoh_assay=float(value))
        if abs(old - float(value)) > 1e-9:
            of_lot = lots and f" of lot {lots}"
            changed[name] = f"{name.capitalize()}{of_lot}: assay {value:.1%} of its certificate, was {old:.1%}."
    return replace(batch, alkali=alkali)


def _mean(found: Allocation, field: str) -> Decimal | None:
    """The mean of a certificate's value by mass; None where a lot has none."""
    values = [(getattr(draw.lot, field), draw.amount) for draw in found.draws]
    if any(value is None for value, _ in values):
        return None
    mean: Decimal = sum((value * amount for value, amount in values), Decimal(0)) / sum(amount for _, amount in values)
    return mean


def _lots(found: Allocation) -> str:
    return " + ".join(draw.lot.lot for draw in found.draws if draw.lot.lot)[:LONGEST_LOT]


@dataclass(frozen=True, slots=True)
class BatchCost:
    """What a batch costs, exact decimals in ``currency``; ``total`` and ``per_bottle`` to the cent.

    parts: cost by what was needed. per_bottle: None where no bottle is filled. estimated: what is short and was counted
    at its last price. unpriced: what has no price, so that the batch costs more than that. short: sentences on what the
    shelf lacks.
    """

    currency: str
    parts: tuple[tuple[str, Decimal], ...]
    total: Decimal
    per_bottle: Decimal | None
    estimated: tuple[str, ...]
    unpriced: tuple[str, ...]
    short: tuple[str, ...]


def batch_cost(shelf: Shelf, allocations: Sequence[Allocation], bottles: int = 0) -> BatchCost:
    """What these draws cost, the whole and a bottle of it. bottles: how many are filled."""
    parts: list[tuple[str, Decimal]] = []
    estimated, unpriced = [], []
    for one in allocations:
        costs = [draw.cost for draw in one.draws]
        if one.short > 0:
            missing = _at_last_price(shelf, one)
            costs.append(missing)
            estimated += [one.need.words] if missing is not None else []
        known = [cost for cost in costs if cost is not None]
        if len(known) < len(costs):
            unpriced.append(one.need.words)
        if known:
            parts.append((one.need.words, sum(known, Decimal(0))))
    total = sum((cost for _, cost in parts), Decimal(0))
    return BatchCost(
        shelf.currency,
        tuple(parts),
        to_cents(total),
        to_cents(total / bottles) if bottles > 0 else None,
        tuple(estimated),
        tuple(unpriced),
        shortages(allocations),
    )


def _at_last_price(shelf: Shelf, one: Allocation) -> Decimal | None:
    priced = [lot for lot in shelf.lots if lot.key == one.need.key and lot.price is not None]
    return priced[-1].cost_of(one.short) if priced else None


def to_cents(money: Decimal) -> Decimal:
    """Money to the hundredth, halves up, as tills round.

    >>> to_cents(Decimal("1.005")), to_cents(Decimal(2))
    (Decimal('1.01'), Decimal('2.00'))
    """
    return money.quantize(CENT, ROUND_HALF_UP)
