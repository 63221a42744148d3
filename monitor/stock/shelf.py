"""What is on the shelf by its movements: lots with what is left of them, and which of them a batch draws from."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import TypeAlias

from monitor.stock.movements import (
    BOTTLE,
    BOUGHT,
    COUNTED,
    DISCARDED,
    OPENED,
    RETURNED,
    TAKEN,
    Movement,
    StockError,
    checked,
    item_name,
    standing,
)

# Kind, name by the tables, and the size of a bottle in mL.
ItemKey: TypeAlias = tuple[str, str, Decimal | None]
NONE = Decimal(0)


@dataclass(frozen=True, slots=True)
class Lot:
    """One lot on the shelf. amounts in g, or pieces of bottles. times: Unix seconds.

    name: as it was bought. lot: its number, empty where none was told. bought, left: amounts. price: paid for what was
    bought, None where not told. saponification_value (mg KOH per g), assay, carbonate (mass fractions): of its
    certificate. bought_at, opened_at: when; opened_at None while it is closed.
    """

    kind: str
    name: str
    lot: str
    bought: Decimal
    left: Decimal
    bought_at: float
    price: Decimal | None = None
    saponification_value: Decimal | None = None
    assay: Decimal | None = None
    carbonate: Decimal | None = None
    bottle_ml: Decimal | None = None
    opened_at: float | None = None

    @property
    def key(self) -> ItemKey:
        """What the lot is one of."""
        return self.kind, item_name(self.kind, self.name), self.bottle_ml

    @property
    def unit(self) -> str:
        """The unit of its amounts."""
        return "pieces" if self.kind == BOTTLE else "g"

    def cost_of(self, amount: Decimal) -> Decimal | None:
        """What an amount of it cost, exact; None where no price was told."""
        return None if self.price is None else self.price * amount / self.bought


@dataclass(frozen=True, slots=True)
class Shelf:
    """All lots, in the order in which they were bought, and the one currency of their prices (empty without any)."""

    lots: tuple[Lot, ...] = ()
    currency: str = ""

    def of(self, key: ItemKey) -> list[Lot]:
        """The lots of a thing with something left, in the order in which they are used: opened ones, then old ones."""
        found = [lot for lot in self.lots if lot.key == key and lot.left > 0]
        return sorted(found, key=lambda lot: (lot.opened_at is None, lot.opened_at or 0.0, lot.bought_at))

    def has_known(self, key: ItemKey) -> bool:
        """Whether the thing was ever on this shelf."""
        return any(lot.key == key for lot in self.lots)


def shelf_from(movements: Sequence[Movement]) -> Shelf:
    """The shelf after these movements, in the order in which they were logged.

    A lot that is bought again grows, and its price with it. What is taken beyond what a lot has leaves nothing; what
    is moved of a lot that was never bought counts as such a lot of unknown price.
    Raises StockError where prices are in two currencies.
    """
    lots: dict[tuple[ItemKey, str], Lot] = {}
    currency = ""
    for one in standing(movements):
        if one.currency:
            check_currency(currency, one.currency)
            currency = one.currency
        key = (one.kind, item_name(one.kind, one.name), one.bottle_ml), one.lot.casefold()
        lots[key] = _moved(lots.get(key), one)
    return Shelf(tuple(lots.values()), currency)


def lot_movement(lot: Lot, movement: str, amount: Decimal | None, *, uid: str, now: float, note: str = "") -> Movement:
    """A movement of a lot that is on the shelf. now: Unix seconds. Raises StockError for more than the lot has."""
    if movement == DISCARDED and amount is not None and amount > lot.left:
        raise StockError(f"there are {lot.left:f} {lot.unit} of {lot.name}, less than {amount:f}")
    one = Movement(uid, now, movement, lot.kind, lot.name, lot.lot, amount, bottle_ml=lot.bottle_ml, note=note)
    return checked(one)


def check_currency(kept: str, other: str) -> None:
    """Raises StockError where a price is in another currency than those before; empty counts as none."""
    if kept and other and kept != other:
        raise StockError(f"a price is in {other}, and this stock counts in {kept}; say what it is in {kept}")


def _moved(lot: Lot | None, one: Movement) -> Lot:
    """A lot after one movement; None stands for a lot that was never heard of."""
    if lot is None:
        lot = Lot(one.kind, one.name, one.lot, NONE, NONE, one.time, bottle_ml=one.bottle_ml)
    amount = one.amount or NONE
    if one.movement == BOUGHT:
        return _bought(lot, one, amount)
    if one.movement == OPENED:
        return replace(lot, opened_at=one.time if lot.opened_at is None else lot.opened_at)
    if one.movement == RETURNED:
        return replace(lot, left=lot.left + amount)
    if one.movement == COUNTED:
        return replace(lot, left=amount)
    assert one.movement in (TAKEN, DISCARDED)
    return replace(lot, left=max(lot.left - amount, NONE))


def _bought(lot: Lot, one: Movement, amount: Decimal) -> Lot:
    # A second purchase without a price leaves the price of all of it unknown.
    price = one.price if lot.bought == 0 else None if lot.price is None or one.price is None else lot.price + one.price
    return replace(
        lot,
        bought=lot.bought + amount,
        left=lot.left + amount,
        price=price,
        saponification_value=lot.saponification_value if one.saponification_value is None else one.saponification_value,
        assay=lot.assay if one.assay is None else one.assay,
        carbonate=lot.carbonate if one.carbonate is None else one.carbonate,
    )


@dataclass(frozen=True, slots=True)
class Need:
    """Something that a batch takes. amount: g, or pieces of bottles. words: what it is called when it is short.

    if_kept: whether it counts only where the shelf has ever had it, such as water from the tap.
    """

    kind: str
    name: str
    amount: Decimal
    bottle_ml: Decimal | None = None
    if_kept: bool = False

    @property
    def key(self) -> ItemKey:
        """What is needed."""
        return self.kind, item_name(self.kind, self.name), self.bottle_ml

    @property
    def words(self) -> str:
        """What it is called."""
        return f"bottles of {self.bottle_ml:f} mL" if self.bottle_ml is not None else self.name


@dataclass(frozen=True, slots=True)
class Draw:
    """An amount out of one lot. cost: exact, None where the lot has no price."""

    lot: Lot
    amount: Decimal
    cost: Decimal | None


@dataclass(frozen=True, slots=True)
class Allocation:
    """How a need is met. draws: from which lots. short: what the shelf lacks, g or pieces."""

    need: Need
    draws: tuple[Draw, ...]
    short: Decimal


def allocate(shelf: Shelf, needs: Sequence[Need]) -> tuple[Allocation, ...]:
    """Draws each need from the shelf, opened lots first, then the oldest. Two needs of one thing share its lots."""
    left = {id(lot): lot.left for lot in shelf.lots}
    found = []
    for need in needs:
        if need.if_kept and not shelf.has_known(need.key):
            continue
        wanted, draws = need.amount, []
        for lot in shelf.of(need.key):
            amount = min(wanted, left[id(lot)])
            if amount > 0:
                draws.append(Draw(lot, amount, lot.cost_of(amount)))
                left[id(lot)] -= amount
                wanted -= amount
        found.append(Allocation(need, tuple(draws), wanted))
    return tuple(found)


def shortages(allocations: Iterable[Allocation]) -> tuple[str, ...]:
    """A sentence for each need that the shelf does not meet."""
    sentences = []
    for one in allocations:
        if one.short > 0:
            there = one.need.amount - one.short
            unit = "" if one.need.kind == BOTTLE else " g"
            on_shelf = f"{there.normalize():f}{unit}" if there else "none"
            wanted = f"{one.need.amount.normalize():f}{unit}"
            sentences.append(f"Short of {one.need.words}: {wanted} wanted, {on_shelf} on the shelf.")
    return tuple(sentences)
