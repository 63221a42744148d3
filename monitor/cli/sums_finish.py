"""The bench sums after the cook: dilution, titration, neutralising, stock solution, settling, bottles, label."""

import argparse
from collections.abc import Callable, Mapping, Sequence
from types import MappingProxyType

from monitor.chemistry import check_range
from monitor.cli import sums_text as text
from monitor.cli.sums_batch import (
    Answer,
    SumError,
    batch_and_state,
    log_in_cook,
    log_weighed,
    read_batch,
    write_file,
)
from monitor.formulation import (
    Additive,
    Decision,
    MassBalance,
    NextDose,
    PhReading,
    TitrationInputs,
    additive_amounts,
    borate_warning,
    bottles,
    charge_of,
    checked_dose,
    decide,
    dilute,
    dosing_history,
    free_alkali,
    ingredient_label,
    judge_haze,
    judge_paste_sample,
    last_ph,
    last_titration,
    make_stock_solution,
    neutralising_dose,
    next_dose,
    plan_paste_sample,
    residual_by_excess,
    residual_by_titration,
    settling_plan,
    with_ph_reading,
)
from monitor.model import Event
from monitor.runtime import SystemClock

# Where to stop when the alkali is known and no pH is named; only the dose of borates depends on it.
USUAL_END_PH = 10.0


def _dilution(args: argparse.Namespace) -> Answer:
    _, made, _, now = batch_and_state(args)
    soap = None if args.soap_percent is None else args.soap_percent / 100.0
    paste = None if args.paste_percent is None else args.paste_percent / 100.0
    result = dilute(now.pot, made.inputs.portions, soap_share=soap, paste_share=paste, water_g=args.water)
    logged: list[str] = []
    if args.log:
        told = [("paste weighed", args.paste_weighed), ("boiled off", args.water_lost), ("water added", args.water)]
        given = [(kind, grams) for kind, grams in told if grams is not None]
        logged = [line for kind, grams in given or told[-1:] for line in log_weighed(args, kind, grams, {})]
    return {"now": now, "dilution": result}, text.dilution(now, result, args.ounces) + logged


def _paste(args: argparse.Namespace) -> Answer:
    made = charge_of(read_batch(args)[0])
    sample = plan_paste_sample(made, water_lost_g=args.water_lost, sample_g=args.sample, acid_mol_l=args.acid)
    found = None
    logged: list[str] = []
    if args.acid_ml is not None:
        inputs = TitrationInputs(args.acid_ml, args.acid, args.sample, args.scale)
        found = judge_paste_sample(made, inputs, water_lost_g=args.water_lost)
    if args.log:
        if args.acid_ml is None:
            raise SumError("--log wants the millilitres of acid that were run in")
        fields = {"acid_ml": args.acid_ml, "acid_mol_l": args.acid, "sample_g": args.sample}
        log_in_cook(args, "titrated", fields, minutes_ago=args.ago)
        logged = [f"Logged: titrated, {args.acid_ml:g} mL."]
    return {"sample": sample, "titration": found}, text.paste(sample, found) + logged


def _titration(args: argparse.Namespace) -> Answer:
    result = free_alkali(TitrationInputs(args.acid_ml, args.acid, args.sample))
    logged: list[str] = []
    if args.log:
        fields = {"acid_ml": args.acid_ml, "acid_mol_l": args.acid, "sample_g": args.sample}
        log_in_cook(args, "titrated", fields)
        logged = [f"Logged: titrated, {args.acid_ml:g} mL."]
    return result, text.titration(result) + logged


def _neutralise(args: argparse.Namespace) -> Answer:
    warning = borate_warning(args.reagent)
    if warning and not args.borate_warning_read:
        raise SumError(f"{warning} To go on all the same, add --borate-warning-read")
    _, made, events, now = batch_and_state(args)
    run_in = last_titration(events)
    if args.acid_ml is not None:
        run_in = TitrationInputs(args.acid_ml, args.acid, args.sample)
    decision, following = _by_ph(args, events, now.pot, titrated=run_in is not None)
    if run_in is not None:
        over = residual_by_titration(free_alkali(run_in), now.pot)
    else:
        over = residual_by_excess(made, now.pot)
    dose = neutralising_dose(
        now.pot,
        over,
        args.reagent,
        end_ph=args.end_ph or USUAL_END_PH,
        stock_strength=_stock_strength(args),
        warning_read=args.borate_warning_read,
    )
    if args.give is not None and following is None:
        checked_dose(dose, args.give)
    told = text.decision(decision) if decision else []
    told += text.dose(now, dose, args.ounces) if following is None else text.next_dose(now, following, args.ounces)
    told += log_weighed(args, "neutraliser added", args.give, {"reagent": dose.reagent}) if args.log else []
    return {"now": now, "decision": decision, "next": following, "dose": dose}, told


def _stock_strength(args: argparse.Namespace) -> float | None:
    return None if args.stock_percent is None else args.stock_percent / 100.0


def _by_ph(
    args: argparse.Namespace, events: Sequence[Event], pot: MassBalance, *, titrated: bool
) -> tuple[Decision | None, NextDose | None]:
    """What the pH asks for, and the next dose; None where none was read, or where a titration gives the dose."""
    read, history = last_ph(events), dosing_history(events)
    if args.ph is not None:
        read = PhReading(args.ph, args.sample_percent, args.sample_c)
        history = with_ph_reading(history, args.ph, args.sample_percent, args.sample_c)
    if read is None and not history.readings:
        return None, None
    # Imported here, because it loads the estimator, which the other sums do without.
    from monitor.session import kitchen_ph_offset

    offset = kitchen_ph_offset(args.recordings)
    decision = following = None
    if read is not None:
        decision = decide(
            read.ph, pot, sample_percent=read.sample_percent, temperature_c=read.temperature_c, offset=offset
        )
    if history.readings and not titrated:
        following = next_dose(
            pot,
            history,
            args.end_ph,
            args.reagent,
            stock_strength=_stock_strength(args),
            warning_read=args.borate_warning_read,
            offset=offset,
        )
    return decision, following


def _stock(args: argparse.Namespace) -> Answer:
    result = make_stock_solution(args.reagent, args.grams, args.water, args.at)
    return result, text.stock(result, args.ounces)


def _haze(args: argparse.Namespace) -> Answer:
    _, made, events, now = batch_and_state(args)
    run_in = last_titration(events)
    water_g = args.tap_water if args.tap_water is not None else made.water_g + now.water_added_g
    result = judge_haze(
        made,
        now.pot,
        tap_water_g=water_g if args.hardness is not None else 0.0,
        hardness_dh=args.hardness or 0.0,
        warmed=args.warmed,
        thinned=args.thinned,
        free_koh_percent=None if run_in is None else free_alkali(run_in).koh_percent,
    )
    return {"now": now, "haze": result}, text.haze(now, result, args.ounces)


def _settle(args: argparse.Namespace) -> Answer:
    what, began = "the soap", SystemClock().now()
    if args.cook is not None or args.batch is not None:
        batch, cook = read_batch(args)
        what = batch.title
        began = cook.finished if cook and cook.finished is not None else began
    result = settling_plan(began, what, args.days)
    if args.calendar is not None:
        write_file(args.calendar, result.calendar)
    return result, text.settle(result, args.calendar)


def _bottles(args: argparse.Namespace) -> Answer:
    added = additive_amounts(args.grams, tuple(Additive(*each) for each in args.add))
    result = bottles(added.product_g, args.bottle, args.density)
    logged: list[str] = []
    if args.log:
        if args.filled is None:
            raise SumError("--log wants how many bottles were filled, with --filled")
        check_range("bottles", args.filled, 0.0, 10_000.0)
        log_in_cook(args, "bottled", {"bottles": args.filled, "bottle_ml": args.bottle})
        logged = [f"Logged: bottled, {args.filled:g} of {args.bottle:g} mL."]
    return {"additions": added, "bottles": result}, text.bottles(added, result, args.ounces) + logged


def _label(args: argparse.Namespace) -> Answer:
    batch, made, _, now = batch_and_state(args)
    result = ingredient_label(
        made,
        now.pot,
        title=batch.title,
        lot=batch.lot,
        made=args.made,
        contents_ml=args.contents,
        as_put_in=args.as_put_in,
    )
    return result, text.label(result, args.ounces)


SUMS: Mapping[str, Callable[[argparse.Namespace], Answer]] = MappingProxyType(
    {
        "dilution": _dilution,
        "titration": _titration,
        "paste": _paste,
        "neutralise": _neutralise,
        "stock": _stock,
        "haze": _haze,
        "settle": _settle,
        "bottles": _bottles,
        "label": _label,
    }
)
