"""What each of the sums does with its arguments: the result, and the lines that tell it."""

import argparse
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType
from typing import TypeAlias

from monitor.cli import sums_text as words
from monitor.cli.resolve import find
from monitor.formulation import (
    Additive,
    BatchState,
    Charge,
    ChargeInputs,
    HeatInputs,
    PhReading,
    TitrationInputs,
    WeighedAmounts,
    additive_amounts,
    batch_state,
    borate_warning,
    bottles,
    charge,
    charge_inputs,
    charge_of,
    checked_dose,
    cooker_fill,
    cross_checks,
    decide,
    dilute,
    find_oil,
    find_oil_rows,
    free_alkali,
    ingredient_label,
    last_ph,
    last_titration,
    make_stock_solution,
    mixing_heat,
    neutralising_dose,
    portion,
    read_sheet,
    residual_by_excess,
    residual_by_titration,
    settling_plan,
    sheet_text,
    size_clarity_sample,
)
from monitor.model import Batch, Event
from monitor.runtime import MonitorError, SystemClock
from monitor.storage import CookSummary, read_batch, summary

Told: TypeAlias = tuple[object, list[str]]


class SumError(MonitorError):
    """A sum cannot be made. why: what is wrong and what is allowed."""

    exit_status = 2

    def __init__(self, why: str) -> None:
        self.why = why
        super().__init__(f"The sum cannot be made: {why}.")


def _sheet(args: argparse.Namespace) -> tuple[Batch, CookSummary | None]:
    if args.cook is not None:
        cook = summary(find(args.cook, args.recordings))
        batch = read_batch(cook.about.sheet)
        if batch is None:
            raise SumError(f"{cook.path.name} has no batch sheet")
        return batch, cook
    if args.batch is None:
        raise SumError("name a batch sheet with --batch, or a recording with --cook")
    try:
        return read_sheet(args.batch.read_text(encoding="utf-8")), None
    except OSError as error:
        raise SumError(f"{args.batch}: {(error.strerror or str(error)).lower()}") from None
    except UnicodeDecodeError:
        raise SumError(f"{args.batch} is not text in UTF-8") from None


def _pot(args: argparse.Namespace) -> tuple[Batch, Charge, tuple[Event, ...], BatchState]:
    batch, cook = _sheet(args)
    made = charge_of(batch)
    events = cook.events if cook else ()
    now = batch_state(made, events, water_lost_g=args.water_lost, paste_weighed_g=args.paste_weighed)
    return batch, made, events, now


def _log(args: argparse.Namespace, kind: str, grams: float | None, fields: Mapping[str, object]) -> list[str]:
    if args.cook is None or grams is None:
        raise SumError("--log wants a recording with --cook, and the grams that went in")
    _write_event(args, kind, {**fields, "grams": grams})
    return [f"Logged: {kind}, {grams:g} g."]


def _write_event(args: argparse.Namespace, kind: str, fields: Mapping[str, object]) -> None:
    # Only here, because it loads what the sums can do without.
    from monitor.session import Cook

    if args.cook is None:
        raise SumError("--log wants a recording with --cook")
    Cook(find(args.cook, args.recordings)).log_event(kind, None, fields)


def _oils(args: argparse.Namespace) -> Told:
    checks = find_oil_rows(" ".join(args.words)) if args.words else cross_checks()
    if not checks:
        # Refused with the nearest names.
        find_oil(" ".join(args.words))
    return checks, words.oils(checks)


def _alkali(args: argparse.Namespace) -> Told:
    litres, batch = args.cooker, None
    if args.oil:
        water = {"water_g": args.water, "lye_strength": args.lye_strength, "water_per_alkali": args.water_per_alkali}
        if not any(each is not None for each in water.values()):
            raise SumError("say how much water, with --water, --lye-strength or --water-per-alkali")
        inputs = ChargeInputs(tuple(portion(*each) for each in args.oil), **water)
        weighed = WeighedAmounts()
    else:
        batch, _ = _sheet(args)
        inputs = charge_inputs(batch)
        weighed = WeighedAmounts(koh_g=batch.alkali.grams, naoh_g=batch.alkali.naoh_grams)
        litres = litres or batch.cooker_litres
    given = {
        "koh_assay": args.assay,
        "koh_carbonate": args.carbonate,
        "assay_is_total": args.total_assay or None,
        "excess": args.excess,
        "naoh_share": args.naoh_share,
        "scale_g": args.scale,
    }
    inputs = replace(inputs, **{name: value for name, value in given.items() if value is not None})
    for name in ("water", "lye_strength", "water_per_alkali"):
        value = getattr(args, name)
        if value is not None:
            none = dict.fromkeys(("water_g", "lye_strength", "water_per_alkali"))
            inputs = replace(inputs, **{**none, "water_g" if name == "water" else name: value})
    weighed = WeighedAmounts(
        _weighed_oils(inputs, args.weighed_oil),
        weighed.koh_g if args.weighed_koh is None else args.weighed_koh,
        weighed.naoh_g if args.weighed_naoh is None else args.weighed_naoh,
        args.weighed_water,
    )
    plan = charge(inputs, weighed)
    room = cooker_fill(plan, litres) if litres else None
    if args.write is not None:
        _write(args.write, sheet_text(_as_weighed(batch, plan, weighed)))
    return {"charge": plan, "fill": room}, words.alkali(plan, weighed, room, args.ounces)


def _as_weighed(batch: Batch | None, plan: Charge, weighed: WeighedAmounts) -> Batch:
    if batch is None:
        raise SumError("--write wants a batch sheet with --batch or --cook")
    inputs = plan.inputs
    alkali = replace(
        batch.alkali,
        assay=inputs.koh_in_flakes,
        excess=inputs.excess,
        carbonate=inputs.koh_carbonate,
        naoh_share=inputs.naoh_share,
        grams=weighed.koh_g,
        naoh_grams=weighed.naoh_g,
    )
    oils = tuple(replace(oil, grams=portion.grams) for oil, portion in zip(batch.oils, inputs.portions, strict=True))
    return replace(batch, oils=oils, alkali=alkali, water_grams=plan.water_g, scale_grams=inputs.scale_g)


def _weighed_oils(inputs: ChargeInputs, given: list[tuple[str, float]]) -> tuple[float | None, ...]:
    found = dict(given)
    for name in found:
        if name not in [each.name for each in inputs.portions]:
            there = ", ".join(each.name for each in inputs.portions)
            raise SumError(f"weighed oil is {name!r}, which is not in this batch; there are: {there}")
    return tuple(found.get(each.name) for each in inputs.portions)


def _heat(args: argparse.Namespace) -> Told:
    batch, _ = _sheet(args)
    made = charge_of(batch)
    inputs = HeatInputs(made.koh_g, made.water_g, batch.alkali.assay, made.naoh_g, batch.alkali.naoh_assay, args.start)
    heat = mixing_heat(inputs, args.limit)
    return heat, words.heat(heat, args.ounces)


def _sample(args: argparse.Namespace) -> Told:
    sample = size_clarity_sample(args.grams)
    return sample, words.sample(sample, args.ounces)


def _dilution(args: argparse.Namespace) -> Told:
    _, made, _, now = _pot(args)
    soap = None if args.soap_percent is None else args.soap_percent / 100.0
    paste = None if args.paste_percent is None else args.paste_percent / 100.0
    result = dilute(now.pot, made.inputs.portions, soap_share=soap, paste_share=paste, water_g=args.water)
    logged: list[str] = []
    if args.log:
        told = [("paste weighed", args.paste_weighed), ("boiled off", args.water_lost), ("water added", args.water)]
        given = [(kind, grams) for kind, grams in told if grams is not None]
        logged = [line for kind, grams in given or told[-1:] for line in _log(args, kind, grams, {})]
    return {"now": now, "dilution": result}, words.dilution(now, result, args.ounces) + logged


def _titration(args: argparse.Namespace) -> Told:
    result = free_alkali(TitrationInputs(args.acid_ml, args.acid, args.sample))
    logged: list[str] = []
    if args.log:
        fields = {"acid_ml": args.acid_ml, "acid_mol_l": args.acid, "sample_g": args.sample}
        _write_event(args, "titrated", fields)
        logged = [f"Logged: titrated, {args.acid_ml:g} mL."]
    return result, words.titration(result) + logged


def _neutralise(args: argparse.Namespace) -> Told:
    warning = borate_warning(args.reagent)
    if warning and not args.borate_warning_read:
        raise SumError(f"{warning} To go on all the same, add --borate-warning-read")
    _, made, events, now = _pot(args)
    read = last_ph(events)
    if args.ph is not None:
        read = PhReading(args.ph, args.sample_percent, args.sample_c)
    decision = None
    if read is not None:
        decision = decide(
            read.ph,
            now.pot.total_g,
            args.reagent,
            sample_percent=read.sample_percent,
            temperature_c=read.temperature_c,
            warning_read=args.borate_warning_read,
        )
    run_in = last_titration(events)
    if args.acid_ml is not None:
        run_in = TitrationInputs(args.acid_ml, args.acid, args.sample)
    over = (
        residual_by_titration(free_alkali(run_in), now.pot) if run_in is not None else residual_by_excess(made, now.pot)
    )
    dose = neutralising_dose(
        now.pot,
        over,
        args.reagent,
        end_ph=args.end_ph,
        stock_strength=None if args.stock_percent is None else args.stock_percent / 100.0,
        warning_read=args.borate_warning_read,
    )
    if args.give is not None:
        checked_dose(dose, args.give)
    told = words.decision(decision, args.ounces) if decision else []
    told += words.dose(now, dose, args.ounces)
    told += _log(args, "neutraliser added", args.give, {"reagent": dose.reagent}) if args.log else []
    return {"now": now, "decision": decision, "dose": dose}, told


def _stock(args: argparse.Namespace) -> Told:
    result = make_stock_solution(args.reagent, args.grams, args.water, args.at)
    return result, words.stock(result, args.ounces)


def _settle(args: argparse.Namespace) -> Told:
    what, began = "the soap", SystemClock().now()
    if args.cook is not None or args.batch is not None:
        batch, cook = _sheet(args)
        what = batch.title
        began = cook.finished if cook and cook.finished is not None else began
    result = settling_plan(began, what, args.days)
    if args.calendar is not None:
        _write(args.calendar, result.calendar)
    return result, words.settle(result, args.calendar)


def _write(path: Path, text: str) -> None:
    try:
        path.write_bytes(text.encode())
    except OSError as error:
        raise SumError(f"{path}: {(error.strerror or str(error)).lower()}") from None


def _bottles(args: argparse.Namespace) -> Told:
    added = additive_amounts(args.grams, tuple(Additive(*each) for each in args.add))
    result = bottles(added.product_g, args.bottle, args.density)
    logged: list[str] = []
    if args.log:
        if args.filled is None:
            raise SumError("--log wants how many bottles were filled, with --filled")
        _write_event(args, "bottled", {"bottles": args.filled, "bottle_ml": args.bottle})
        logged = [f"Logged: bottled, {args.filled:g} of {args.bottle:g} mL."]
    return {"additions": added, "bottles": result}, words.bottled(added, result, args.ounces) + logged


def _label(args: argparse.Namespace) -> Told:
    batch, made, _, now = _pot(args)
    result = ingredient_label(
        made,
        now.pot,
        title=batch.title,
        lot=batch.lot,
        made=args.made,
        contents_ml=args.contents,
        as_put_in=args.as_put_in,
    )
    return result, words.label(result, args.ounces)


SUMS: Mapping[str, Callable[[argparse.Namespace], Told]] = MappingProxyType(
    {
        "oils": _oils,
        "alkali": _alkali,
        "heat": _heat,
        "sample": _sample,
        "dilution": _dilution,
        "titration": _titration,
        "neutralise": _neutralise,
        "stock": _stock,
        "settle": _settle,
        "bottles": _bottles,
        "label": _label,
    }
)
