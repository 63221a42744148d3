"""A sum of the bench: its fields, and beside them the result that follows what is typed.

A form is drawn from its values, by the layout as by the callback that draws it anew: for another choice or row, and
for what this browser kept of it. Another callback works the sum out. Both only read. Weights are typed and told in the
kitchen's unit.
"""

from collections.abc import Mapping
from contextlib import nullcontext
from typing import Any
from urllib.parse import unquote

import dash
from dash import Dash, Input, Output, State, ctx
from dash.exceptions import PreventUpdate

from dashboard.bench.charge import batch_of
from dashboard.bench.form import FieldError
from dashboard.bench.work import asked_of, pictured, worked
from dashboard.bench_pages.after import BOTTLE, LABEL, SAMPLE
from dashboard.bench_pages.charge import CHARGE
from dashboard.bench_pages.day import DAY
from dashboard.bench_pages.facts import BenchFacts, SumPage, bench_facts, turned
from dashboard.bench_pages.haze import HAZE
from dashboard.bench_pages.jars import JAR, THICKEN
from dashboard.bench_pages.outcome import OUTCOME
from dashboard.bench_pages.plan import PLAN, planning_facts
from dashboard.bench_pages.pot import DILUTE, NEUTRALISE, PASTE
from dashboard.components import parts
from dashboard.components.answers import AskedError, told
from dashboard.components.chart import chart, chart_data
from dashboard.components.fields import EVERY_ACT, EVERY_FIELD, EVERY_REFUSAL, Fields, form_of
from dashboard.components.form_scripts import add_form_scripts, kept_slate
from dashboard.components.results import Results, flat
from dashboard.components.tags import Component, dcc, html
from dashboard.live.app_state import AppState, current_state
from dashboard.pages import bench, lost
from monitor.formulation import sheet_text
from monitor.runtime import MonitorError
from monitor.session import believed_kitchen_units

PATH = "/bench/<name>"
SUM_PAGES: Mapping[str, SumPage] = {
    "plan": PLAN,
    "day": DAY,
    "charge": CHARGE,
    "sample": SAMPLE,
    "paste": PASTE,
    "dilute": DILUTE,
    "neutralise": NEUTRALISE,
    "jar": JAR,
    "thicken": THICKEN,
    "bottle": BOTTLE,
    "label": LABEL,
    "outcome": OUTCOME,
    "haze": HAZE,
}
OF_A_PLAN = {"plan": "Nothing is kept until you say so.", "day": "A forecast by what this kitchen has taught."}
RESTORED: Mapping[str, object] = {"restored": True}
NOT_WRITTEN = "No cook: nothing is written down until one is started."


def layout(name: str, cook: str = "", sheet: str = "", **_others: object) -> parts.Page:
    """The fields with what stands in them at first, and what follows from it.

    cook: that it is of, or that a plan begins from. sheet: the kept one that a plan begins from.
    """
    if name not in SUM_PAGES:
        return lost.layout()
    page, state = SUM_PAGES[name], current_state()
    with state.lock:
        facts = _facts(state, name, cook, f"sheet {sheet}" if sheet else f"cook {cook}" if cook else "")
        first = page.first(facts)
        unit = believed_kitchen_units(state.library.folder).mass
        form = turned(page, first, "g", unit)
        asked: dict[str, object] = {"sum": name, "cook": facts.name, "unit": unit, "form": form}
        top, results = _shown(page, state, asked)
    title = (bench.SUMS.get(name) or bench.PLANS[name])[0]
    ways = [parts.link("Bench", f"/bench?cook={facts.name}" if facts.name else "/bench")]
    if facts.name and name in bench.SUMS:
        ways.insert(0, parts.link("Next step", f"/?cook={facts.name}"))
    results_and_picture = [html.Div(results, id="bench-results"), *_picture(page)]
    right = [
        html.Div(top, id="bench-top", **{"aria-live": "polite"}),
        *(results_and_picture[::-1] if page.chart_first else results_and_picture),
    ]
    # A picture comes with the first callback, and so does the sentence of a refusal.
    drawn = {"worked": bool(results) and page.chart is None}
    main = html.Main(
        [
            parts.head(title, *ways),
            html.P(facts.title or NOT_WRITTEN, className="of"),
            html.Div(_inputs(name, facts, form, unit, drawn), id="bench-inputs"),
            html.Div(right, className="beside"),
            kept_slate(asked),
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


def _facts(state: AppState, name: str, cook: str, base: str) -> BenchFacts:
    """What the page is about. cook: that it is of. base: where a plan begins. Held under the state's lock."""
    if name in bench.PLANS:
        return planning_facts(state, base, OF_A_PLAN[name])
    return bench_facts(state, cook or None, new=name == "charge")


def sheet_file(state: AppState, asked: Mapping[str, object]) -> str | None:
    """The sheet of what was typed, as ``kettleside start --batch`` takes it; None where it is refused."""
    try:
        return sheet_text(batch_of(asked_of(state, asked).form, None))
    except MonitorError:
        return None


def _inputs(
    name: str, facts: BenchFacts, form: Mapping[str, object], unit: str, how: Mapping[str, object] = RESTORED
) -> list[Component]:
    """The fields. how: ``restored``: whether what this browser kept is in them; ``worked``: whether their sum is."""
    page = SUM_PAGES[name]
    drawn: dict[str, object] = {"sum": name, "cook": facts.name, "base": facts.base, "unit": unit}
    drawn |= {"first": page.first(facts), **how}
    return [
        *flat(page.inputs(Fields(form, unit, keeps=bool(facts.name)), facts)),
        dcc.Store(id="form-drawn", data=drawn),
    ]


def _drawn_anew(restored: Any, form: dict[str, object], drawn: dict[str, Any]) -> list[Component]:
    name, unit = str(drawn["sum"]), str(drawn["unit"])
    page, state = SUM_PAGES[name], current_state()
    with state.lock:
        facts = _facts(state, name, drawn["cook"], drawn.get("base") or "")
    done = ctx.triggered_id
    try:
        if done == "form-restored":
            before, form = with_kept(page, page.first(facts), restored)
            return _inputs(name, facts, turned(page, form, before, unit), unit)
        form = _acted(page, form, unit == "oz", done["act"], unquote(done["of"]))
    except FieldError as error:
        dash.set_props({"refusal": error.field, "row": ""}, {"children": told(error)})
        raise PreventUpdate from None
    return _inputs(name, facts, form, unit)


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
        return form | {field: value}
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
        results = Results(None if page.slow else worked(asked_of(state, body)))
    except MonitorError:
        results = Results(None)
    shown = flat(page.results(results))
    return flat(page.top(results)), [*shown, *results.rest()] if results.there else []


def _worked_out(
    asked: dict[str, object], places: list[dict[str, str]]
) -> tuple[list[Component], list[Component], list[str]]:
    page, state = SUM_PAGES[str(asked["sum"])], current_state()
    try:
        with nullcontext() if page.slow else state.lock:
            found = asked_of(state, asked)
            results = Results(worked(found))
            figure = results.figure or pictured(found)
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
