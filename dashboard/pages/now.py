"""The page beside the cooker: what to do next and when, and buttons to log what was done."""

from typing import Any
from urllib.parse import quote

from dash import Dash, Input, no_update

from dashboard.bench.keep import known
from dashboard.components import parts, slips
from dashboard.components.answers import told
from dashboard.components.chart import chart_output
from dashboard.components.tags import Component, html
from dashboard.components.viewer import zone_name
from dashboard.live.app_state import AppState, current_state
from dashboard.pages import kept_sheet
from monitor.runtime import MonitorError
from monitor.session import LiveCook, standing
from monitor.storage import kept_sheets

TITLE = "kettleside"
# Of the kept sheets with which a cook begins here; the others are on the bench.
MOST_KEPT = 4

# Where to go while no cook runs: what it is called, what is there, and its address. The first ones until a cook of
# this kitchen is finished.
FIRST_WAYS = [
    ("Before a first cook", "Six things to do, each ticked by itself", "/set-up"),
    ("Nothing connected yet?", "An invented cook plays on these very pages", "/set-up#invented-cook"),
]
PLAN = ("Plan a batch", "Oils, alkali, water and size; kept as a sheet", "/bench/plan")


def layout(cook: str | None = None, **_others: str) -> parts.Page:
    """The page of the named cook, else of the one that began last, else of an idle cooker."""
    state = current_state()
    with state.lock:
        try:
            return _page(state, cook)
        except MonitorError as error:
            return parts.still(parts.head("kettleside"), parts.refused(told(error)))


def register(app: Dash) -> None:
    """Draws the course: with the page, and again whenever its script wants it."""

    @app.callback(chart_output(parts.COURSE), Input(parts.COURSE_WANTED, "data"))
    def draw(wanted: dict[str, str]) -> Any:
        state = current_state()
        try:
            with state.lock:
                cook = state.find(wanted["cook"])
                look = cook.state()
        except MonitorError:
            # The page tells it, which asks for what is new all the while.
            return no_update
        return state.courses.chart_of(cook.name, look.history, look.outlook.estimate, zone_name())


def _page(state: AppState, wanted: str | None) -> parts.Page:
    running = state.running()
    if wanted is None and not running:
        return _idle(state)
    name = wanted or running[0].path.stem
    delta = state.delta(name)
    look = delta.since(None)
    wall = f"/wall?rig={quote(delta.cook.rig)}" if len(running) > 1 else "/wall"
    # With several cooks the first page is their list.
    back = [parts.link("All cookers", "/")] if len(running) > 1 else []
    main = html.Main(
        [
            parts.head(str(look["title"]), parts.link("Probes", f"/probes/{name}")),
            *([html.P([f"On the cooker {delta.cook.rig} ", *back], className="plain which")] if back else []),
            *_left_unfinished(state, delta.cook.rig, name),
            *_without_sheet(delta.cook, str(look["stage"])),
            html.Div([parts.headline(), parts.steps(), parts.course(name), parts.values()], className="column"),
            html.Div([parts.unlogged(), parts.log(), parts.being_told(wall)], className="column"),
            parts.dock(),
            *slips.dialogs(delta.cook.costs()),
        ]
    )
    return parts.looked_at(name, look, main)


def _left_unfinished(state: AppState, rig: str, name: str) -> list[Component]:
    """What else nobody has finished on this cooker, with the way to where that is done."""
    names = [path.stem for path in state.library.left_unfinished(rig) if path.stem != name]
    if not names:
        return []
    words = "Left unfinished on this cooker; finish it there, or delete it under Cooks: "
    return [html.P([words, *(parts.link(one, f"/?cook={one}") for one in names[:3])], className="plain which")]


def _in_hand(state: AppState) -> list[Component]:
    """The batches whose cook is over, each with where it stands and the way to its next step."""
    now = state.library.now()
    rows = [
        html.Li(
            html.A(
                [html.Strong(one.title), html.Span(standing(one.events, now))],
                href=f"/?cook={quote(one.path.stem)}",
            )
        )
        for one in state.library.in_hand()
    ]
    return [html.H2("On their way to the bottle"), html.Ul(rows, className="ways")] if rows else []


def _without_sheet(cook: LiveCook, stage: str) -> list[Component]:
    """The way to a batch sheet for a cook that has none, before its lid is on."""
    if stage != "before" or known(cook).batch is not None:
        return []
    ways = [
        parts.link("Take a kept one", "/bench/sheets"),
        " ",
        parts.link("Weigh a charge", f"/bench/charge?cook={cook.name}"),
    ]
    return [html.P(["No batch sheet yet. ", *ways], className="plain which")]


def _idle(state: AppState) -> parts.Page:
    kept = [(one.name, one.batch.title) for one in kept_sheets(state.library.folder) if one.batch is not None]
    begins = [
        kept_sheet.begin_with(name, f"Begin a cook with {title}", "keep second") for name, title in kept[:MOST_KEPT]
    ]
    ways = [PLAN] if state.library.teaching() else [*FIRST_WAYS, PLAN]
    main = html.Main(
        [
            parts.head("kettleside"),
            html.P("No cook is running.", id="due"),
            *_in_hand(state),
            html.P(
                "A new cook is a new recording. The logger takes it up when it runs; "
                "“kettleside start” on the computer beside the cooker runs it.",
                className="plain",
            ),
            *([html.Section([html.H2("With a kept sheet"), *begins], className="sums")] if begins else []),
            html.Ul([_way(*one) for one in ways], className="ways"),
            parts.refused_entries(),
            html.P("", id="strip-words", role="status"),
            html.Footer([parts.waiting_line(), html.Div(parts.begin_button(), id="first")], id="dock"),
        ]
    )
    return parts.Page(main, {"page": "idle"})


def _way(words: str, about: str, to: str) -> Component:
    return html.Li(html.A([html.Strong(words), html.Span(about)], href=to))
