"""The charge on the bench: oils, alkali and water, what was really weighed, and the batch sheet that comes of it."""

from collections.abc import Sequence
from dataclasses import replace

from dashboard.bench.form import MOST_G, Form
from dashboard.components.bench_words import Answer, drawn, percent, weight
from monitor.chemistry import KOH_FLAKES, LYE_WATER, NAOH_FLAKES, Portion, portion
from monitor.formulation import (
    OUNCE_G,
    Charge,
    ChargeInputs,
    HeatInputs,
    WeighedAmounts,
    charge,
    cooker_fill,
    mixing_heat,
    oil_facts,
)
from monitor.model import Alkali, Batch, Event, Oil

# What they go by in the log.

WATER_BY = ("grams", "strength", "ratio")
# What the sums call their numbers, and what the page does.
PLACES = {
    "koh_g": ("koh_weighed", "KOH flakes"),
    "naoh_g": ("naoh_weighed", "NaOH"),
    "water_g": ("water", "Water"),
    "lye_strength": ("water", "Strength of the lye"),
    "water_per_alkali": ("water", "Water to a gram of flakes"),
    "koh_assay": ("assay", "KOH in the flakes"),
    "koh_carbonate": ("carbonate", "Carbonate in the flakes"),
    "naoh_share": ("naoh_share", "The part that NaOH meets"),
    "naoh_assay": ("naoh_assay", "NaOH in its flakes"),
    "excess": ("excess", "Excess"),
    "glycerol_g": ("glycerol", "Glycerol"),
    "scale_g": ("scale", "Smallest step of the scale"),
}


def oil_rows(form: Form) -> list[Form]:
    """The rows in which an oil was named or weighed."""
    return [row for row in form.rows("oils") if row.text("name", "Oil") or row.text("grams", "Grams")]


def _portion(row: Form) -> Portion:
    name = row.text("name", "Oil")
    if not name:
        raise row.refuse("name", "the oil has no name; write one of the table, such as rapeseed")
    grams = row.grams("grams", name, 0.1)
    value = row.maybe("value", f"Saponification value of {name}", 50.0, 400.0, "mg KOH per g")
    try:
        return portion(name, grams, value)
    except ValueError as error:
        raise row.refuse("name", str(error)) from None


def inputs_of(form: Form) -> tuple[ChargeInputs, WeighedAmounts]:
    """What the page decides of the charge, and what was weighed. Raises FieldError."""
    rows = oil_rows(form)
    if not rows:
        raise form.refuse("oils", "there is no oil yet; name from 1 to 20 and weigh them")
    by = form.choice("water_by", "Water", WATER_BY)
    oils = {name: (f"{row.place}grams", name) for row in rows if (name := row.text("name", "Oil"))}
    try:
        inputs = ChargeInputs(
            tuple(_portion(row) for row in rows),
            koh_assay=form.share("assay", "KOH in the flakes", 50.0, 100.0),
            koh_carbonate=form.share("carbonate", "Carbonate in the flakes", 0.0, 20.0, empty=0.0),
            assay_is_total=form.ticked("assay_is_total"),
            naoh_share=form.share("naoh_share", "The part that NaOH meets", 0.0, 100.0, empty=0.0),
            naoh_assay=form.share("naoh_assay", "NaOH in its flakes", 50.0, 100.0, empty=98.0),
            excess=form.share("excess", "Excess", -20.0, 50.0),
            glycerol_g=form.grams("glycerol", "Glycerol", empty=0.0),
            scale_g=form.number("scale", "Smallest step of the scale", 0.001, 100.0, "g", empty=1.0),
            water_g=form.grams("water", "Water") if by == "grams" else None,
            lye_strength=form.share("water", "Strength of the lye", 0.0, 100.0) if by == "strength" else None,
            water_per_alkali=form.number("water", "Water to a gram of flakes", 0.5, 20.0) if by == "ratio" else None,
        )
        weighed = WeighedAmounts(
            tuple(row.maybe_grams("weighed", f"The weight of {row.text('name', 'Oil')}", 0.1) for row in rows),
            koh_g=form.maybe_grams("koh_weighed", "The weight of the KOH flakes"),
            naoh_g=form.maybe_grams("naoh_weighed", "The weight of the NaOH"),
            water_g=form.maybe_grams("water_weighed", "The weight of the water"),
        )
    except ValueError as error:
        raise form.told(error, PLACES | oils) from None
    return inputs, weighed


def charged(form: Form) -> tuple[Charge, WeighedAmounts]:
    """The charge of this page. Raises FieldError."""
    inputs, weighed = inputs_of(form)
    try:
        return charge(inputs, weighed), weighed
    except ValueError as error:
        raise form.told(error, PLACES) from None


def answer(form: Form) -> Answer:
    """What to weigh, and what it amounts to. Raises FieldError."""
    plan, weighed = charged(form)
    # A form without a scale is not told to a step that nobody has named.
    said = Answer(form.ounces, form.maybe("scale", "Smallest step of the scale", 0.001, 100.0, "g") or 0.0)
    for row, each in zip(oil_rows(form), plan.inputs.portions, strict=True):
        said.out[f"{row.place}about"] = (
            f"{each.saponification_low:g} to {each.saponification_high:g} mg KOH to a gram, {each.source}"
        )
    said.grams("oil", plan.oil_g)
    said.say["oils"] = list(oil_facts(plan.inputs.portions).words)
    said.grams("koh", plan.koh_g)
    said.grams("naoh", plan.naoh_g)
    said.show["naoh"] = plan.inputs.naoh_share > 0 or plan.naoh_g > 0
    said.water("water", plan.water_g)
    said.out["strength"] = percent(plan.lye_strength)
    said.grams("total", plan.total_g)
    said.turn["water_by"] = {
        "grams": plan.water_g / (OUNCE_G if form.ounces else 1.0),
        "strength": 100.0 * plan.lye_strength,
        "ratio": plan.water_g / max(plan.koh_g + plan.naoh_g, 1e-9),
    }
    said.warn(plan.cautions)
    _say_excess(said, plan, weighed)
    litres = form.maybe("cooker", "The cooker", 0.5, 200.0, "L")
    said.show["filled"] = litres is not None
    if litres is not None:
        room = cooker_fill(plan, litres)
        said.out["filled"] = f"{room.filled:.0%} full"
        said.out["batch_l"] = f"{room.batch_l:.2f} L in a cooker of {litres:g} L"
        said.warn(room.cautions)
    _say_heat(said, form, plan)
    return said


def _say_excess(said: Answer, plan: Charge, weighed: WeighedAmounts) -> None:
    excess = plan.excess
    said.bar = drawn(excess)
    said.out["excess"] = percent(excess.taken)
    said.out["likely"] = f"{percent(excess.likely_low)} to {percent(excess.likely_high)}"
    said.out["ends"] = f"{percent(excess.least)} to {percent(excess.most)}"
    said.say["excess"] = list(plan.meaning)
    if plan.more_oil_g >= 0.1 and (weighed.koh_g is not None or weighed.naoh_g is not None):
        said.say["excess"].append(
            f"{weight(plan.more_oil_g, said.ounces)} more of the same oils would bring it back to "
            f"{percent(plan.inputs.excess)}."
        )


def _say_heat(said: Answer, form: Form, plan: Charge) -> None:
    start_c = form.number("start_c", "The temperature of water and flakes", 0.0, 60.0, "°C", empty=20.0)
    said.show["heat"] = plan.water_g >= 1.0 and plan.koh_g + plan.naoh_g > 0
    if not said.show["heat"]:
        return
    heat = mixing_heat(
        HeatInputs(plan.koh_g, plan.water_g, plan.inputs.koh_in_flakes, plan.naoh_g, plan.inputs.naoh_assay, start_c),
        max(70.0, start_c + 10.0),
    )
    said.out["hottest"] = f"{heat.mildest_c:.0f} to {heat.hottest_c:.0f} °C"
    said.out["parts"] = (
        "all at once" if heat.parts == 1 else f"{heat.parts} parts of {weight(heat.part_g, said.ounces)}"
    )
    # Its cautions stand beside flakes and water already.
    said.say["heat"] = list(heat.meaning)


def weighed_of(form: Form) -> list[tuple[str, float]]:
    """What of the charge was weighed, by name, g. Raises FieldError."""
    plan, weighed = charged(form)
    names = (*(each.name for each in plan.inputs.portions), KOH_FLAKES, NAOH_FLAKES, LYE_WATER)
    all_grams = (*weighed.oil_g, weighed.koh_g, weighed.naoh_g, weighed.water_g)
    return [(name, grams) for name, grams in zip(names, all_grams, strict=True) if grams is not None]


def last_weighed(events: Sequence[Event]) -> dict[str, float]:
    """The latest figure logged as weighed, by name, g."""
    return {str(event.fields["what"]): float(event.fields["grams"]) for event in events if event.kind == "weighed"}


def still_weighed(batch: Batch, events: Sequence[Event]) -> dict[str, float]:
    """What was weighed and still is what the sheet has: a sheet planned anew has not been weighed."""
    planned = {oil.name: oil.grams for oil in batch.oils} | {LYE_WATER: batch.water_grams}
    return {name: grams for name, grams in last_weighed(events).items() if planned.get(name) == grams}


def planned_anew(batch: Batch) -> Batch:
    """The sheet of a cook that was, as one to begin the next with: no lot, nothing weighed, no date."""
    oils = tuple(replace(oil, lot="") for oil in batch.oils)
    alkali = replace(batch.alkali, grams=None, naoh_grams=None, lot="")
    return replace(batch, oils=oils, alkali=alkali, lot="", started=None)


def batch_of(form: Form, before: Batch | None) -> Batch:
    """The batch as it was planned here, with what was weighed in place of what was planned. Raises FieldError.

    before: the batch that this one betters, or None.
    """
    plan, weighed = charged(form)
    inputs = plan.inputs
    rows = oil_rows(form)
    oils = tuple(
        Oil(
            each.name,
            each.grams,
            each.saponification,
            row.text("value", "Saponification value") != "",
            row.text("lot", f"Lot of {each.name}"),
        )
        for each, row in zip(inputs.portions, rows, strict=True)
    )
    alkali = Alkali(
        "KOH",
        inputs.koh_in_flakes,
        inputs.excess,
        inputs.koh_carbonate,
        inputs.naoh_share,
        inputs.naoh_assay,
        weighed.koh_g,
        weighed.naoh_g,
        form.text("koh_lot", "Lot of the KOH"),
    )
    base = before or Batch("Untitled batch", (), alkali, 0.0)
    return replace(
        base,
        title=form.text("title", "Title", 200) or base.title,
        lot=form.text("lot", "Lot of the batch"),
        oils=oils,
        alkali=alkali,
        water_grams=min(plan.water_g, MOST_G),
        glycerol_grams=inputs.glycerol_g,
        cooker_litres=form.maybe("cooker", "The cooker", 0.5, 200.0, "L"),
        scale_grams=inputs.scale_g,
    )
