"""The bench: the sums of a batch in the order of the work, for one cook."""

from collections.abc import Mapping
from types import MappingProxyType

from dashboard.bench_pages.facts import bench_facts
from dashboard.components import parts
from dashboard.components.tags import Component, html
from dashboard.components.viewer import time_of
from dashboard.live.app_state import current_state

PATH = "/bench"
TITLE = "Bench"
# Before the day of the cook.
PLANS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "plan": ("Plan a batch", "Its oils, its size, what it gives and costs"),
        "day": ("Plan the day", "When to start, stir, check and bottle; or the latest start"),
        "sheets": ("Kept sheets", "Batches to come: their day, and a cook with them"),
    }
)
# In the order of the work. Name in the address -> (what the page is called, what it is for).
SUMS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "charge": ("Weigh the charge", "Oils, potassium hydroxide and water"),
        "oils": ("Oils table", "Ranges, sources, and how each row was seen"),
        "sample": ("Clarity sample", "Boiling water for a spoon of paste, and what is seen"),
        "paste": ("Paste sample in the cook", "A gram of paste, titrated: how much alkali is still free"),
        "dilute": ("Dilute", "Water for a strength"),
        "neutralise": ("Neutralise", "Titration or pH, what to add and when to stop"),
        "jar": ("Jar test", "Portions of stock in a jar, and the pot's dose"),
        "thicken": ("Thicken", "Salt portions in a jar, and where it is thickest"),
        "bottle": ("Settle and bottle", "A reminder, additions, bottles"),
        "label": ("Label", "Ingredients, lot and date"),
        "outcome": ("After the week", "Clear or hazy, lather, thickness, complaints"),
        "haze": ("Haze", "A batch that stayed hazy: causes, and what can be done"),
        "stock": ("Stock", "Lots on the shelf, what a batch takes and costs"),
    }
)
MAX_OTHERS = 12


def layout(cook: str = "", **_others: object) -> parts.Page:
    """A list of the pages, and of the other cooks that they can work on."""
    state = current_state()
    with state.lock:
        facts = bench_facts(state, cook or None)
    asked = f"?cook={facts.name}" if facts.name else ""
    ways = [_way(words, about, f"/bench/{name}{asked}") for name, (words, about) in SUMS.items()]
    if facts.name:
        ways.append(_way("Batch record", "One page to print", f"/record/{facts.name}"))
    new = parts.link("Weigh the charge of a new batch", "/bench/charge")
    others = [
        _way(each.title, time_of(each.about.started, day=True), f"/bench?cook={each.path.stem}")
        for each in facts.others[:MAX_OTHERS]
    ]
    none = "There is no cook yet; the charge can be worked out all the same."
    return parts.still(
        parts.head(TITLE),
        html.Ul([_way(words, about, f"/bench/{name}") for name, (words, about) in PLANS.items()], className="ways"),
        html.H2("The sums of a cook"),
        html.P(facts.title or none, className="of"),
        *([html.P(new, className="plain")] if facts.name and not facts.running else []),
        html.Ul(ways, className="ways"),
        *([html.H2("Another cook"), html.Ul(others, className="ways")] if others else []),
        title=TITLE,
    )


def _way(words: str, about: str | Component, to: str) -> Component:
    return html.Li(html.A([html.Strong(words), html.Span(about)], href=to))
