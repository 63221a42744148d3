"""The page on which it is said how a batch looks after its week of rest."""

from dashboard.bench.outcome import NOT_SAID
from dashboard.bench_pages.facts import BenchFacts, SumPage, figure
from dashboard.components.fields import Fields
from dashboard.components.results import Results, section
from dashboard.components.tags import Component
from monitor.model import LATHERS, OUTCOME_LOOKS, THICKNESSES


def _first(facts: BenchFacts) -> dict[str, object]:
    """What was said last, to go on from."""
    last = next((event.fields for event in reversed(facts.events) if event.kind == "outcome"), {})
    below_c = last.get("cloudy_below_c")
    return {
        "look": str(last.get("look", NOT_SAID)),
        "lather": str(last.get("lather", NOT_SAID)),
        "thickness": str(last.get("thickness", NOT_SAID)),
        "cloudy_below_c": figure(below_c) if isinstance(below_c, float) else "",
        "complaints": str(last.get("complaints", "")),
        "note": "",
    }


def _options(words: tuple[str, ...], none: str) -> list[tuple[str, str]]:
    return [(NOT_SAID, none), *((word, word.capitalize()) for word in words)]


def _inputs(fields: Fields, _facts: BenchFacts) -> list[Component]:
    return [
        fields.choice("look", "Against print, at room temperature", _options(OUTCOME_LOOKS, "–")),
        fields.choice("lather", "Lather", _options(LATHERS, "–")),
        fields.pick("thickness", "Thickness", (NOT_SAID, *THICKNESSES)),
        fields.number("cloudy_below_c", "Turns cloudy below", "°C"),
        fields.line("complaints", "Complaints"),
        fields.line("note", "Note"),
        fields.keep("outcome", "Log how it is"),
    ]


def _results(results: Results) -> list[Component]:
    return [section("Next", results.said("next")), *results.care("keeping")]


OUTCOME = SumPage(first=_first, inputs=_inputs, results=_results)
