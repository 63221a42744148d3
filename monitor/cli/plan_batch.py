"""``kettleside plan batch``: from oils, a kept sheet or a past cook to a batch of the size that is wanted."""

import argparse
from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

from monitor.cli.plan_text import batch_lines
from monitor.cli.sums_batch import Answer
from monitor.formulation import METRIC, UnitChoice, read_sheet
from monitor.model import Alkali, Batch, Oil
from monitor.planning import (
    BatchPlan,
    OilShare,
    PlanError,
    batch_changes,
    fresh_sheet,
    oil_of,
    oils_by_share,
    plan_batch,
    scaled_to_bottles,
    scaled_to_oil,
    scaled_to_pot,
    with_usual_water,
)
from monitor.session import plan_cost
from monitor.stock import OIL, Need, Shelf, cost_lines, read_stock, with_certificates

USUAL_OIL_G = 1000.0
USUAL_BOTTLE_ML = 250.0


def answer(args: argparse.Namespace, units: UnitChoice) -> Answer:
    """The plan that is asked for. Raises PlanError, KeptSheetError, SheetError, RecordingError, ValueError."""
    before = None if args.start is None else starting_batch(args.start, args.recordings)
    shelf = read_stock(args.recordings).shelf
    batch = _sized(_recipe(args, before), args, shelf)
    certificates: tuple[str, ...] = ()
    if args.from_shelf:
        if not shelf.lots:
            raise PlanError("the shelf is empty; kettleside stock add puts something on it")
        batch, certificates = with_certificates(batch, shelf)
        # Other values give another yield, and so another size.
        batch = _sized(batch, args, shelf)
    plan = _plan_of(batch, args)
    cost = plan_cost(plan, shelf)
    changes = () if before is None else batch_changes(before, plan.batch)
    kept = _keep(plan, args)
    result = {
        "plan": plan,
        "cost": cost,
        "certificates": certificates,
        "changes": changes,
        "kept": None if kept is None else str(kept),
    }
    beside = [*certificates, *([] if cost is None else cost_lines(cost))]
    if args.ounces and not units.in_ounces:
        units = UnitChoice("oz", "US fl oz", units.temperature)
    return result, batch_lines(plan, beside, changes if before else None, kept, units)


def starting_batch(named: str, folder: Path) -> Batch:
    """The batch of a kept sheet, of a sheet's file or of a cook. Raises PlanError, SheetError, RecordingError."""
    from monitor.cli.resolve import find
    from monitor.storage import RecordingError, read_batch, summary

    sheet = sheet_file(named, folder)
    if sheet is not None:
        return read_batch_file(sheet)
    try:
        path = find(named, folder)
    except RecordingError:
        raise PlanError(f"there is no kept sheet, no sheet's file and no cook called {named!r}") from None
    batch = read_batch(summary(path).about.sheet)
    if batch is None:
        raise PlanError(f"the cook {named} has no batch sheet")
    return batch


def sheet_file(named: str, folder: Path) -> Path | None:
    """The file of a sheet by its path, or of one that is kept; None where there is none."""
    from monitor.storage import kept_sheet_path

    path = Path(named)
    return path if path.suffix == ".toml" and path.is_file() else kept_sheet_path(folder, named)


def read_batch_file(path: Path) -> Batch:
    """The batch of a sheet's file. Raises PlanError, SheetError."""
    try:
        return read_sheet(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError):
        raise PlanError(f"{path} cannot be read as text") from None


def _recipe(args: argparse.Namespace, before: Batch | None) -> Batch:
    """The batch as it is asked for, not yet of the size that is wanted."""
    if before is None and not args.oil:
        raise PlanError("there is no oil; name the oils with --oil, or start from a batch with --from")
    batch = before and fresh_sheet(before)
    if batch is None:
        batch = Batch("Untitled batch", (), Alkali("KOH", 0.9, 0.03), 0.0)
    if args.oil:
        oils = _oils(args, sum(oil.grams for oil in batch.oils) or USUAL_OIL_G)
        # Water keeps its place beside the oils.
        old_g = sum(oil.grams for oil in batch.oils)
        factor = sum(oil.grams for oil in oils) / old_g if old_g else 0.0
        batch = replace(batch, oils=oils, water_grams=float(round(batch.water_grams * factor)))
    alkali = batch.alkali
    batch = replace(
        batch,
        title=args.title or batch.title,
        alkali=replace(
            alkali,
            assay=alkali.assay if args.assay is None else float(args.assay),
            excess=alkali.excess if args.excess is None else float(args.excess),
        ),
        cooker_litres=args.pot if args.pot is not None else batch.cooker_litres,
    )
    if args.water is not None:
        return replace(batch, water_grams=args.water)
    if args.water_per_alkali is not None:
        return with_usual_water(batch, args.water_per_alkali)
    return batch if batch.water_grams > 0 else with_usual_water(batch)


def _oils(args: argparse.Namespace, usual_g: float) -> tuple[Oil, ...]:
    in_percent = [oil.in_percent for oil in args.oil]
    if all(in_percent):
        shares = tuple(OilShare(oil.name, oil.amount, oil.saponification_value) for oil in args.oil)
        return oils_by_share(shares, usual_g if args.oil_weight is None else args.oil_weight)
    if any(in_percent):
        raise PlanError("some oils are in grams and some in per cent; write all of them in one way")
    if args.oil_weight is not None:
        raise PlanError("--oil-weight is for oils in per cent, and these are in grams")
    return tuple(oil_of(oil.name, oil.amount, oil.saponification_value) for oil in args.oil)


def _sized(batch: Batch, args: argparse.Namespace, shelf: Shelf) -> Batch:
    """The batch of the size that is asked for."""
    if args.fill_pot:
        if batch.cooker_litres is None:
            raise PlanError("say what the pot holds to the rim with --pot, in litres")
        return scaled_to_pot(batch, batch.cooker_litres)
    if args.bottles is not None:
        # Strength and size do not depend on each other, so the pot is looked at only once the size is known.
        share = _strength(args) or plan_batch(replace(batch, cooker_litres=None)).dilution.soap_share
        return scaled_to_bottles(batch, args.bottles, _bottle_ml(args), share)
    if args.use_up is None:
        return batch
    name, grams = args.use_up
    return scaled_to_oil(batch, name, _on_shelf_g(name, shelf) if grams is None else grams)


def _on_shelf_g(name: str, shelf: Shelf) -> float:
    """All of an oil that is on the shelf, g. Raises PlanError where there is none."""
    left = sum(lot.left for lot in shelf.of(Need(OIL, name, Decimal(0)).key))
    if not left:
        raise PlanError(f"there is no {name} on the shelf; say how much there is, such as {name}=455")
    return float(left)


def _plan_of(batch: Batch, args: argparse.Namespace) -> BatchPlan:
    return plan_batch(batch, soap_share=_strength(args), bottle_ml=_bottle_ml(args))


def _bottle_ml(args: argparse.Namespace) -> float:
    return USUAL_BOTTLE_ML if args.bottle is None else float(args.bottle)


def _strength(args: argparse.Namespace) -> float | None:
    return None if args.strength is None else float(args.strength)


def _keep(plan: BatchPlan, args: argparse.Namespace) -> Path | None:
    from monitor.storage import keep_sheet

    if args.keep is None:
        return None
    return keep_sheet(args.recordings, plan.batch, args.keep, replace=args.replace)


def sheets_lines(folder: Path, units: UnitChoice = METRIC) -> Iterator[str]:
    """A line for each sheet that is kept in a folder."""
    from monitor.storage import kept_sheets

    found = kept_sheets(folder)
    for sheet in found:
        if sheet.batch is None:
            yield f"{sheet.name}  cannot be read: {sheet.why}"
        else:
            oils = ", ".join(f"{oil.name} {units.mass_text(oil.grams)}" for oil in sheet.batch.oils)
            yield f"{sheet.name}  {sheet.batch.title}: {oils}"
    if not found:
        yield f"No sheets are kept in {folder} yet; kettleside plan batch --keep keeps one."
