"""The pot: dilution, what neutralises it, and a paste sample while it cooks."""

from dashboard.bench.pot import reagent_names
from dashboard.bench_pages.facts import BenchFacts, SumPage, figure
from dashboard.components.fields import Fields, folded, pair
from dashboard.components.results import Results, section
from dashboard.components.tags import Component, html
from monitor.formulation import (
    ACID_STRENGTH,
    PASTE_STEPS,
    TITRATION_STEPS,
    borate_warning,
    last_ph,
    last_titration,
)

TARGETS = {
    "soap": ("real soap", "Real soap", "%"),
    "paste": ("paste in the product", "Paste in the product", "%"),
    "water": ("water to add", "Water to add", "g"),
}
PASTE_WEIGHTS = frozenset(("paste_weighed", "water_lost"))


def pot(results: Results) -> Component:
    """What is in the pot."""
    facts = results.facts(("pot", "All of it"), ("pot_soap", "Real soap"), ("pot_paste", "Paste"))
    return section("In the pot, by the log", facts, results.said("pot"))


def paste(fields: Fields) -> list[Component]:
    """The paste's weight, which is the surest word on the water that boiled off."""
    return [
        fields.number("paste_weighed", "Undiluted paste, I weighed", "g", weighed=True),
        fields.number("water_lost", "Or: water boiled off", "g"),
        fields.keep("paste", "Log this weight"),
    ]


def steps(words: str, all_steps: tuple[str, ...] | list[str]) -> Component:
    """How a thing is done, on demand."""
    return folded(words, html.Ol([html.Li(step) for step in all_steps], className="steps"))


def borates(fields: Fields, reagent: str) -> list[Component]:
    """The statement before borates are dosed, where one is chosen."""
    warning = borate_warning(reagent) if reagent in reagent_names() else None
    if warning is None:
        return []
    return [html.P(warning, className="care"), fields.tick("warning_read", "I have read this warning")]


def _dilute_inputs(fields: Fields, _facts: BenchFacts) -> list[Component]:
    _, words, unit = TARGETS[fields.text("target_by") or "soap"]
    return [
        section(
            "Target",
            fields.choice("target_by", "Told as", [(way, told[0]) for way, told in TARGETS.items()]),
            fields.number("target", words, unit),
            fields.refusal("cook"),
        ),
        section("The paste", *paste(fields)),
        section(
            "What went in",
            fields.number("added", "I weighed", "g", weighed=True),
            fields.keep("water", "It went in: log it"),
        ),
    ]


def _dilute_results(results: Results) -> list[Component]:
    return [
        results.facts(
            ("first", "First, two thirds of it"),
            ("product", "In all then"),
            ("soap", "Real soap"),
            ("paste", "Paste in the product"),
            ("after", "What went in makes"),
        ),
        *results.care("product_g"),
        results.said("dilution"),
        results.said("fluid"),
        pot(results),
    ]


def _neutralise_first(facts: BenchFacts) -> dict[str, object]:
    read, run_in = last_ph(facts.events), last_titration(facts.events)
    return {
        "ph": figure(read.ph) if read else "",
        "sample_percent": figure(read.sample_percent) if read else "1",
        "sample_c": figure(read.temperature_c) if read else "25",
        "reagent": reagent_names()[0],
        "stock_c": "20",
        "ground": "titration" if run_in else "ph",
        "acid_ml": figure(run_in.acid_ml) if run_in else "",
        "acid_mol_l": figure(run_in.acid_mol_l) if run_in else "0.1",
        "titrated_g": figure(run_in.sample_g) if run_in else "10",
    }


def _neutralise_inputs(fields: Fields, _facts: BenchFacts) -> list[Component]:
    reagent = fields.text("reagent")
    ground = fields.text("ground")
    ends = ground == "ph" or borate_warning(reagent) is not None
    in_already = fields.keep("neutraliser", "It is in already: log it all the same", name="in-already", in_already=True)
    stock = [
        pair(fields.number("stock_reagent", "Reagent in it", "g"), fields.number("stock_water", "Water in it", "g")),
        fields.number("stock_c", "It stands at", "°C"),
    ]
    grounds = [("ph", "the pH alone"), ("excess", "the charge"), ("titration", "a titration")]
    return [
        section(
            "pH of a cooled sample",
            fields.number("ph", "pH"),
            pair(
                fields.number("sample_percent", "Soap in the sample", "%"),
                fields.number("sample_c", "Its temperature", "°C"),
            ),
            fields.keep("ph", "Log this pH"),
            fields.refusal("cook"),
        ),
        section(
            "With what",
            fields.pick("reagent", "Reagent", reagent_names()),
            borates(fields, reagent),
            fields.number("end_ph", "pH to stop at; empty: as good soap reads") if ends else None,
            folded("A stock solution", *stock),
        ),
        section(
            "How much alkali is over",
            fields.choice("ground", "Known by", grounds),
            _titration(fields) if ground == "titration" else [],
        ),
        section(
            "What went in",
            fields.number("given", "I weighed, dry", "g", weighed=True),
            fields.keep("neutraliser", "It went in: log it"),
            None if in_already is None else folded("More than was said", in_already),
        ),
        folded("The paste, if it was weighed", *[one for one in paste(fields) if one is not None]),
    ]


def _titration(fields: Fields) -> list[Component]:
    return [
        fields.number("acid_ml", "Acid run in", "mL", weighed=True),
        pair(
            fields.number("acid_mol_l", "Its H+ in a litre", "mol"),
            fields.number("titrated_g", "Soap in the flask", "grams"),
        ),
        html.P(ACID_STRENGTH, className="why"),
        fields.keep("titrated", "Log this titration"),
        steps("How to titrate", TITRATION_STEPS),
    ]


def _neutralise_top(results: Results) -> list[Component]:
    if results.shows("next"):
        return [results.weigh("next", "Next dose")]
    if results.shows("dose"):
        return [results.weigh("least", "The safe end of the dose")]
    return [results.weigh("decision", "By this pH")] if results.shows("decision") else []


def _neutralise_results(results: Results) -> list[Component]:
    over = [html.P(one.children, className="over", role="alert") for one in results.said("given").children]
    parts = [
        html.Li([results.weigh(f"part{n}", f"Part {n}"), results.said(f"part{n}")])
        for n in (1, 2)
        if results.shows("parts") and results.out(f"part{n}")
    ]
    decision = [results.weigh("decision", "By this pH", "decision.ph")] if results.shows("decision") else []
    return [
        *over,
        *results.care("next.reagent_g", "dose.reagent_g", "acid_ml"),
        *(
            [
                results.facts(
                    ("target", "pH to stop at"), ("needed", "Still needed"), ("response", "For a tenth of a pH")
                )
            ]
            if results.shows("needed")
            else []
        ),
        results.said("next"),
        *decision,
        results.said("decision"),
        results.facts(
            ("range", "May be right"), ("over", "KOH over"), ("titrated", "Free KOH"), ("stock", "The stock")
        ),
        *([html.Ol(parts, className="parts")] if parts else []),
        results.said("ph_now", "ph_after", "dose", "stock"),
        pot(results),
    ]


def _sample_inputs(fields: Fields, _facts: BenchFacts) -> list[Component]:
    return [
        section(
            "The sample",
            fields.refusal("cook"),
            steps("How to take it", PASTE_STEPS),
            fields.number("titrated_g", "Paste in the flask", "grams", weighed=True),
            fields.number("acid_mol_l", "The acid's H+ in a litre", "mol"),
        ),
        section(
            "What it took",
            fields.number("acid_ml", "Acid run in", "mL", weighed=True),
            fields.number("minutes_ago", "Taken so many minutes ago", "min"),
            fields.keep("paste sample", "Log this paste sample"),
        ),
    ]


def _sample_results(results: Results) -> list[Component]:
    found = results.facts(("free", "Free KOH in the paste"), ("converted", "Soap by the weights"))
    return [
        *results.care("sample_g", "acid_ml"),
        *([section("Found", found, results.said("found"))] if results.shows("found") else []),
        section("To expect", results.said("expected")),
    ]


DILUTE = SumPage(
    first=lambda _facts: {"target_by": "soap", "target": "25"},
    inputs=_dilute_inputs,
    results=_dilute_results,
    top=lambda results: [results.weigh("water", "Hot water to add", "water_g")],
    weights=PASTE_WEIGHTS | {"added"},
    weight_if={"target": ("target_by", "water")},
)
NEUTRALISE = SumPage(
    first=_neutralise_first,
    inputs=_neutralise_inputs,
    results=_neutralise_results,
    top=_neutralise_top,
    weights=PASTE_WEIGHTS | {"given", "stock_reagent", "stock_water"},
)
PASTE = SumPage(
    first=lambda _facts: {"titrated_g": "1", "acid_mol_l": "0.1", "minutes_ago": "0"},
    inputs=_sample_inputs,
    results=_sample_results,
    top=lambda results: [results.weigh("acid", "Acid to expect")],
)
