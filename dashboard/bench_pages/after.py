"""Beside the pot and after it: the clarity sample, bottles and additions, the label."""

from typing import Any

from dashboard.bench_pages.facts import BenchFacts, SumPage
from dashboard.bench_pages.pot import PASTE_WEIGHTS, paste, pot
from dashboard.components.fields import Fields, act, folded, pair
from dashboard.components.results import Results, section
from dashboard.components.tags import Component, html
from monitor.formulation import CLARITY_LOOKS


def _sample_inputs(fields: Fields, _facts: BenchFacts) -> list[Component]:
    return [
        fields.number("sample", "Paste on the spoon", "g", weighed=True),
        html.P("Stir until it is dissolved, let the froth settle, and hold it against print or a light."),
        section(
            "What is seen",
            html.Div([_look(fields, look) for look in CLARITY_LOOKS], className="looks"),
            html.P("What the looks mean is common practice, no source.", className="why"),
        ),
    ]


def _look(fields: Fields, look: Any) -> Component:
    from monitor.plots import glass_address  # slow to load, and of this page alone

    logged = f"Log it: {look.seen}" + ("" if look.seen == look.result else f", as {look.result}")
    words = html.P([html.Strong(f"{look.seen.capitalize()}:"), f" {look.means}. {look.then}"])
    keep = fields.keep("seen", logged, name=f"seen-{look.seen.replace(' ', '-')}", seen=look.seen)
    drawn = html.Img(
        src=glass_address(look.result), alt=f"A glass before print, {look.result}", className="glass-drawn"
    )
    return html.Div([drawn, html.Div([one for one in (words, keep) if one is not None])], className="look")


def _bottle_inputs(fields: Fields, facts: BenchFacts) -> list[Component]:
    with_sheet = facts.batch is not None and bool(facts.batch.oils)
    filled = [
        pair(
            fields.number("bottles_filled", "Bottles I filled", weighed=True),
            fields.number("bottled_g", "Soap in them, I weighed", "g", weighed=True),
        ),
        fields.keep("bottled", "They are filled: log it"),
    ]
    settle = f"/bench/settling.ics?cook={facts.name}"
    reminder = html.A("A reminder for the phone's calendar, in a week", href=settle, className="button")
    return [
        section(
            "Additions",
            fields.number(
                "soap", "Soap before them, if weighed" if with_sheet else "Soap before them", "g", weighed=True
            ),
            [_addition(row) for row in fields.rows("additions")],
            act("more", "additions", "Another addition"),
            fields.refusal("additions"),
        ),
        section(
            "Bottles",
            pair(fields.number("bottle_ml", "Into one", "mL"), fields.number("kg_l", "A litre weighs", "kg")),
            filled if fields.keeps else [],
        ),
        *([section("Let it settle", reminder), keeping(fields)] if facts.name else []),
        *([folded("The paste, if it was weighed", *[one for one in paste(fields) if one])] if with_sheet else []),
    ]


def keeping(fields: Fields) -> Component:
    """What an assessment says of the keeping."""
    return folded(
        "Keeping, by a qualified person's assessment",
        fields.line("preservative", "Preservative, and how much"),
        fields.number("months", "Keeps from filling on", "months"),
        fields.line("assessed_by", "Assessed by"),
        *[one for one in (fields.keep("keeping", "Log this", second=True),) if one is not None],
    )


def _addition(row: Fields) -> Component:
    inside = [
        row.line("what", "What"),
        pair(row.number("percent", "Of the whole", "%"), row.number("most", "Supplier's limit", "%")),
        row.number("weighed", "I weighed", "g", weighed=True),
        row.keep("added", "It went in: log it", grams_of="weighed"),
        act("less", row.row, "Take this addition out"),
    ]
    return html.Div([one for one in inside if one is not None], className="row")


def _bottle_results(results: Results) -> list[Component]:
    return [
        *results.care("grams"),
        results.facts(("over", "And over"), ("product", "Soap in all")),
        section("Let it settle", results.said("after")),
        *([pot(results)] if results.there and results.out("pot") else []),
    ]


def _bottle_top(results: Results) -> list[Component]:
    rows = [f"additions.{number}.grams" for number in range(20)]
    weighed = [
        results.weigh(row, f"Addition {n}") for n, row in enumerate(rows, 1) if results.there and results.out(row)
    ]
    return [*weighed, results.weigh("bottles", "Full bottles")]


def _label_inputs(fields: Fields, _facts: BenchFacts) -> list[Component]:
    lists = [("bottle", "what is in the bottle"), ("pot", "what went into the pot")]
    return [
        fields.line("title", "Name"),
        pair(fields.line("lot", "Lot"), fields.line("made", "Made")),
        fields.number("contents_ml", "Contents", "mL"),
        fields.choice("list_of", "The list names", lists),
        fields.refusal("cook"),
        folded("The paste, if it was weighed", *[one for one in paste(fields) if one is not None]),
        html.Button("Print the label", id="bench-print", type="button"),
    ]


def _label_results(results: Results) -> list[Component]:
    lines = ("label_contents", "label_lot", "label_made", "label_keeping", "label_common", "label_listed")
    inside = [
        html.P(results.out("label_title"), className="label-title"),
        *(html.P(results.out(line), **{"data-out": line}) for line in lines if results.out(line)),
    ]
    return [
        html.Section(inside, className="label", **{"aria-label": "The label"}),
        *results.care("ingredients"),
        folded("Shares", html.Div(results.said("shares"), className="shares")),
    ]


def _label_first(facts: BenchFacts) -> dict[str, object]:
    batch = facts.batch
    return {
        "title": batch.title if batch else "",
        "lot": batch.lot if batch else "",
        "contents_ml": "250",
        "list_of": "bottle",
    }


SAMPLE = SumPage(
    first=lambda _facts: {"sample": "5"},
    inputs=_sample_inputs,
    results=lambda results: results.care("sample_g", "water_g"),
    top=lambda results: [results.weigh("water", "Boiling water")],
    weights=frozenset(("sample",)),
)
BOTTLE = SumPage(
    first=lambda _facts: {"bottle_ml": "250", "kg_l": "1.02", "additions": [{}]},
    inputs=_bottle_inputs,
    results=_bottle_results,
    top=_bottle_top,
    weights=PASTE_WEIGHTS | {"soap", "weighed", "bottled_g"},
)
LABEL = SumPage(first=_label_first, inputs=_label_inputs, results=_label_results, weights=PASTE_WEIGHTS)
