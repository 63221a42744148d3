"""What can be done with the stock, each as a result and the lines that tell it."""

import argparse
import uuid
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import partial
from types import MappingProxyType

from monitor.chemistry import check_range
from monitor.cli.kitchen_units import kitchen_units
from monitor.cli.plan_batch import read_batch_file
from monitor.cli.sums_batch import Answer, write_file
from monitor.formulation import charge_of, sheet_text
from monitor.model import Batch, local
from monitor.planning import fresh_sheet
from monitor.runtime import SystemClock, read_bounded
from monitor.stock import (
    BOTTLE,
    BOUGHT,
    COUNTED,
    DISCARDED,
    OPENED,
    Lot,
    Movement,
    Need,
    StockError,
    StockFacts,
    add_movements,
    allocate,
    batch_cost,
    certified_sheet,
    charge_needs,
    cook_needs,
    cost_lines,
    draw_lines,
    give_back,
    import_stock,
    item_name,
    lot_movement,
    number,
    read_stock,
    returned_text,
    shelf_lines,
    table_text,
    take_for_batch,
    with_certificates,
    withdraw,
)

MOST_IMPORT_BYTES = 8_000_000


def _show(args: argparse.Namespace) -> Answer:
    facts = read_stock(args.recordings)
    shelf = facts.shelf
    asked = [word.casefold() for word in args.words]
    lots = [
        lot
        for lot in shelf.lots
        if (args.empty or lot.left > 0) and all(word in f"{lot.kind} {lot.name} {lot.lot}".casefold() for word in asked)
    ]
    result = {"lots": lots, "currency": shelf.currency, "unread": facts.unread}
    return result, [*shelf_lines(lots, shelf.currency, kitchen_units(args)), *facts.unread]


def _add(args: argparse.Namespace) -> Answer:
    now = SystemClock().now()
    money, currency = args.price or (None, "")
    name = "bottle" if args.kind == BOTTLE else args.name
    one = Movement(
        str(uuid.uuid4()),
        now,
        BOUGHT,
        args.kind,
        name,
        args.lot,
        number(args.amount, "amount"),
        None if money is None else number(money, "price"),
        currency,
        None if args.saponification_value is None else number(args.saponification_value, "saponification_value"),
        None if args.assay is None else number(f"{args.assay:.6g}", "assay"),
        None if args.carbonate is None else number(f"{args.carbonate:.6g}", "carbonate"),
        number(args.name.casefold().removesuffix("ml"), "bottle_ml") if args.kind == BOTTLE else None,
        note=args.note,
    )
    opened = Movement(str(uuid.uuid4()), now, OPENED, args.kind, name, args.lot, bottle_ml=one.bottle_ml)
    add_movements(args.recordings, [one, opened] if args.opened else [one])
    return _after(args, args.kind, name, args.lot, one.bottle_ml)


def _open(args: argparse.Namespace) -> Answer:
    return _of_lot(args, OPENED, None)


def _count(args: argparse.Namespace) -> Answer:
    return _of_lot(args, COUNTED, number(args.amount, "amount"))


def _discard(args: argparse.Namespace) -> Answer:
    return _of_lot(args, DISCARDED, number(args.amount, "amount"))


def _of_lot(args: argparse.Namespace, movement: str, amount: Decimal | None) -> Answer:
    """Logs a movement of a lot that is on the shelf. Raises StockError."""
    lot = _found_lot(args)
    one = lot_movement(
        lot, movement, amount, uid=str(uuid.uuid4()), now=SystemClock().now(), note=getattr(args, "note", "")
    )
    add_movements(args.recordings, [one])
    return _after(args, lot.kind, lot.name, lot.lot, lot.bottle_ml)


def _found_lot(args: argparse.Namespace) -> Lot:
    lots = read_stock(args.recordings).shelf.lots
    bottle = args.name.casefold().removesuffix("ml").strip()

    def is_meant(lot: Lot) -> bool:
        if lot.kind == BOTTLE:
            return lot.bottle_ml is not None and f"{lot.bottle_ml:f}" == bottle
        return item_name(lot.kind, lot.name) == item_name(lot.kind, args.name)

    named = [lot for lot in lots if is_meant(lot)]
    found = [lot for lot in named if lot.lot.casefold() == args.lot.casefold()] if args.lot else named
    if not named:
        raise StockError(f"there is no {args.name} on the shelf")
    if not found:
        raise StockError(f"there is no lot {args.lot} of {args.name}; there are: {_numbers(named)}")
    if len(found) > 1:
        raise StockError(f"there are several lots of {args.name}; say which with --lot: {_numbers(found)}")
    return found[0]


def _numbers(lots: list[Lot]) -> str:
    return ", ".join(lot.lot or "one without a number" for lot in lots)


def _after(args: argparse.Namespace, kind: str, name: str, lot: str, bottle_ml: Decimal | None) -> Answer:
    """The lot as it is now."""
    shelf = read_stock(args.recordings).shelf
    key = kind, item_name(kind, name), bottle_ml
    found = [one for one in shelf.lots if one.key == key and one.lot.casefold() == lot.casefold()]
    return {"lots": found, "currency": shelf.currency}, shelf_lines(found, shelf.currency, kitchen_units(args))


def _take(args: argparse.Namespace) -> Answer:
    now = SystemClock().now()
    facts = read_stock(args.recordings)
    asked = _of_sheet(args, facts, now) if args.cook is None else _of_cook(args, facts)
    if args.look:
        allocations = allocate(facts.shelf, asked.needs)
    else:
        allocations = take_for_batch(args.recordings, asked.needs, asked.purpose, now=now, partly=args.partly)
    cost = batch_cost(facts.shelf, allocations, asked.bottles)
    lines = [f"{asked.purpose} would take:" if args.look else f"Taken for {asked.purpose}:"]
    lines += [*draw_lines(allocations, facts.shelf.currency, kitchen_units(args)), *cost_lines(cost)]
    lines += asked.certificates
    if not args.look and asked.certificates:
        asked.write(sheet_text(asked.batch))
        lines.append(f"The sheet has them now: {asked.sheet}")
    result = {"batch": asked.purpose, "draws": allocations, "cost": cost, "certificates": asked.certificates}
    return result, lines


@dataclass(frozen=True, slots=True)
class _Asked:
    """What a batch takes. purpose: what it is called. certificates: what it takes over.

    batch: the sheet with them. sheet: where that is kept; write: keeps its text there.
    """

    batch: Batch
    needs: list[Need]
    purpose: str
    bottles: int
    certificates: tuple[str, ...]
    sheet: str
    write: Callable[[str], object]


def _of_sheet(args: argparse.Namespace, facts: StockFacts, now: float) -> _Asked:
    from monitor.cli.plan_batch import sheet_file

    sheet = sheet_file(args.named, args.recordings)
    if sheet is None:
        raise StockError(f"there is no kept sheet and no sheet's file called {args.named!r}")
    batch, certificates = with_certificates(fresh_sheet(read_batch_file(sheet)), facts.shelf)
    needs = charge_needs(charge_of(batch), bottles=_filled(args))
    purpose = args.purpose or f"{batch.title}, {local(now):%Y-%m-%d}"
    return _Asked(batch, needs, purpose, args.bottles or 0, certificates, str(sheet), partial(write_file, sheet))


def _of_cook(args: argparse.Namespace, facts: StockFacts) -> _Asked:
    from monitor.cli.resolve import find
    from monitor.session import Cook
    from monitor.storage import read_batch, summary

    cook = summary(find(args.cook, args.recordings))
    name = cook.path.stem
    sheet = read_batch(cook.about.sheet)
    if sheet is None or not sheet.oils:
        raise StockError(f"the cook {name} has no batch sheet with oils, so what it took is not known")
    needs, bottles = cook_needs(sheet, cook.events, _filled(args))
    purpose = args.purpose or name
    certified, certificates = certified_sheet(sheet, cook.events, facts.shelf_without(purpose))

    def write(text: str) -> None:
        Cook(cook.path).put_sheet(text)

    return _Asked(certified, needs, purpose, bottles, certificates, f"the cook {name}", write)


def _filled(args: argparse.Namespace) -> tuple[int, float] | None:
    if args.bottles is None:
        return None
    check_range("the number of bottles", args.bottles, 1.0, 10_000.0)
    return args.bottles, check_range("the bottle", args.bottle, 5.0, 20_000.0, "mL")


def _back(args: argparse.Namespace) -> Answer:
    back = give_back(args.recordings, args.purpose, now=SystemClock().now())
    return {"returned": back}, [f"Back on the shelf: {returned_text(one)}." for one in back]


def _undo(args: argparse.Namespace) -> Answer:
    latest = read_stock(args.recordings).latest(1)
    if not latest:
        raise StockError("there is no entry to take back")
    one = withdraw(args.recordings, latest[0].id, now=SystemClock().now())
    amount = f" {returned_text(one)}" if one.amount is not None else f" {one.name}"
    return {"withdrawn": one}, [f"Taken back: {one.movement}{amount}."]


def _export(args: argparse.Namespace) -> Answer:
    facts = read_stock(args.recordings)
    if not facts.movements:
        raise StockError(f"there is nothing in {args.recordings} to export")
    write_file(args.file, table_text(facts.movements))
    return {"file": str(args.file), "movements": len(facts.movements)}, [
        f"{len(facts.movements)} movements in {args.file}.",
        *facts.unread,
    ]


def _import(args: argparse.Namespace) -> Answer:
    try:
        text = read_bounded(args.file, MOST_IMPORT_BYTES).decode("utf-8-sig")
    except UnicodeDecodeError:
        raise StockError(f"{args.file} is not text in UTF-8") from None
    except OSError as error:
        raise StockError(f"{args.file}: {(error.strerror or str(error)).lower()}") from None
    new = import_stock(args.recordings, text, now=SystemClock().now())
    return {"movements": len(new)}, [f"{len(new)} new movements."]


ACTS: Mapping[str, Callable[[argparse.Namespace], Answer]] = MappingProxyType(
    {
        "show": _show,
        "add": _add,
        "open": _open,
        "count": _count,
        "discard": _discard,
        "take": _take,
        "give-back": _back,
        "undo": _undo,
        "export": _export,
        "import": _import,
    }
)
