"""The movements of a stock: what was bought, opened, taken, counted and thrown away, one row of a CSV file each."""

import csv
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from datetime import UTC, datetime
from decimal import Decimal, InvalidOperation
from difflib import get_close_matches

from monitor.chemistry import KOH_FLAKES, NAOH_FLAKES, find_oil
from monitor.formulation import find_neutraliser
from monitor.runtime import MonitorError

# What a kind of movement is, and what it says of an amount.
BOUGHT, OPENED, TAKEN, RETURNED, COUNTED, DISCARDED = "bought", "opened", "taken", "returned", "counted", "discarded"
# Of an entry that was a mistake; its note is that entry's id.
WITHDRAWN = "withdrawn"
MOVEMENTS = (BOUGHT, OPENED, TAKEN, RETURNED, COUNTED, DISCARDED, WITHDRAWN)
OIL, ALKALI, REAGENT, BOTTLE, OTHER = "oil", "alkali", "reagent", "bottle", "other"
KINDS = (OIL, ALKALI, REAGENT, BOTTLE, OTHER)
ALKALI_NAMES = {"koh": KOH_FLAKES, KOH_FLAKES: KOH_FLAKES, "naoh": NAOH_FLAKES, NAOH_FLAKES: NAOH_FLAKES}
# Amounts to the milligram and money to a ten-thousandth are finer than any scale or price of a kitchen.
AMOUNT_PLACES, PRICE_PLACES = 3, 4
MOST_AMOUNT, MOST_PRICE = Decimal(10_000_000), Decimal(10_000_000)
LONGEST = 120
_CURRENCY = re.compile(r"[A-Z]{3}")
_NUMBER = re.compile(r"\d{1,12}(\.\d{1,9})?")
_ID = re.compile(r"[A-Za-z0-9_-]{1,80}")


class StockError(MonitorError):
    """Something about the stock cannot be. why: one clause, what is wrong and what would do."""

    exit_status = 2

    def __init__(self, why: str) -> None:
        self.why = why
        super().__init__(f"The stock: {why}.")


@dataclass(frozen=True, slots=True)
class Movement:
    """One row. A field that does not apply is empty or None.

    id: the row's own, so that the same row counts once however often it arrives. time: Unix seconds. movement: one of
    MOVEMENTS. kind: of the thing, one of KINDS. name, lot: of the thing. amount: g, or pieces of bottles; of a count
    what is there now. price: paid for all of the amount, in ``currency`` (ISO 4217). saponification_value: mg KOH per
    g; assay, carbonate: mass fractions; all three from the lot's certificate. bottle_ml: what goes into one bottle.
    batch: what it was taken for. note: a person's own words.
    """

    id: str
    time: float
    movement: str
    kind: str
    name: str
    lot: str = ""
    amount: Decimal | None = None
    price: Decimal | None = None
    currency: str = ""
    saponification_value: Decimal | None = None
    assay: Decimal | None = None
    carbonate: Decimal | None = None
    bottle_ml: Decimal | None = None
    batch: str = ""
    note: str = ""

    @property
    def unit(self) -> str:
        """The unit of the amount."""
        return "pieces" if self.kind == BOTTLE else "g"


# The file's columns. The unit is written for whoever opens the file in a spreadsheet, and follows from the kind.
COLUMNS = (
    *("id", "time", "movement", "kind", "name", "lot", "amount", "unit", "price", "currency"),
    *("saponification_value", "assay", "carbonate", "bottle_ml", "batch", "note"),
)
_NUMBERS = ("amount", "price", "saponification_value", "assay", "carbonate", "bottle_ml")
# Column -> from, to, decimals.
_LIMITS: Mapping[str, tuple[Decimal, Decimal, int]] = {
    "amount": (Decimal(0), MOST_AMOUNT, AMOUNT_PLACES),
    "price": (Decimal(0), MOST_PRICE, PRICE_PLACES),
    "saponification_value": (Decimal(50), Decimal(400), 3),
    "assay": (Decimal("0.5"), Decimal(1), 6),
    "carbonate": (Decimal(0), Decimal("0.2"), 6),
    "bottle_ml": (Decimal(5), Decimal(20_000), 3),
}


def item_name(kind: str, name: str) -> str:
    """The name by which a thing is counted, whatever it is called: that of the tables where they have it.

    >>> item_name("alkali", "KOH"), item_name("oil", "Rapeseed oil") == item_name("oil", "canola")
    ('potassium hydroxide', True)
    """
    folded = " ".join(name.casefold().split())
    if kind == ALKALI:
        return ALKALI_NAMES.get(folded, folded)
    try:
        if kind == OIL:
            return find_oil(name).name
        if kind == REAGENT:
            return find_neutraliser(name).name
    except ValueError:
        pass
    return folded


def number(text: str, column: str) -> Decimal:
    """A number of a column as it was typed, exact. Raises StockError.

    >>> number("12.50", "price")
    Decimal('12.50')
    """
    low, high, places = _LIMITS[column]
    words = "bottle's size in mL" if column == "bottle_ml" else column.replace("_", " ")
    typed = text.strip()
    try:
        value = Decimal(typed) if _NUMBER.fullmatch(typed) else None
    except InvalidOperation:
        value = None
    if value is None:
        raise StockError(f"the {words} is {text!r}; it must be a plain number such as 12.50")
    if not low <= value <= high:
        raise StockError(f"the {words} is {typed}; it must be from {low} to {high}")
    if -int(value.as_tuple().exponent) > places:
        raise StockError(f"the {words} is {typed}; it has more than {places} decimals")
    return value


def checked(one: Movement) -> Movement:
    """The movement, where it can be: otherwise StockError says what is wrong with it."""
    if not _ID.fullmatch(one.id):
        raise StockError(f"the id is {one.id!r}; it must be up to 80 letters, digits, hyphens or underscores")
    for word, allowed, what in ((one.movement, MOVEMENTS, "movement"), (one.kind, KINDS, "kind")):
        if word not in allowed:
            near = get_close_matches(word, allowed, 1, 0.0)[0]
            raise StockError(f"the {what} is {word!r}; the nearest is {near!r}")
    for field in ("name", "lot", "batch", "note"):
        text = getattr(one, field)
        if len(text) > LONGEST or any(letter < " " or letter == "\x7f" for letter in text):
            raise StockError(f"the {field} must be one line of at most {LONGEST} letters")
    if not one.name.strip():
        raise StockError("the thing has no name")
    if one.kind == ALKALI and item_name(ALKALI, one.name) not in ALKALI_NAMES.values():
        raise StockError(f"the alkali is {one.name!r}; it must be KOH or NaOH")
    if one.kind == BOTTLE and one.bottle_ml is None:
        raise StockError("a bottle needs its size in mL")
    _check_amount(one)
    _check_price(one)
    return one


def _check_amount(one: Movement) -> None:
    for column in _NUMBERS:
        value = getattr(one, column)
        if value is not None:
            number(f"{value:f}", column)
    if one.movement not in (OPENED, WITHDRAWN) and one.amount is None:
        raise StockError(f"what was {one.movement} needs an amount")
    if one.movement in (BOUGHT, TAKEN, RETURNED, DISCARDED) and not one.amount:
        thing = "bottles" if one.kind == BOTTLE else one.name
        raise StockError(
            f"0 {one.unit} of {thing} {'are' if one.kind == BOTTLE else 'is'} nothing to be {one.movement}"
        )
    if one.kind == BOTTLE and one.amount is not None and one.amount != one.amount.to_integral_value():
        raise StockError(f"{one.amount} bottles are no whole number")


def _check_price(one: Movement) -> None:
    if one.price is not None and one.movement != BOUGHT:
        raise StockError("only what is bought has a price")
    if one.price is not None and not _CURRENCY.fullmatch(one.currency):
        raise StockError(f"the currency is {one.currency!r}; it must be three capital letters, such as EUR")
    if one.price is None and one.currency:
        raise StockError(f"there is a currency, {one.currency}, and no price")


def row_of(one: Movement) -> list[str]:
    """The movement as the cells of its row."""
    cells = {field.name: getattr(one, field.name) for field in fields(one)}
    cells |= {"time": _time_text(one.time), "unit": one.unit if one.amount is not None else ""}
    return [f"{cells[name]:f}" if isinstance(cells[name], Decimal) else cells[name] or "" for name in COLUMNS]


def movement_of(cells: Mapping[str, str]) -> Movement:
    """The movement of a row, by its columns. Raises StockError."""

    def text(name: str) -> str:
        return cells.get(name, "").strip()

    def exact(name: str) -> Decimal | None:
        return number(text(name), name) if text(name) else None

    one = Movement(
        text("id"),
        _time(text("time")),
        text("movement"),
        text("kind"),
        text("name"),
        text("lot"),
        exact("amount"),
        exact("price"),
        text("currency"),
        exact("saponification_value"),
        exact("assay"),
        exact("carbonate"),
        exact("bottle_ml"),
        text("batch"),
        text("note"),
    )
    if text("unit") and text("unit") != one.unit:
        raise StockError(f"the unit is {text('unit')!r}; {one.kind} is counted in {one.unit}")
    return checked(one)


def movement_now(cells: Mapping[str, str], now: float) -> Movement:
    """The movement of a row without a time, at ``now`` (Unix seconds). Raises StockError."""
    return replace(movement_of({**cells, "time": "1970-01-01"}), time=now)


def standing(movements: Sequence[Movement]) -> list[Movement]:
    """The movements that count: without those that were withdrawn, and without the withdrawals."""
    mistakes = {one.note for one in movements if one.movement == WITHDRAWN}
    return [one for one in movements if one.movement != WITHDRAWN and one.id not in mistakes]


def table_text(movements: Sequence[Movement]) -> str:
    """The movements as a CSV file (RFC 4180), its columns named in the first row."""
    file = io.StringIO(newline="")
    writer = csv.writer(file, lineterminator="\n")
    writer.writerow(COLUMNS)
    writer.writerows(row_of(one) for one in movements)
    return file.getvalue()


def table_rows(text: str) -> list[tuple[int, dict[str, str]]]:
    """The rows of a CSV file by column, with the number of their lines. Raises StockError for other columns."""
    reader = csv.reader(io.StringIO(text.removeprefix("\ufeff"), newline=""))
    try:
        head = [cell.strip() for cell in next(reader, [])]
        missing = [name for name in ("movement", "kind", "name") if name not in head]
        if missing:
            raise StockError(f"it has no column {missing[0]!r}; the first row names the columns")
        for name in head:
            if name and name not in COLUMNS:
                near = get_close_matches(name, COLUMNS, 1, 0.0)[0]
                raise StockError(f"there is no column {name!r}; the nearest is {near!r}")
        return [(reader.line_num, dict(zip(head, row, strict=False))) for row in reader if any(map(str.strip, row))]
    except csv.Error as error:
        raise StockError(f"line {reader.line_num} is no CSV ({error})") from None


def _time_text(moment: float) -> str:
    return datetime.fromtimestamp(moment, UTC).isoformat(timespec="seconds").replace("+00:00", "Z")


def _time(text: str) -> float:
    try:
        moment = datetime.fromisoformat(text.strip())
        if len(text.strip()) > len("2026-03-14") and moment.tzinfo is None:
            raise ValueError
        return moment.replace(tzinfo=moment.tzinfo or UTC).timestamp()
    except (ValueError, OverflowError):
        raise StockError(f"the time is {text!r}; it must be like 2026-03-14T10:20:00Z or 2026-03-14") from None
