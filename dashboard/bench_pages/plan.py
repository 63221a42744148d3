"""Plan a batch: oils and size typed, alkali, water, fatty acids, strength, bottles and cost beside them."""

import math
from collections.abc import Mapping

from dashboard.bench.form import FieldError, Form
from dashboard.bench.plan import batch_at, planned
from dashboard.bench_pages.facts import BenchFacts, SumPage, figure, turned
from dashboard.components.answers import told
from dashboard.components.fields import Fields, act, folded, pair
from dashboard.components.results import Results, section
from dashboard.components.sending import sender
from dashboard.components.tags import Component, html
from dashboard.components.viewer import date_of
from dashboard.live.app_state import AppState, current_state
from monitor.chemistry import all_oils, other_names
from monitor.formulation import OUNCE_G, charge_of
from monitor.model import Batch
from monitor.runtime import MonitorError
from monitor.storage import CookSummary, kept_sheets

SHARES = [("shares", "per cent"), ("grams", "weight")]
SIZES = [("weight", "a weight"), ("pot", "the pot"), ("bottles", "bottles"), ("oil", "an oil")]
# Of what there is to begin from, the latest.
MOST_BASES = 12
EMPTY: Mapping[str, object] = {
    "base": "",
    "by": "shares",
    "size": "weight",
    "oil_g": "1000",
    "assay": "90",
    "excess": "3",
    "ratio": "3",
    "bottle_ml": "250",
    "oils": [{}],
}


def planning_facts(state: AppState, base: str, title: str = "") -> BenchFacts:
    """What a plan may begin from: kept sheets and past cooks; and the batch at ``base``, of which it begins.

    title: what stands beneath the page's own. Raises MonitorError where there is no such batch.
    """
    cooks = [each for each in state.library.cooks() if isinstance(each, CookSummary) and each.about.sheet]
    return BenchFacts(
        batch=batch_at(state, base),
        others=cooks[:MOST_BASES],
        base=base,
        sheets=kept_sheets(state.library.folder)[:MOST_BASES],
        title=title,
        running=bool(state.running()),
    )


def _first(facts: BenchFacts) -> dict[str, object]:
    return dict(EMPTY) if facts.batch is None else _as_typed(facts.batch, facts.base)


def _as_typed(batch: Batch, base: str) -> dict[str, object]:
    """What stands in the fields for a batch, weights in g."""
    made = charge_of(batch)
    flakes_g = made.koh_g + made.naoh_g
    # Downwards, because the water is rounded up to a step of the scale.
    ratio = math.floor(1e4 * batch.water_grams / flakes_g) / 1e4 if flakes_g else 3.0
    rows = [
        {
            "name": oil.name,
            "amount": figure(oil.grams, 6),
            "value": figure(oil.saponification_value) if oil.certified else "",
        }
        for oil in batch.oils
    ]
    return {
        **EMPTY,
        "base": base,
        "by": "grams",
        "oils": rows or [{}],
        "assay": figure(100.0 * batch.alkali.assay),
        "excess": figure(100.0 * batch.alkali.excess),
        "ratio": figure(ratio, 6),
        "pot": figure(batch.cooker_litres),
        "title": batch.title,
    }


def _inputs(fields: Fields, facts: BenchFacts) -> list[Component]:
    names = sorted({each for row in all_oils() for each in (row.name, *other_names(row))})
    by_shares = (fields.text("by") or "shares") == "shares"
    return [
        html.Datalist([html.Option(value=name) for name in names], id="oil-names"),
        begins_from(fields, facts, "Begins from", "an empty sheet"),
        section(
            "Oils",
            fields.choice("by", "Each by", SHARES),
            [_oil(row, by_shares) for row in fields.rows("oils")],
            fields.refusal("oils"),
            act("more", "oils", "Another oil"),
            *([html.P("One may stay empty: it takes what is left to 100 %.", className="why")] if by_shares else []),
        ),
        section("How much", *_size(fields, by_shares)),
        section(
            "Alkali and water",
            pair(fields.number("assay", "KOH in the flakes", "%"), fields.number("excess", "Excess", "%")),
            fields.number("ratio", "Grams of water to a gram of flakes", "×"),
        ),
        section("What it goes into", *_vessels(fields)),
        section("Keep it", *_keeping(fields)),
    ]


def begins_from(fields: Fields, facts: BenchFacts, words: str, empty: str) -> Component:
    """A choice of kept sheets and past cooks. words: what it is a choice of. empty: what stands for none."""
    base = fields.text("base")
    ways = [("", empty)]
    ways += [(f"sheet {one.name}", one.batch.title) for one in facts.sheets if one.batch is not None]
    ways += [(f"cook {one.path.stem}", f"{one.title}, cooked {date_of(one.about.started)}") for one in facts.others]
    chosen = dict(ways).get(base, base.partition(" ")[2])
    buttons = [act("from", way, title, pressed=way == base) for way, title in ways]
    body = html.Fieldset(
        [html.Legend(words, className="unseen"), html.Div(buttons, className="options")], className="choice upright"
    )
    pick = html.Details([html.Summary(f"{words}: {chosen}"), body], className="pick")
    return html.Div([fields.hidden("base", base), *([pick] if len(ways) > 1 else []), fields.refusal("base")])


def _oil(row: Fields, by_shares: bool) -> Component:
    amount = row.number("amount", "Part of all oils", "%") if by_shares else row.number("amount", "Weight", "g")
    more = [
        row.number("value", "Saponification value by its certificate", "mg/g"),
        act("less", row.row, "Take this oil out"),
    ]
    return html.Div(
        [
            html.Div([row.line("name", "Oil", "oil-names"), amount], className="pair named"),
            folded("Certificate, or take it out", *more),
        ],
        className="row",
    )


def _size(fields: Fields, by_shares: bool) -> list[Component]:
    size = fields.text("size") or "weight"
    shown: Mapping[str, list[Component]] = {
        "weight": [fields.number("oil_g", "Oils in all", "g")]
        if by_shares
        else [html.P("As weighed out above.", className="why")],
        "pot": [_pot(fields), html.P("The largest batch that it takes with room to stir.", className="why")],
        "bottles": [pair(fields.number("count", "How many bottles"), _bottle(fields))],
        "oil": [
            pair(fields.line("at_hand", "Oil at hand", "oil-names"), fields.number("at_hand_g", "There is", "g")),
            html.P("As much as uses it up; the other oils in proportion.", className="why"),
        ],
    }
    here = {"weight": ("oil_g",) if by_shares else (), "bottles": ("count",), "oil": ("at_hand", "at_hand_g")}
    # What another size asks for stays as it was typed.
    elsewhere = [name for name in ("oil_g", "count", "at_hand", "at_hand_g") if name not in here.get(size, ())]
    kept = [fields.hidden(name, fields.text(name)) for name in elsewhere]
    return [fields.choice("size", "Made to fit", SIZES), *shown[size], *kept]


def _vessels(fields: Fields) -> list[Component]:
    """What it goes into, but for what its size asks for."""
    size = fields.text("size")
    asked = [*([] if size == "pot" else [_pot(fields)]), *([] if size == "bottles" else [_bottle(fields)])]
    strength = fields.number("strength", "Real soap in it; empty: as strong as stays fluid", "%")
    return [pair(*asked) if len(asked) == 2 else asked[0], strength]


def _pot(fields: Fields) -> Component:
    return fields.number("pot", "The pot, to the rim", "L")


def _bottle(fields: Fields) -> Component:
    return fields.number("bottle_ml", "A bottle", "mL")


def _keeping(fields: Fields) -> list[Component]:
    over = fields.tick("replace", "Write over it")
    return [
        fields.line("title", "Title"),
        sender(
            "plan-keep", "Keep this batch sheet", "/bench/sheets/keep", {"with": {}}, gathers=True, className="keep"
        ),
        folded("One of this title is kept already", over, opened=bool(fields.text("replace"))),
    ]


def _top(results: Results) -> list[Component]:
    shown = results if results.shows("plan") else Results(None)
    naoh = [shown.weigh("naoh", "NaOH")] if shown.shows("naoh") else []
    return [shown.weigh("oil", "Oils"), shown.weigh("koh", "KOH flakes"), *naoh, shown.weigh("water", "Water")]


def _results(results: Results) -> list[Component]:
    if not results.shows("plan"):
        return [results.said("first")]
    naoh = [("naoh", "NaOH")] if results.shows("naoh") else []
    weighed = [("koh", "KOH flakes"), *naoh, ("water", "Water")]
    changes = [section("Against where it began", results.said("changes"))] if results.shows("changes") else []
    return [
        *changes,
        *results.care("koh_g", "naoh_g", "water_g"),
        section("To weigh", results.listed("oils"), results.facts(*weighed, ("total", "In all, to blend"))),
        section(
            "Its alkali",
            results.facts(
                ("excess", "Excess, by the sum"),
                ("likely", "8 in 10 lie from"),
                ("strength", "Strength of the lye"),
                ("filled", "The pot is filled"),
            ),
        ),
        *results.care("filled"),
        section(
            "What it is",
            results.listed("groups"),
            results.facts(("iodine", "Iodine value, g to 100 g"), ("fluid", "Stays fluid when cold up to about")),
            html.P(
                "The strength is common practice, no source; within about 5 % real soap either way.", className="why"
            ),
            folded("Where these come from", results.said("sources")),
        ),
        section(
            "What it gives",
            results.facts(
                ("dilute", "Water after the cook"),
                ("product", "Finished soap"),
                ("litres", "That is"),
                ("bottle_strength", "In the bottle"),
                ("bottles", "Bottles"),
            ),
            results.said("words"),
        ),
        section("What it costs", results.said("cost")),
    ]


def _begun(form: dict[str, object], ounces: bool, of: str) -> dict[str, object]:
    """Begins from another batch; what was typed about size, bottle and strength stays."""
    try:
        batch = batch_at(current_state(), of)
    except MonitorError as error:
        raise FieldError("base", told(error)) from None
    typed = {"base": of, "oils": [{}], "title": ""} if batch is None else _as_typed(batch, of)
    kept = {name: form[name] for name in ("bottle_ml", "strength", "count", "oil_g") if form.get(name)}
    return form | turned(PLAN, typed, "g", "oz" if ounces else "g") | kept


def _turned_amounts(form: dict[str, object], ounces: bool, of: str) -> dict[str, object]:
    """The same oils, told the other way."""
    name, _, value = of.partition("=")
    chosen = form | {name: value}
    if name != "by" or form.get("by") == value:
        return chosen
    try:
        plan = planned(Form(form, ounces=ounces), batch_at(current_state(), str(form.get("base") or "")))
    except MonitorError:
        return chosen
    unit_g, made = OUNCE_G if ounces else 1.0, plan.charge
    whole_g = made.oil_g / 100.0 if value == "shares" else unit_g
    amounts = [figure(each.grams / whole_g, 6) for each in made.inputs.portions]
    oils = [{**row, "amount": amount} for row, amount in zip(_named_rows(form), amounts, strict=True)]
    return chosen | {"oils": oils, "oil_g": figure(made.oil_g / unit_g, 6)}


def _named_rows(form: Mapping[str, object]) -> list[dict[str, object]]:
    rows = form.get("oils")
    found = [row for row in rows if isinstance(row, dict)] if isinstance(rows, list) else []
    return [row for row in found if row.get("name") or row.get("amount")]


PLAN = SumPage(
    first=_first,
    inputs=_inputs,
    results=_results,
    top=_top,
    weights=frozenset(("oil_g", "at_hand_g")),
    weight_if={"amount": ("by", "grams")},
    acts={"from": _begun, "choose": _turned_amounts},
)
