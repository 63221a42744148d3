"""The charge: what goes in, what to weigh, and what it amounts to."""

from dashboard.bench.charge import answer
from dashboard.bench.form import FieldError, Form
from dashboard.bench_pages.facts import BenchFacts, SumPage, as_number, figure
from dashboard.components.fields import Fields, act, folded, pair
from dashboard.components.results import Results, section
from dashboard.components.sending import sender
from dashboard.components.tags import Component, html
from monitor.chemistry import all_oils, other_names
from monitor.runtime import MonitorError

MORE = "More: carbonate, NaOH, glycerol, scale, cooker, lots"
WATER = {
    "grams": ("weight", "Water", "g"),
    "strength": ("strength of the lye", "Alkali in the whole lye", "%"),
    "ratio": ("times the flakes", "Grams of water to a gram of flakes", "×"),
}


def _first(facts: BenchFacts) -> dict[str, object]:
    batch = facts.batch
    form: dict[str, object] = {"assay": "90", "excess": "3", "water_by": "ratio", "water": "2", "naoh_assay": "98"}
    form |= {"scale": "1", "start_c": "20", "oils": [{}]}
    if batch is None:
        return form
    alkali, weighed = batch.alkali, facts.weighed
    form["oils"] = [
        {
            "name": oil.name,
            "grams": figure(oil.grams, 6),
            "weighed": figure(weighed.get(oil.name), 6),
            "value": figure(oil.saponification_value) if oil.certified else "",
            "lot": oil.lot,
        }
        for oil in batch.oils
    ] or [{}]
    return form | {
        "assay": figure(100.0 * alkali.assay),
        "excess": figure(100.0 * alkali.excess),
        "water_by": "grams",
        "water": figure(batch.water_grams, 6),
        "carbonate": figure(100.0 * alkali.carbonate or None),
        "naoh_share": figure(100.0 * alkali.naoh_share or None),
        "naoh_assay": figure(100.0 * alkali.naoh_assay),
        "glycerol": figure(batch.glycerol_grams or None, 6),
        "scale": figure(batch.scale_grams),
        "cooker": figure(batch.cooker_litres),
        "title": batch.title,
        "lot": batch.lot,
        "koh_lot": alkali.lot,
        "koh_weighed": figure(alkali.grams, 6),
        "naoh_weighed": figure(alkali.naoh_grams, 6),
        "water_weighed": figure(weighed.get("water for the lye"), 6),
    }


def _oil(row: Fields) -> Component:
    more = [
        row.number("value", "Saponification value by its certificate", "mg/g"),
        row.line("lot", "Lot"),
        act("less", row.row, "Take this oil out"),
    ]
    weights = pair(row.number("grams", "To weigh", "g"), row.number("weighed", "I weighed", "g", weighed=True))
    return html.Div(
        [row.line("name", "Oil", "oil-names"), weights, folded("Certificate and lot", *more)], className="row"
    )


def _inputs(fields: Fields, facts: BenchFacts) -> list[Component]:
    names = sorted({each for row in all_oils() for each in (row.name, *other_names(row))})
    _, words, unit = WATER[fields.text("water_by") or "grams"]
    scale = [
        fields.number("scale_to", "Oils in all, from now on", "g"),
        html.P("Every oil and glycerol in proportion; water too where it goes by weight.", className="why"),
        act("scale", "", "Scale to this"),
    ]
    return [
        html.Datalist([html.Option(value=name) for name in names], id="oil-names"),
        section(
            "Oils",
            [_oil(row) for row in fields.rows("oils")],
            fields.refusal("oils"),
            act("more", "oils", "Another oil"),
            html.A("Oils table", href="/bench/oils", className="way"),
            folded("Make more or less of it", *scale),
        ),
        section(
            "What is wished for",
            pair(fields.number("assay", "KOH in the flakes", "%"), fields.number("excess", "Excess", "%")),
            fields.choice("water_by", "Water by", [(way, told[0]) for way, told in WATER.items()]),
            fields.number("water", words, unit),
            folded(MORE, *_seldom(fields)),
        ),
        section("Weighed", *_weighed(fields)),
        section("Start or keep", *_ends(fields, facts)),
    ]


def _seldom(fields: Fields) -> list[Component]:
    return [
        fields.number("carbonate", "Carbonate in the flakes", "%"),
        fields.tick("assay_is_total", "The certificate's assay counts the carbonate too"),
        pair(
            fields.number("naoh_share", "Part met by NaOH", "%"), fields.number("naoh_assay", "NaOH in its flakes", "%")
        ),
        pair(
            fields.number("glycerol", "Glycerol with the oils", "g"),
            fields.number("scale", "Scale shows steps of", "grams"),
        ),
        pair(fields.number("cooker", "Cooker, to the rim", "L"), fields.number("start_c", "Water and flakes at", "°C")),
        fields.line("title", "Title of the batch"),
        pair(fields.line("lot", "Lot of the batch"), fields.line("koh_lot", "Lot of the KOH")),
    ]


def _weighed(fields: Fields) -> list[Component]:
    with_naoh = bool(as_number(fields.text("naoh_share"))) or bool(fields.text("naoh_weighed"))
    naoh = fields.number("naoh_weighed", "NaOH, I weighed", "g", weighed=True)
    return [
        pair(
            fields.number("koh_weighed", "KOH flakes, I weighed", "g", weighed=True),
            fields.number("water_weighed", "Water, I weighed", "g", weighed=True),
        ),
        naoh if with_naoh else folded("NaOH", naoh),
    ]


def _ends(fields: Fields, facts: BenchFacts) -> list[Component]:
    waits = "" if facts.running else " A cook started here waits for the logger, on the computer beside the cooker."
    begin = sender(
        "bench-begin", "Start a cook with this sheet", "/bench/begin", {"with": {}}, gathers=True, className="keep"
    )
    return [
        *([] if facts.running else [begin]),
        fields.keep("sheet", "Keep this as the batch sheet"),
        html.Button("Save the sheet as a file", id="bench-file", type="button"),
        html.P(f"A file for “kettleside start --batch”.{waits}", className="why"),
    ]


def _top(results: Results) -> list[Component]:
    naoh = [results.weigh("naoh", "NaOH")] if results.shows("naoh") else []
    return [results.weigh("koh", "KOH flakes"), *naoh, results.weigh("water", "Water")]


def _results(results: Results) -> list[Component]:
    return [
        *results.care("koh_g", "naoh_g", "water_g"),
        section("True excess", *_excess(results)) if results.there else html.Div(),
        section("Lye", *_lye(results)),
        section(
            "Into the cooker",
            results.weigh("total", "Everything, to blend", "total_g"),
            results.facts(("oil", "Oils in all"), ("filled", "Cooker"), ("batch_l", "It takes")),
            *results.care("filled"),
        ),
        folded("What these oils are", results.said("oils"), *_about(results)),
    ]


def _lye(results: Results) -> list[Component]:
    heat = [results.weigh("parts", "Add the flakes")] if results.shows("heat") else []
    return [
        *heat,
        results.facts(("hottest", "All at once it would reach"), ("strength", "Strength of the lye")),
        results.said("heat"),
    ]


def _about(results: Results) -> list[Component]:
    found = [results.out(f"oils.{number}.about") for number in range(20)]
    return [html.P(words, className="why") for words in found if words and results.there]


def _excess(results: Results) -> list[Component]:
    bar = results.bar()
    marks = [
        ("ends", bar["least"], bar["most"]),
        ("likely", bar["likely_low"], bar["likely_high"]),
        ("nought", bar["nought"], None),
        ("taken", bar["taken"], None),
    ]
    told = f"By the sum {results.out('excess')}, likely {results.out('likely')}, at the ends {results.out('ends')}"
    drawn = html.Div(
        [
            html.Span(
                "", className=name, style={"left": f"{at}%"} | ({} if to is None else {"width": f"{to - at:.2f}%"})
            )
            for name, at, to in marks
        ],
        className="span",
        role="img",
        **{"aria-label": told},
    )
    sides = html.P([html.Span("← may leave oil over"), html.Span("will need neutralising →")], className="sides")
    return [
        drawn,
        sides,
        results.facts(("excess", "By the sum"), ("likely", "8 in 10 lie from"), ("ends", "At the very ends")),
        results.said("excess"),
    ]


def _scaled(form: dict[str, object], _ounces: bool, _of: str) -> dict[str, object]:
    """Every oil in proportion; what was weighed for another size is no longer true of this one."""
    rows = [dict(row) for row in form.get("oils", [])]  # type: ignore[attr-defined]
    total = sum(as_number(row.get("grams")) or 0.0 for row in rows)
    wanted = as_number(form.get("scale_to"))
    if not wanted or total <= 0.0 or wanted <= 0.0:
        raise FieldError("scale_to", "Write how much oil it is to be, and weigh out at least one oil first.")
    factor = wanted / total

    def times(value: object) -> object:
        number = as_number(value)
        return value if number is None else f"{number * factor:.6g}"

    others = ("glycerol", "water") if form.get("water_by") == "grams" else ("glycerol",)
    emptied = dict.fromkeys(("koh_weighed", "naoh_weighed", "water_weighed", "scale_to"), "")
    return (
        form
        | {name: times(form.get(name, "")) for name in others}
        | emptied
        | {"oils": [row | {"grams": times(row.get("grams", "")), "weighed": ""} for row in rows]}
    )


def _turned_water(form: dict[str, object], ounces: bool, of: str) -> dict[str, object]:
    """The same water, told the other way."""
    name, _, value = of.partition("=")
    turned = form | {name: value}
    if name == "water_by":
        try:
            same = answer(Form(form, ounces=ounces)).turn["water_by"][value]
        except (MonitorError, KeyError):
            return turned
        turned["water"] = f"{same:.6g}"
    return turned


CHARGE = SumPage(
    first=_first,
    inputs=_inputs,
    results=_results,
    top=_top,
    weights=frozenset(
        ("grams", "weighed", "scale_to", "glycerol", "koh_weighed", "naoh_weighed", "water_weighed"),
    ),
    weight_if={"water": ("water_by", "grams")},
    acts={"scale": _scaled, "choose": _turned_water},
)
