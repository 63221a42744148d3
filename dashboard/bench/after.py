"""Beside the pot and after it: the clarity sample, additions, bottles, the label."""

from collections.abc import Sequence

from dashboard.bench.form import Form
from dashboard.bench.pot import Made, say_pot
from dashboard.components.bench_words import Answer, percent
from monitor.formulation import (
    SETTLING_ADVICE,
    Additive,
    ClaritySample,
    Label,
    additive_amounts,
    bottles,
    ingredient_label,
    size_clarity_sample,
    us_fluid_ounces,
)
from monitor.model import Event

PLACES = {
    "soap_g": ("soap", "Soap"),
    "additions_percent": ("additions", "The sum of the additions"),
    "kg_l": ("kg_l", "The soap's density"),
    "contents_ml": ("contents_ml", "The volume in a bottle"),
}


def sample_of(form: Form) -> ClaritySample:
    """The clarity sample of this page. Raises FieldError."""
    return size_clarity_sample(form.grams("sample", "The sample", 1.0, 200.0))


def sample_answer(form: Form) -> Answer:
    """Boiling water for the sample. Raises FieldError."""
    said = Answer(form.ounces)
    sample = sample_of(form)
    said.water("water", sample.water_g)
    said.warn(sample.cautions)
    return said


def bottles_answer(form: Form, made: Made | None) -> Answer:
    """What to weigh of each addition, and how many bottles are filled. Raises FieldError.

    made: the cook, whose pot is taken where no weight of soap is typed; None where there is none.
    """
    said = Answer(form.ounces)
    if made is not None:
        say_pot(said, made.now)
    soap_g = form.grams("soap", "Soap", 1.0, 1e5, empty=made.now.pot.total_g if made else None)
    rows = [row for row in form.rows("additions") if row.text("what", "What is added")]
    wanted = tuple(_addition(row) for row in rows)
    try:
        added = additive_amounts(soap_g, wanted)
    except ValueError as error:
        raise form.told(error, PLACES) from None
    for row, each in zip(rows, added.grams, strict=True):
        said.grams(f"{row.place}grams", each.grams)
    said.grams("product", added.product_g)
    said.warn(added.cautions)
    filled = bottles(
        added.product_g,
        form.number("bottle_ml", "A bottle", 5.0, 20_000.0, "mL", empty=250.0),
        form.number("kg_l", "The soap's density", 0.9, 1.2, "kg/L", empty=1.02),
    )
    over = f" ({us_fluid_ounces(filled.over_ml):.1f} US fl oz)" if said.ounces else ""
    said.out["bottles"] = str(filled.full)
    said.out["over"] = f"{filled.over_ml:.0f} mL{over}"
    said.say["after"] = list(SETTLING_ADVICE)
    return said


def _addition(row: Form) -> Additive:
    what = row.text("what", "What is added")
    most = row.number("most", f"The most of {what} that its supplier states", 0.0, 50.0, "%")
    return Additive(what, row.number("percent", what, 0.0, most, "%"), most)


def keeping_of(form: Form) -> dict[str, object]:
    """What an assessment says of the keeping, for the log. Raises FieldError."""
    preservative = form.text("preservative", "The preservative", 120)
    months = form.maybe("months", "The time it keeps", 0.0, 120.0, "months")
    assessed_by = form.text("assessed_by", "Who assessed it", 120)
    if months is not None and not assessed_by:
        raise form.refuse("assessed_by", "say whose assessment says how long it keeps")
    said = {"preservative": preservative, "months": months, "assessed_by": assessed_by}
    found: dict[str, object] = {name: value for name, value in said.items() if value not in (None, "")}
    if not found:
        raise form.refuse("preservative", "nothing of its keeping is typed yet")
    return found


def keeping_words(events: Sequence[Event]) -> str:
    """The label's line on the keeping, by the latest assessment in the log; empty where none says how long."""
    said = [event.fields for event in events if event.kind == "keeping"]
    months = said[-1].get("months") if said else None
    return f"Use within {months:g} months of filling" if isinstance(months, float) else ""


def label_of(form: Form, made: Made, title: str, lot: str) -> Label:
    """The label of this page. Raises FieldError."""
    return ingredient_label(
        made.charge,
        made.now.pot,
        title=form.text("title", "The name on the label", 200) or title,
        lot=form.text("lot", "The lot") or lot,
        made=form.text("made", "The date"),
        contents_ml=form.number("contents_ml", "The volume in a bottle", 5.0, 20_000.0, "mL", empty=250.0),
        as_put_in=form.choice("list_of", "The list", ("bottle", "pot")) == "pot",
    )


def label_answer(form: Form, made: Made, title: str, lot: str, events: Sequence[Event] = ()) -> Answer:
    """The label's text. Raises FieldError."""
    said = Answer(form.ounces)
    say_pot(said, made.now)
    found = label_of(form, made, title, lot)
    fluid = f" ({us_fluid_ounces(found.contents_ml):.1f} US fl oz)" if said.ounces else ""
    said.out["label_title"] = found.title
    said.out["label_contents"] = f"{found.contents_ml:g} mL{fluid}"
    said.out["label_lot"] = f"Lot {found.lot}" if found.lot else ""
    said.out["label_made"] = f"Made {found.made}" if found.made else ""
    said.out["label_keeping"] = keeping_words(events)
    said.out["label_common"] = f"Ingredients: {found.common_list}."
    said.out["label_listed"] = f"Ingredients: {found.listed}."
    said.say["shares"] = [f"{percent(each.share, 2)}  {each.common}" for each in found.ingredients]
    said.warn(found.cautions)
    return said
