"""How the batches turned out: what differed between the clear ones and the others, and each batch's own words."""

from typing import Any

import pandas as pd
from dash import Dash, Input, Output

from dashboard.components import parts
from dashboard.components.chart import chart, chart_data, chart_output
from dashboard.components.tags import Component, html
from dashboard.live.app_state import current_state
from monitor.analysis import OUTCOME_FIGURES, figure_text, outcome_differences, outcome_text
from monitor.session import kitchen_outcomes, outcome_words, outcomes_picture

PATH = "/outcomes"
TITLE = "Outcomes"
WORKING = "Reading the batches…"
HEIGHT_PX = 346
NONE = "No batch has been looked at yet after its week. Open a cook, and say under After the week how it looks."
KEY = "A ring: a batch that is clear; a cross: one that is hazy or cloudy. Left: the lowest of all, right: the highest."


def layout(**_others: object) -> parts.Page:
    """The places of the sentences, the picture and the tables."""
    return parts.still(
        parts.head(TITLE, parts.link("Kitchen", "/kitchen"), parts.link("Compare", "/compare")),
        html.Div(
            [
                html.Div(html.P(WORKING, className="plain"), id="outcomes-said", role="status"),
                html.Div(chart("outcomes", HEIGHT_PX, caption=KEY), id="outcomes-picture", hidden=True),
            ],
            className="column",
        ),
        html.Div("", id="outcomes-tables", className="column"),
        title=TITLE,
    )


def register(app: Dash) -> None:
    """Compares, once the page stands."""

    @app.callback(
        chart_output("outcomes"),
        Output("outcomes-picture", "hidden"),
        Output("outcomes-said", "children"),
        Output("outcomes-tables", "children"),
        Input("start", "data"),
    )
    def compare(_started: object) -> tuple[dict[str, object] | None, bool, list[Component], list[Component]]:
        # Not under the lock: this reads whole cooks, and no phone should wait for that.
        found = kitchen_outcomes(current_state().library.folder)
        if not len(found):
            return None, True, [html.P(NONE, className="plain")], []
        figure = outcomes_picture(found)
        said = [html.P(line) for line in outcome_text(found.to_dict("records"))]
        return None if figure is None else chart_data(figure), figure is None, said, [_compared(found), _batches(found)]


def _compared(outcomes: pd.DataFrame) -> Component:
    rows = [
        html.Tbody(
            [
                html.Tr(html.Th(OUTCOME_FIGURES[one.column][0], scope="rowgroup", colSpan=3)),
                html.Tr([*(html.Td(figure_text(one.column, at)) for at in one.medians), html.Td(one.chance_text)]),
            ]
        )
        for one in outcome_differences(outcomes.to_dict("records"))
    ]
    if not rows:
        return None
    head = html.Tr([html.Th(words, scope="col") for words in ("Clear", "Others", "By chance")])
    return html.Section(
        [
            html.H2("What differed"),
            html.Table([html.Thead(head), *rows], className="differences"),
            html.P("Middle values, and how often chance alone would set them as far apart.", className="why"),
        ]
    )


def _batches(outcomes: pd.DataFrame) -> Component:
    rows = [html.Li(html.A(_words(row), href=f"/cooks/{name}")) for name, row in outcomes.to_dict("index").items()]
    return html.Section([html.H2("Batch by batch"), html.Ul(rows, className="ways")])


def _words(row: Any) -> list[Component]:
    return [html.Strong(str(row["title"])), html.Span(outcome_words(row))]
