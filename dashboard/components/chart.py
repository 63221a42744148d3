"""Charts: figures of ``monitor.plots`` in boxes that keep their height, drawn once the page stands.

A page calls ``chart`` in its layout, and gives ``chart_data`` of a figure to the output ``chart_output``. The browser
turns the colours to its scheme and draws it when plotly is there; it writes words and table at once, for whom no
picture speaks.
"""

import json
from html import escape
from typing import Any

from dash import MATCH, Input, Output

from dashboard.components.in_browser import in_browser
from dashboard.components.tags import Component, dcc, html
from monitor.plots import alt_text, scheme_pairs, table

# Set by the browser once plotly is there, and anew when the viewer's scheme changes.
READY = "charts-ready"
# By this class the index page knows a page with charts.
PLACE_CLASS = "chart"


def chart(name: str, height_px: int, *, caption: str = "", saved_as: str = "") -> Component:
    """The place of a chart.

    name: by which callbacks give it its figure. caption: what stands under it. saved_as: the name of the file in which
    it can be kept, without suffix; empty where it cannot.
    """
    kinds = ("svg", "png") if saved_as else ()
    save = [
        html.Button(f"As {kind.upper()}", type="button", **{"data-kind": kind, "data-saved-as": saved_as})
        for kind in kinds
    ]
    return html.Div(
        [
            html.Div("", id=_part(name, "place"), className=PLACE_CLASS, style={"height": f"{height_px}px"}),
            *([html.P(caption, className="why")] if caption else []),
            html.P("", id=_part(name, "words"), className="unseen"),
            html.Details([html.Summary("As a table"), html.Div("", id=_part(name, "table"), className="scrolls")]),
            *([html.Div(save, className="pair")] if save else []),
            dcc.Store(id=_part(name, "data")),
        ],
        className="drawn",
    )


def chart_output(name: str) -> Output:
    """Where a callback puts ``chart_data`` for the chart of this name."""
    return Output(_part(name, "data"), "data")


def chart_input(name: str) -> Input:
    """The data of this chart, for callbacks that follow its figure."""
    return Input(_part(name, "data"), "data")


def chart_data(figure: Any) -> dict[str, object]:
    """A light figure of ``monitor.plots`` with its words and its table, ready for JSON."""
    rows = table(figure)
    return {
        "figure": figure.to_plotly_json(),
        "words": alt_text(figure),
        "columns": [str(column) for column in rows.columns],
        "rows": [[str(cell) for cell in row] for row in rows.itertuples(index=False)],
    }


def chart_attributes(plotly: str) -> str:
    """What the body of a page with charts says: plotly's address, and each light colour's partner in a dark page."""
    return f' data-plotly-src="{escape(plotly)}" data-scheme-pairs="{escape(json.dumps(scheme_pairs()))}"'


def add_charts(app: Any) -> None:
    """Registers what draws the charts of every page."""
    in_browser(
        app,
        "drawChart",
        Output(_part(MATCH, "place"), "children"),
        Input(_part(MATCH, "data"), "data"),
        Input(READY, "data"),
    )


def _part(name: object, part: str) -> dict[str, object]:
    return {"chart": name, "part": part}
