"""The jar: portions of stock, what each did, and the pot's dose from them."""

from dashboard.bench.jar import PAGES, last_jar, stock_reagents
from dashboard.bench_pages.facts import BenchFacts, SumPage, figure
from dashboard.bench_pages.pot import borates
from dashboard.components.fields import Fields
from dashboard.components.results import Results, section
from dashboard.components.tags import Component, html
from monitor.formulation import thickener_names

ABOUT = {
    "jar": "A jar of product, measured portions of stock, and after each a pH of the same strength.",
    "thicken": "The same volume through the same opening at the same temperature: the seconds tell how thick it is.",
}
STOCKS = {"jar": "Reagent in the stock", "thicken": "Salt or borax in the stock"}
POT = "The pot; empty: by the log, less the jar"


def _page(name: str) -> SumPage:
    field = PAGES[name].name

    def names() -> list[str]:
        return list(stock_reagents() if name == "jar" else thickener_names())

    def first(facts: BenchFacts) -> dict[str, object]:
        jar = last_jar(facts.events, PAGES[name].kind)
        return {
            "jar_g": figure(jar.jar_g) if jar else "100",
            field: jar.what if jar else names()[0],
            "stock_percent": figure(jar.stock_percent) if jar else "",
            "look": "clear",
        }

    return SumPage(
        first=first,
        inputs=lambda fields, _facts: _inputs(name, names(), fields),
        results=_results,
        top=lambda results: [results.weigh("first", "Stock to the pot first")],
        weights=frozenset(("jar_g", "portion", "pot_g")),
        chart=("bench-jar", 320, "A disc was clear, a square cloudy."),
    )


def _inputs(name: str, options: list[str], fields: Fields) -> list[Component]:
    measured = (
        fields.number("ph", "pH, read as for the pot")
        if name == "jar"
        else fields.number("run_out", "It ran out in", "s", weighed=True)
    )
    wanted = (
        fields.number("end_ph", "pH to stop at; empty: as good soap reads")
        if name == "jar"
        else fields.number("wanted", "Run-out wanted; empty: the thickest", "s")
    )
    return [
        html.P(ABOUT[name]),
        section(
            "Portion by portion",
            fields.number("portion", "This portion of stock; empty: none yet", "g", weighed=True),
            measured,
            fields.choice("look", "It looks", [("clear", "clear"), ("cloudy", "cloudy")]),
            fields.keep(name, "Log this portion"),
            fields.keep(name, "It is a new jar: log it as the first", name="new-jar", second=True, new_jar=True),
        ),
        section(
            "The jar and the stock",
            fields.number("jar_g", "Product in the jar, I weighed", "g", weighed=True),
            fields.pick(PAGES[name].name, STOCKS[name], options),
            borates(fields, fields.text(PAGES[name].name)),
            fields.number("stock_percent", "Strength of the stock", "%"),
        ),
        section("For the pot", wanted, fields.number("pot_g", POT, "g"), fields.refusal("cook")),
    ]


def _results(results: Results) -> list[Component]:
    facts = results.facts(
        ("dry", "Of it dry"),
        ("range", "Stock in all"),
        ("target", "pH to stop at"),
        ("most", "Never more than"),
        ("slope", "A gram in the jar"),
        ("peak", "The peak"),
        ("thickest", "Thickest so far"),
    )
    return [
        *results.care("jar.reagent_g", "jar.stock_g"),
        *([facts] if results.shows("result") else []),
        results.said("result"),
        section("In this jar", results.facts(("so_far", "Stock so far")), results.said("readings")),
    ]


JAR, THICKEN = _page("jar"), _page("thicken")
