"""The stock in plain lines, for a person."""

from collections.abc import Sequence
from decimal import Decimal

from monitor.formulation import METRIC, UnitChoice
from monitor.model import local
from monitor.stock.batch_stock import BatchCost, to_cents
from monitor.stock.movements import BOTTLE, Movement
from monitor.stock.shelf import Allocation, Lot

AMOUNT = 12
# Exact: International yard and pound agreement (1959).
POUND_G = Decimal("453.59237")


def amount_text(amount: Decimal, kind: str, units: UnitChoice = METRIC) -> str:
    """An amount with its unit, as short as it may be."""
    if units.in_ounces and kind != BOTTLE:
        return units.mass_text(float(amount))
    plain = f"{amount.normalize():f}"
    return plain if kind == BOTTLE else f"{plain} g"


def shelf_lines(lots: Sequence[Lot], currency: str, units: UnitChoice = METRIC) -> list[str]:
    """A line for each lot: what is left, what it is, since when it is open, its certificate and price."""
    if not lots:
        return ["The shelf is empty; kettleside stock add puts something on it."]
    return [
        f"{amount_text(lot.left, lot.kind, units).rjust(AMOUNT)}  "
        f"{', '.join([lot_name(lot), *lot_facts(lot, currency, units)])}"
        for lot in lots
    ]


def lot_facts(lot: Lot, currency: str, units: UnitChoice = METRIC) -> list[str]:
    """A lot's number, since when it is open, its certificate and its price; those that are known."""
    facts = [f"lot {lot.lot}"] if lot.lot else []
    if lot.opened_at is not None:
        facts.append(f"open since {local(lot.opened_at):%Y-%m-%d}")
    return facts + _certificate(lot) + _price(lot, currency, units)


def lot_name(lot: Lot) -> str:
    """What a lot is one of."""
    return f"bottles of {lot.bottle_ml:f} mL" if lot.bottle_ml is not None else lot.name


def _certificate(lot: Lot) -> list[str]:
    values = []
    if lot.saponification_value is not None:
        values.append(f"saponification value {lot.saponification_value:f}")
    if lot.assay is not None:
        values.append(f"assay {lot.assay:.1%}")
    if lot.carbonate is not None:
        values.append(f"carbonate {lot.carbonate:.1%}")
    return values


def _price(lot: Lot, currency: str, units: UnitChoice) -> list[str]:
    per, unit = (POUND_G, "per lb") if units.in_ounces else (Decimal(1000), "per kg")
    if lot.kind == BOTTLE:
        per, unit = Decimal(1), "each"
    cost = lot.cost_of(per) if lot.bought else None
    return [] if cost is None else [f"{to_cents(cost)} {currency} {unit}"]


def draw_lines(allocations: Sequence[Allocation], currency: str, units: UnitChoice = METRIC) -> list[str]:
    """A line for each draw from a lot."""
    lines = []
    for one in allocations:
        for draw in one.draws:
            amount = amount_text(draw.amount, draw.lot.kind, units).rjust(AMOUNT)
            lot = f", lot {draw.lot.lot}" if draw.lot.lot else ""
            cost = "price not known" if draw.cost is None else f"{to_cents(draw.cost)} {currency}"
            lines.append(f"{amount}  {lot_name(draw.lot)}{lot}: {cost}")
    return lines


def returned_text(one: Movement) -> str:
    """What went back on the shelf."""
    amount = amount_text(one.amount or Decimal(0), one.kind)
    return f"{amount} bottles of {one.bottle_ml:f} mL" if one.bottle_ml is not None else f"{amount} of {one.name}"


def cost_lines(cost: BatchCost) -> list[str]:
    """What is short, and what a batch costs."""
    lines = [*cost.short]
    if cost.parts:
        least = "at least " if cost.unpriced else ""
        each = "" if cost.per_bottle is None else f", {cost.per_bottle} {cost.currency} a bottle"
        lines.append(f"Cost: {least}{cost.total} {cost.currency}{each}.")
    if cost.estimated:
        lines.append(f"Counted at the last price paid: {', '.join(cost.estimated)}.")
    if cost.unpriced:
        lines.append(f"Without a price: {', '.join(cost.unpriced)}.")
    return lines
