"""A sum of the bench: its fields, and beside them the result that follows what is typed.

A form is drawn from its values, by the layout as by the callback that draws it anew: for another choice, unit or row,
and for what this browser kept of it. Another callback works the sum out. Both only read.
"""

from collections.abc import Mapping
from typing import Any
from urllib.parse import unquote

import dash
from dash import Dash, Input, Output, State, ctx
from dash.exceptions import PreventUpdate

from dashboard.answers import AskedError, told
from dashboard.app_state import AppState, current_state
from dashboard.bench_charge import batch_of
from dashboard.bench_form import FieldError
from dashboard.bench_pages.after import BOTTLE, LABEL, SAMPLE
from dashboard.bench_pages.charge import CHARGE
from dashboard.bench_pages.facts import BenchFacts, SumPage, bench_facts, turned
from dashboard.bench_pages.jars import JAR, THICKEN
from dashboard.bench_pages.pot import DILUTE, NEUTRALISE, PASTE
from dashboard.bench_work import asked_of, pictured, worked
from dashboard.components.chart import chart, chart_data
from dashboard.components.fields import EVERY_ACT, EVERY_FIELD, EVERY_REFUSAL, Fields, act, form_of
from dashboard.components.form_scripts import add_form_scripts, kept_slate
from dashboard.components.results import Results, flat
from dashboard.pages import bench, lost, parts
from dashboard.pages.tags import Component, dcc, html
from monitor.formulation import sheet_text
from monitor.runtime import MonitorError

PATH = "/bench/<name>"
SUM_PAGES: Mapping[str, SumPage] = {
    "charge": CHARGE,
    "sample": SAMPLE,
    "paste": PASTE,
    "dilute": DILUTE,
    "neutralise": NEUTRALISE,
    "jar": JAR,
    "thicken": THICKEN,
    "bottle": BOTTLE,
    "label": LABEL,
}
UNITS = {"g": "grams", "oz": "ounces"}
NOT_WRITTEN = "No cook: nothing is written down until one is started."


def layout(name: str, cook: str = "", **_others: object) -> parts.Page:
    """The fields with what stands in them at first, and what follows from it."""
    if name not in SUM_PAGES:
        return lost.layout()
    page, state = SUM_PAGES[name], current_state()
    with state.lock:
        facts = bench_facts(state, cook or None, new=name == "charge")
        first = page.first(facts)
        top, results = _shown(page, state, {"sum": name, "cook": facts.name, "form": first})
    title = bench.SUMS[name][0]
    way = parts.link("Bench", f"/bench?cook={facts.name}" if facts.name else "/bench")
    right = [
        html.Div(top, id="bench-top", **{"aria-live": "polite"}),
        html.Div(results, id="bench-results"),
        *_picture(page),
    ]
    main = html.Main(
        [
            parts.head(title, way),
            html.P(facts.title or NOT_WRITTEN, className="of"),
            html.Div(_inputs(name, facts, first, "g", restored=False), id="bench-inputs"),
            html.Div(right, className="beside"),
            kept_slate(),
            dcc.Download(id="bench-download"),
        ],
        className="sums two",
    )
    return parts.Page(main, {"page": "still"}, f"{title} · kettleside")


def register(app: Dash) -> None:
    """Draws the form anew, and works the sum out."""
    add_form_scripts(app)

    @app.callback(
        Output("bench-inputs", "children"),
        Input("form-restored", "data"),
        Input(EVERY_ACT, "n_clicks"),
        State(EVERY_FIELD, "value"),
        State("form-drawn", "data"),
        prevent_initial_call=True,
    )
    def draw(restored: Any, _clicks: object, _values: object, drawn: dict[str, Any]) -> list[Component]:
        if not ctx.triggered or not ctx.triggered[0]["value"]:
            raise PreventUpdate
        return _drawn_anew(restored, form_of(ctx.states_list[0]), drawn)

    @app.callback(
        Output("bench-top", "children"),
        Output("bench-results", "children"),
        Output(EVERY_REFUSAL, "children"),
        Input("form-asked", "data"),
        prevent_initial_call=True,
    )
    def work(asked: dict[str, object] | None) -> tuple[list[Component], list[Component], list[str]]:
        if not isinstance(asked, dict) or asked.get("sum") not in SUM_PAGES:
            raise PreventUpdate
        return _worked_out(asked, [one["id"] for one in ctx.outputs_list[2]])

    @app.callback(
        Output("bench-download", "data"),
        Input("bench-file", "n_clicks"),
        State("form-asked", "data"),
        prevent_initial_call=True,
    )
    def save(clicks: int | None, asked: dict[str, object] | None) -> dict[str, object]:
        if not clicks or not asked:
            raise PreventUpdate
        text = sheet_file(current_state(), asked)
        # What refuses it stands at its field already.
        if text is None:
            raise PreventUpdate
        return {"content": text, "filename": "batch.toml", "type": "application/toml"}


def sheet_file(state: AppState, asked: Mapping[str, object]) -> str | None:
    """The sheet of what was typed, as ``kettleside start --batch`` takes it; None where it is refused."""
    try:
        return sheet_text(batch_of(asked_of(state, asked).form, None))
    except MonitorError:
        return None


def _inputs(name: str, facts: BenchFacts, form: Mapping[str, object], unit: str, *, restored: bool) -> list[Component]:
    """The fields. restored: whether what this browser kept is in them."""
    page = SUM_PAGES[name]
    drawn = {"sum": name, "cook": facts.name, "unit": unit, "restored": restored, "first": page.first(facts)}
    units = [act("unit", one, words, pressed=one == unit) for one, words in UNITS.items()]
    choice = html.Fieldset([html.Legend("Weights in"), html.Div(units, className="options")], className="choice units")
    return [
        *([choice] if page.weights else []),
        *flat(page.inputs(Fields(form, unit, keeps=bool(facts.name)), facts)),
        dcc.Store(id="form-drawn", data=drawn),
    ]


def _drawn_anew(restored: Any, form: dict[str, object], drawn: dict[str, Any]) -> list[Component]:
    name, unit = str(drawn["sum"]), str(drawn["unit"])
    page, state = SUM_PAGES[name], current_state()
    with state.lock:
        facts = bench_facts(state, drawn["cook"] or None, new=name == "charge")
    done = ctx.triggered_id
    try:
        if done == "form-restored":
            before, form = with_kept(page, page.first(facts), restored.get("kept") or {})
            after = "oz" if restored.get("unit") == "oz" else "g"
            return _inputs(name, facts, turned(page, form, before, after), after, restored=True)
        if done["act"] == "unit":
            after = str(done["of"])
            return _inputs(name, facts, turned(page, form, unit, after), after, restored=True)
        form = _acted(page, form, unit == "oz", done["act"], done["of"])
    except FieldError as error:
        dash.set_props({"refusal": error.field, "row": ""}, {"children": told(error)})
        raise PreventUpdate from None
    return _inputs(name, facts, form, unit, restored=True)


def with_kept(page: SumPage, first: dict[str, object], kept: Mapping[str, Any]) -> tuple[str, dict[str, object]]:
    """The unit and the form of what the browser kept; a field that begins with something else by now begins with it."""
    if not isinstance(kept.get("form"), dict) or not isinstance(kept.get("first"), dict):
        return "g", first
    unit = "oz" if kept.get("unit") == "oz" else "g"
    old = kept["first"]
    same = {key: value for key, value in kept["form"].items() if old.get(key) == first.get(key)}
    return unit, turned(page, first, "g", unit) | same


def _acted(page: SumPage, form: dict[str, object], ounces: bool, what: str, of: str) -> dict[str, object]:
    if what in page.acts:
        return page.acts[what](form, ounces, of)
    if what == "choose":
        field, _, value = of.partition("=")
        return form | {field: unquote(value)}
    if what == "tick":
        return form | {of: "" if form.get(of) else "yes"}
    name, _, number = of.partition(".")
    rows = [row for row in form.get(name, []) if isinstance(row, dict)]  # type: ignore[attr-defined]
    if what == "more":
        return form | {name: [*rows, {}]}
    if what == "less":
        return form | {name: [row for n, row in enumerate(rows) if str(n) != number]}
    raise AskedError(f"There is no act called {what[:40]!r}.")


def _shown(page: SumPage, state: AppState, body: dict[str, object]) -> tuple[list[Component], list[Component]]:
    """The number to weigh, and the results; dashes where the sum refuses."""
    try:
        results = Results(worked(asked_of(state, body)))
    except MonitorError:
        results = Results(None)
    shown = flat(page.results(results))
    return flat(page.top(results)), [*shown, *results.rest()] if results.there else []


def _worked_out(
    asked: dict[str, object], places: list[dict[str, str]]
) -> tuple[list[Component], list[Component], list[str]]:
    page, state = SUM_PAGES[str(asked["sum"])], current_state()
    try:
        with state.lock:
            found = asked_of(state, asked)
            results, figure = Results(worked(found)), pictured(found)
    except MonitorError as error:
        field = error.field if isinstance(error, FieldError) else ""
        row, _, name = field.rpartition(".")
        refusals = [told(error) if (one["refusal"], one["row"]) == (name, row) else "" for one in places]
        return flat(page.top(Results(None))), [html.P(told(error), className="refusal", role="alert")], refusals
    if page.chart is not None and figure is not None:
        dash.set_props({"chart": page.chart[0], "part": "data"}, {"data": chart_data(figure)})
        dash.set_props("bench-picture", {"hidden": False})
    shown = flat(page.results(results))
    return flat(page.top(results)), [*shown, *results.rest()], [""] * len(places)


def _picture(page: SumPage) -> list[Component]:
    if page.chart is None:
        return []
    name, height_px, caption = page.chart
    return [html.Div(chart(name, height_px, caption=caption), id="bench-picture", hidden=True)]
