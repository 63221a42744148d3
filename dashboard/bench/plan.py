"""A batch planned on the bench: its oils by shares or grams, of the size that is wanted, beside where it began."""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from dashboard.bench.form import FieldError, Form
from dashboard.components.bench_words import Answer, percent, weight
from dashboard.live.app_state import AppState
from monitor.formulation import SOAP_KG_L
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
from monitor.stock import cost_lines, read_stock
from monitor.storage import read_batch, read_kept_sheet, summary

AMOUNTS_BY = ("shares", "grams")
SIZES = ("weight", "pot", "bottles", "oil")
# Of what a refusal says that it is about, the field where it stands.
FIELDS: Mapping[str, str] = {
    "oils": "oils",
    "oil at hand": "at_hand",
    "pot": "pot",
    "bottle": "bottle_ml",
    "time": "time",
}
# What the sums call their numbers, the field and what the page calls them.
PLACES = {
    "oil_g": ("oil_g", "The weight of all oils"),
    "soap_share": ("strength", "The strength"),
    "water_per_alkali": ("ratio", "Water to a gram of flakes"),
    "cooker_l": ("pot", "The pot"),
}
EMPTY_SHELF = "No cost yet: the shelf is empty. Write down what is bought under Bench, Stock."


def batch_at(state: AppState, base: str) -> Batch | None:
    """The batch that a plan begins from, without its date, its lots and what was weighed.

    base: ``sheet NAME`` of a kept one, or ``cook NAME``; None for an empty one. Raises MonitorError.
    """
    kind, _, name = base.partition(" ")
    if not name:
        return None
    if kind == "sheet":
        return fresh_sheet(read_kept_sheet(state.library.folder, name))
    batch = read_batch(summary(state.path_of(name)).about.sheet)
    return None if batch is None else fresh_sheet(batch)


def answer(form: Form, base: Batch | None, recordings: Path) -> Answer:
    """The plan of what was typed, and what it changes of ``base``. Raises FieldError."""
    rows = oil_rows(form)
    said = Answer(form.ounces, 0.0 if base is None else base.scale_grams)
    if not rows:
        said.say["first"] = ["Name an oil and its part of all oils; the alkali and all else follow as you type."]
        return said
    plan = planned(form, base)
    said.step_g = plan.batch.scale_grams
    said.show["plan"] = True
    _say_charge(said, plan)
    _say_oils(said, plan)
    _say_product(said, plan)
    shelf = read_stock(recordings).shelf
    cost = plan_cost(plan, shelf)
    said.say["cost"] = [EMPTY_SHELF] if cost is None else list(cost_lines(cost))
    if base is not None:
        said.show["changes"] = True
        said.say["changes"] = list(batch_changes(base, plan.batch)) or ["Nothing is otherwise."]
    return said


def planned(form: Form, base: Batch | None) -> BatchPlan:
    """The plan of what was typed. base: where it began, which has what no field asks for. Raises FieldError."""
    strength = form.maybe_share("strength", "The strength", 2.0, 60.0)
    bottle_ml = form.number("bottle_ml", "The bottle", 5.0, 20_000.0, "mL", empty=250.0)
    try:
        return plan_batch(
            _sized(form, _recipe(form, base), strength, bottle_ml), soap_share=strength, bottle_ml=bottle_ml
        )
    except PlanError as error:
        raise refused_plan(form, error) from None
    except ValueError as error:
        raise form.told(error, PLACES) from None


def refused_plan(form: Form, error: PlanError) -> FieldError:
    """What a plan refuses, beside the field that it is about, for the caller to raise."""
    return form.refuse(FIELDS.get(error.about, ""), error.why)


def oil_rows(form: Form) -> list[Form]:
    """The rows in which an oil was named or measured."""
    return [row for row in form.rows("oils") if row.text("name", "Oil") or row.text("amount", "Its part")]


def _recipe(form: Form, base: Batch | None) -> Batch:
    """The batch before it is brought to its size."""
    begun = base or Batch("Untitled batch", (), Alkali("KOH", 0.9, 0.03), 0.0)
    alkali = replace(
        begun.alkali,
        assay=form.share("assay", "KOH in the flakes", 50.0, 100.0, empty=90.0),
        excess=form.share("excess", "Excess", -20.0, 50.0, empty=3.0),
    )
    oils = _oils(form)
    old_g = sum(oil.grams for oil in begun.oils)
    larger = sum(oil.grams for oil in oils) / old_g if old_g else 0.0
    batch = replace(
        begun,
        title=form.text("title", "Title", 200) or begun.title,
        oils=oils,
        alkali=alkali,
        glycerol_grams=begun.glycerol_grams * larger,
        cooker_litres=form.maybe("pot", "The pot", 0.5, 200.0, "L"),
    )
    return with_usual_water(batch, form.number("ratio", "Water to a gram of flakes", 0.5, 20.0, empty=3.0))


def _oils(form: Form) -> tuple[Oil, ...]:
    rows = oil_rows(form)
    names = [_named(row) for row in rows]
    values = [
        row.maybe("value", f"Saponification value of {name}", 50.0, 400.0, "mg KOH per g")
        for row, name in zip(rows, names, strict=True)
    ]
    if form.choice("by", "Oils by", AMOUNTS_BY) == "grams":
        grams = [row.grams("amount", name, 0.1) for row, name in zip(rows, names, strict=True)]
        return tuple(map(oil_of, names, grams, values))
    shares = [
        row.maybe_share("amount", f"The part of {name}", 0.0, 100.0) for row, name in zip(rows, names, strict=True)
    ]
    if shares.count(None) == 1:
        # What one share leaves is what a person would work out next.
        rest = max(0.0, round(1.0 - sum(share for share in shares if share is not None), 9))
        shares = [rest if share is None else share for share in shares]
    parts = [
        OilShare(name, row.share("amount", f"The part of {name}", 0.0, 100.0) if share is None else share, value)
        for row, name, share, value in zip(rows, names, shares, values, strict=True)
    ]
    return oils_by_share(parts, form.grams("oil_g", "The weight of all oils", 0.1, empty=1000.0))


def _named(row: Form) -> str:
    name = row.text("name", "Oil")
    if not name:
        raise row.refuse("name", "the oil has no name; write one of the table, such as rapeseed")
    if not row.text("value", "Saponification value"):
        try:
            oil_of(name, 1.0)
        except PlanError as error:
            raise row.refuse("name", error.why) from None
    return name


def _sized(form: Form, batch: Batch, strength: float | None, bottle_ml: float) -> Batch:
    size = form.choice("size", "How much of it", SIZES)
    if size == "pot":
        return scaled_to_pot(batch, form.number("pot", "The pot", 0.5, 200.0, "L"))
    if size == "bottles":
        count = form.number("count", "The number of bottles", 1.0, 10_000.0)
        # Strength and size do not depend on each other, so the pot is looked at only once the size is known.
        share = strength or plan_batch(replace(batch, cooker_litres=None)).dilution.soap_share
        return scaled_to_bottles(batch, count, bottle_ml, share)
    if size == "oil":
        name = form.text("at_hand", "The oil at hand") or batch.oils[0].name
        return scaled_to_oil(batch, name, form.grams("at_hand_g", f"The {name} at hand", 0.1))
    return batch


def _say_charge(said: Answer, plan: BatchPlan) -> None:
    made = plan.charge
    said.grams("koh", made.koh_g)
    said.grams("naoh", made.naoh_g)
    said.show["naoh"] = made.naoh_g > 0
    said.water("water", made.water_g)
    said.grams("oil", made.oil_g)
    said.grams("total", made.total_g)
    said.rows["oils"] = [
        (f"{name}, {percent(share)}", weight(each.grams, said.ounces, said.step_g))
        for each, (name, share) in zip(made.inputs.portions, plan.shares, strict=True)
    ]
    excess = made.excess
    said.out["excess"] = percent(excess.taken)
    said.out["likely"] = f"{percent(excess.likely_low)} to {percent(excess.likely_high)}"
    said.out["strength"] = percent(made.lye_strength)
    said.warn(made.cautions)
    if plan.fill is not None:
        said.out["filled"] = f"{plan.fill.filled:.0%} of {plan.fill.cooker_l:g} L ({plan.fill.batch_l:.2f} L)"
        said.warn(plan.fill.cautions)


def _say_oils(said: Answer, plan: BatchPlan) -> None:
    facts = plan.oils
    said.rows["groups"] = [(name.capitalize(), f"{share:.0%}") for name, share in facts.groups if share >= 0.005]
    if facts.iodine is not None:
        said.out["iodine"] = f"{facts.iodine.typical:.0f} ({facts.iodine.low:.0f} to {facts.iodine.high:.0f})"
    said.out["fluid"] = f"{facts.fluid_up_to:.0%} real soap"
    said.say["sources"] = list(facts.words)


def _say_product(said: Answer, plan: BatchPlan) -> None:
    diluted = plan.dilution
    said.water("dilute", diluted.water_g)
    said.grams("product", diluted.product_g)
    said.out["litres"] = f"{diluted.product_g / SOAP_KG_L / 1000.0:.2f} L"
    said.out["bottle_strength"] = f"{percent(diluted.soap_share)} real soap"
    if plan.bottles is not None:
        said.out["bottles"] = f"{plan.bottles.full} of {plan.bottles.bottle_ml:g} mL"
    said.say["words"] = list(plan.words)
