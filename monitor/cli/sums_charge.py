"""The bench sums before the cook: oils, alkali charge, heat of the lye, clarity sample."""

import argparse
from collections.abc import Callable, Mapping
from dataclasses import replace
from types import MappingProxyType

from monitor.chemistry import cross_checks, find_oil, find_oil_rows, portion
from monitor.cli import sums_text as text
from monitor.cli.sums_batch import Answer, SumError, read_batch, write_file
from monitor.formulation import (
    Charge,
    ChargeInputs,
    HeatInputs,
    WeighedAmounts,
    charge,
    charge_inputs,
    charge_of,
    cooker_fill,
    mixing_heat,
    oil_facts,
    sheet_text,
    size_clarity_sample,
)
from monitor.model import Batch


def _oils(args: argparse.Namespace) -> Answer:
    checks = find_oil_rows(" ".join(args.words)) if args.words else cross_checks()
    if not checks:
        # Refused with the nearest names.
        find_oil(" ".join(args.words))
    return {"oils": checks}, text.oils(checks)


def _alkali(args: argparse.Namespace) -> Answer:
    batch = None if args.oil else read_batch(args)[0]
    inputs = _as_asked(_inputs_of_oils(args) if batch is None else charge_inputs(batch), args)
    weighed = WeighedAmounts(
        _weighed_oils(inputs, args.weighed_oil),
        batch.alkali.grams if batch and args.weighed_koh is None else args.weighed_koh,
        batch.alkali.naoh_grams if batch and args.weighed_naoh is None else args.weighed_naoh,
        args.weighed_water,
    )
    litres = args.cooker if args.cooker is not None or batch is None else batch.cooker_litres
    plan = charge(inputs, weighed)
    room = None if litres is None else cooker_fill(plan, litres)
    if args.write is not None:
        write_file(args.write, sheet_text(_as_weighed(batch, plan, weighed)))
    facts = oil_facts(plan.inputs.portions)
    return {"charge": plan, "fill": room, "oils": facts}, text.alkali(plan, weighed, room, facts, args.ounces)


def _inputs_of_oils(args: argparse.Namespace) -> ChargeInputs:
    """The charge of the oils that were named as options, instead of a sheet. Raises SumError."""
    water = {"water_g": args.water, "lye_strength": args.lye_strength, "water_per_alkali": args.water_per_alkali}
    if not any(each is not None for each in water.values()):
        raise SumError("say how much water, with --water, --lye-strength or --water-per-alkali")
    return ChargeInputs(tuple(portion(*each) for each in args.oil), **water)


def _as_asked(inputs: ChargeInputs, args: argparse.Namespace) -> ChargeInputs:
    """The inputs with every option that was given in the place of what the sheet says."""
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
    return inputs


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


def _heat(args: argparse.Namespace) -> Answer:
    batch, _ = read_batch(args)
    made = charge_of(batch)
    inputs = HeatInputs(made.koh_g, made.water_g, batch.alkali.assay, made.naoh_g, batch.alkali.naoh_assay, args.start)
    heat = mixing_heat(inputs, args.limit)
    return heat, text.heat(heat, args.ounces)


def _sample(args: argparse.Namespace) -> Answer:
    sample = size_clarity_sample(args.grams)
    return sample, text.sample(sample, args.ounces)


SUMS: Mapping[str, Callable[[argparse.Namespace], Answer]] = MappingProxyType(
    {"oils": _oils, "alkali": _alkali, "heat": _heat, "sample": _sample}
)
