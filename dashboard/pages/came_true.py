"""The part of the Kitchen page that holds stated clear times against what came: how often, and cook by cook."""

from collections.abc import Sequence

from dash import Dash, Input, Output

import monitor
from dashboard.components.chart import chart, chart_data, chart_input, chart_output
from dashboard.components.tags import Component, html
from dashboard.live.app_state import current_state
from monitor.analysis import NOMINAL_COVERAGE, CoverageCount, coverage_counts, coverage_verdict
from monitor.model import clear_since
from monitor.plots import stated_against_came
from monitor.storage import CookSummary

# To judge a cook costs tenths of a second the first time.
MAX_JUDGED = 40
# The chart shows what was stated half way: early enough to plan by, late enough to know something.
CHART_SHARE = 0.5
KEY = (
    "A row is a cook, the latest first. Hatched: between the last sample that was not clear and the first that was. "
    "The bar is what was stated half way; a disc came true, a cross did not."
)
PROMISE = "Each stated clear time promises to hold in 8 of 10 cooks; the stroke across each bar stands there."


def section(cooks: Sequence[CookSummary]) -> Component:
    """The places of the chart and of the counts. cooks: the ended ones, the latest first."""
    head = html.H2("Did the stated times come true?", id="truth")
    judged = [one for one in cooks if clear_since([event for event in one.events if event.kind == "checked"])]
    if not judged:
        words = "No finished cook with a clear check yet, so no stated time could be held against one."
        return html.Section([head, html.P(words)])
    return html.Section(
        [
            head,
            chart("coverage", 150 + 34 * len(judged[:MAX_JUDGED]), caption=KEY),
            html.Div(html.P("Holding every stated time against its cook…"), id="counted", role="status"),
        ]
    )


def register(app: Dash) -> None:
    """Draws the chart and counts."""

    @app.callback(chart_output("coverage"), Input("start", "data"))
    def draw(_started: object) -> dict[str, object]:
        # Not under the lock: this reads other cooks, and no phone should wait for that.
        stated = monitor.stated_times(current_state().library.folder, MAX_JUDGED)
        return chart_data(stated_against_came(stated[stated["share"] == CHART_SHARE]))

    # After the chart, so that each cook is judged once and not twice at the same time.
    @app.callback(Output("counted", "children"), chart_input("coverage"), prevent_initial_call=True)
    def count(_drawn: object) -> list[Component]:
        found = current_state().library.interval_coverage(MAX_JUDGED)
        rows = [row for row in coverage_counts([interval for _, interval in found]) if row.stated]
        return [html.P(PROMISE, className="why"), *(_counted(row) for row in rows)]


def _counted(row: CoverageCount) -> Component:
    said = {"aria-label": f"{row.true} of {row.stated}, promised {NOMINAL_COVERAGE * row.stated:.1f}"}
    return html.Div(
        [
            html.H3(f"At {row.share * 100:.0f} % of the cook"),
            html.P([html.Strong(f"{row.true} of {row.stated}"), f" came true{_wrong(row)}."], className="plain"),
            html.Div(
                [
                    html.Span("", className="kept", style={"width": f"{100 * row.true / row.stated:.1f}%"}),
                    html.Span("", className="promised", style={"left": f"{100 * NOMINAL_COVERAGE:.0f}%"}),
                ],
                className="share",
                role="img",
                **said,
            ),
            html.P(coverage_verdict(row)),
        ]
    )


def _wrong(row: CoverageCount) -> str:
    counted = [(row.early, "too early"), (row.late, "too late")]
    return "".join(f", {count} {words}" for count, words in counted if count)
