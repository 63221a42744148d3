"""Cooks laid over each other: ticked in a list, drawn on one axis, and what differed between them as tables."""

from collections.abc import Sequence
from pathlib import Path

from dash import ALL, Dash, Input, Output, State

from dashboard.bench.comparison import ComparedCook, DifferenceTable, compared_cook, difference_tables
from dashboard.components import parts
from dashboard.components.answers import AskedError, told
from dashboard.components.chart import chart, chart_data, chart_output
from dashboard.components.in_browser import in_browser
from dashboard.components.tags import Component, dcc, html
from dashboard.components.viewer import day_and_clock
from dashboard.live.app_state import current_state
from monitor.analysis import ALIGNMENTS
from monitor.plots import compare
from monitor.runtime import MonitorError
from monitor.storage import CookSummary

PATH = "/compare"
TITLE = "Compare cooks"
# What cooks are called in figure and tables; more than so many lines nobody tells apart.
LETTERS = "ABCDEF"
# Where no cook is asked for, the latest ones.
USUALLY = 2
HEIGHT_PX = 380
KEY = "A ring: the first check that read clear; a small cross: one that did not."


def layout(cook: str | Sequence[str] = (), by: str = ALIGNMENTS[0], **_others: object) -> parts.Page:
    """The list to tick, and the places of figure and tables. Raises AskedError, RecordingError."""
    if by not in ALIGNMENTS:
        raise AskedError(f"Cooks are laid over each other by {', '.join(ALIGNMENTS)}.")
    named = [name for name in dict.fromkeys([cook] if isinstance(cook, str) else cook) if name]
    state = current_state()
    with state.lock:
        every = [one for one in state.library.cooks() if isinstance(one, CookSummary)]
        for name in named:
            state.find(name)
    over = [one.path.stem for one in every if one.finished is not None]
    asked = {"cooks": named or over[:USUALLY], "by": by}
    if not every:
        words = "There is no cook yet. As soon as two are over, they can be laid over each other here."
        return parts.still(_head(), html.P(words, className="plain"), title=TITLE)
    ways = [
        html.Button(way, id={"way": way.replace(" ", "-")}, type="button", **{"aria-pressed": str(way == by).lower()})
        for way in ALIGNMENTS
    ]
    choice = html.Details(
        [
            html.Summary("Choose cooks"),
            html.Ul([html.Li(_tick(one, asked["cooks"])) for one in every], className="ticks"),
        ],
        className="choose",
        open=len(named) == 1,
    )
    drawn = [
        choice,
        html.H2("Laid over each other by", id="by"),
        html.Div(ways, className="pair ways-along", role="group", **{"aria-labelledby": "by"}),
        chart("compared", HEIGHT_PX, caption=KEY, saved_as="compared"),
        html.Div("", id="compared-cooks"),
    ]
    return parts.still(
        _head(),
        html.Div(drawn, className="column"),
        html.Div("", id="differences", className="column"),
        dcc.Store(id="asked", data=asked),
        title=TITLE,
    )


def register(app: Dash) -> None:
    """Ticks in the browser, which keeps them in the address, and draws what is ticked."""
    in_browser(
        app,
        "choose",
        Output("asked", "data"),
        Output({"laid": ALL}, "aria-checked"),
        Output({"way": ALL}, "aria-pressed"),
        Input({"laid": ALL}, "n_clicks"),
        Input({"way": ALL}, "n_clicks"),
        State("asked", "data"),
        prevent_initial_call=True,
    )

    @app.callback(
        chart_output("compared"),
        Output("compared-cooks", "children"),
        Output("differences", "children"),
        Input("asked", "data"),
    )
    def draw(asked: dict[str, object]) -> tuple[dict[str, object], list[Component], list[Component]]:
        names, by = [str(name) for name in list(asked["cooks"])], str(asked["by"])  # type: ignore[call-overload]
        cooks, without = _read(names, by)
        drawn = [one for one in cooks if not one.left_out]
        tables = difference_tables(cooks) if len(cooks) > 1 else ()
        return (
            chart_data(compare({one.letter: one.course for one in drawn})),
            [_legend(cooks), *(html.P(words, role="alert") for words in without)],
            [_differences(table, cooks) for table in tables],
        )


def _head() -> Component:
    return parts.head(TITLE, parts.link("Kitchen", "/kitchen"), parts.link("Cooks", "/cooks"))


def _tick(one: CookSummary, ticked: Sequence[str]) -> Component:
    name = one.path.stem
    words = [html.Strong(one.title), html.Span(day_and_clock(one.about.started))]
    checked = {"aria-checked": str(name in ticked).lower()}
    return html.Button(words, id={"laid": name}, type="button", role="checkbox", **checked)


def _read(names: Sequence[str], by: str) -> tuple[list[ComparedCook], list[str]]:
    """The cooks that can be read; then a sentence for each that is left out altogether."""
    state = current_state()
    without = [f"Six cooks at the most; {name} is left out." for name in names[len(LETTERS) :]]
    paths: list[Path] = []
    with state.lock:
        for name in names[: len(LETTERS)]:
            try:
                paths.append(state.find(name).path)
            except MonitorError as error:
                without.append(told(error))
    # Not under the lock: this reads whole cooks, and no phone should wait for that.
    cooks: list[ComparedCook] = []
    for path in paths:
        try:
            cooks.append(compared_cook(LETTERS[len(cooks)], path, by))
        except MonitorError as error:
            without.append(told(error))
    return cooks, without


def _legend(cooks: Sequence[ComparedCook]) -> Component:
    if not cooks:
        return html.P("Choose two cooks.", className="plain")
    return html.Dl(
        [
            html.Div(
                [
                    html.Dt(one.letter),
                    html.Dd(
                        [
                            html.A(one.title, href=f"/cooks/{one.name}", className="way"),
                            html.Span(day_and_clock(one.began)),
                            *([html.Span(f"Not in the figure: {one.left_out}.")] if one.left_out else []),
                        ]
                    ),
                ]
            )
            for one in cooks
        ],
        className="lettered",
    )


def _differences(table: DifferenceTable, cooks: Sequence[ComparedCook]) -> Component:
    alike = f"Alike in {table.alike} more." if table.rows and table.alike else ""
    if not table.rows:
        return html.Section([html.H2(table.heading), html.P("No difference.", className="why")])
    head = html.Tr([html.Th(one.letter, scope="col") for one in cooks])
    bodies = [
        html.Tbody(
            [
                html.Tr(html.Th(words, scope="rowgroup", colSpan=len(cooks))),
                html.Tr([html.Td(value) for value in values]),
            ]
        )
        for words, values in table.rows
    ]
    return html.Section(
        [
            html.H2(table.heading),
            html.Table([html.Thead(head), *bodies], className="differences"),
            *([html.P(alike, className="why")] if alike else []),
        ]
    )
