"""The page of a batch that stayed hazy."""

from dashboard.bench.haze import MOST_STEPS
from dashboard.bench_pages.facts import BenchFacts, SumPage
from dashboard.components.fields import Fields
from dashboard.components.results import Results, section
from dashboard.components.tags import Component
from monitor.formulation import TRIALS


def _inputs(fields: Fields, _facts: BenchFacts) -> list[Component]:
    trials = [(trial, trial.capitalize()) for trial in TRIALS]
    return [
        fields.choice("warmed", "A jar of it, warmed to 50 °C", trials),
        fields.choice("thinned", "A spoon in twice its weight of warm distilled water", trials),
        fields.number("hardness", "Hardness of the water, if from the tap", "°dH"),
        fields.number("tap_water", "Tap water in it; empty: all its water", "g"),
        fields.refusal("cook"),
    ]


def _results(results: Results) -> list[Component]:
    steps = [
        section(f"{n + 1}. {results.out(f'step{n}')}", results.said(f"step{n}"), results.care(f"step{n}"))
        for n in range(MOST_STEPS)
        if results.there and results.out(f"step{n}")
    ]
    return [
        section("What the sums leave open", results.said("causes")),
        results.facts(("lime", "Soap that hard water has bound")),
        *steps,
    ]


HAZE = SumPage(
    first=lambda _facts: {"warmed": TRIALS[0], "thinned": TRIALS[0], "hardness": "", "tap_water": ""},
    inputs=_inputs,
    results=_results,
    weights=frozenset(("tap_water",)),
)
