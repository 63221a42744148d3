"""Whether stated clear times came true: how often, and cook by cook."""

from pathlib import Path

from dash import Dash, Input

import monitor
from dashboard.app_state import current_state
from dashboard.components.chart import chart, chart_data, chart_output
from dashboard.pages import parts
from dashboard.pages.tags import html
from monitor.analysis import NOMINAL_COVERAGE, CoverageCount, StatedInterval, coverage_counts, coverage_verdict
from monitor.plots import stated_against_came

PATH = "/truth"
TITLE = "Did it come true?"
# To judge a cook costs tenths of a second the first time.
MAX_JUDGED = 40
# The chart shows what was stated half way: early enough to plan by, late enough to know something.
CHART_SHARE = 0.5
KEY = (
    "A row is a cook, the latest first. Hatched: between the last sample that was not clear and the first that was. "
    "The bar is what was stated; a disc came true, a cross did not."
)


def layout(**_others: object) -> parts.Page:
    """How often the stated intervals held, at each share of the cook; the chart follows."""
    rows = [row for row in coverage_counts([interval for _, interval in _stated()]) if row.stated]
    way = parts.link("Cooks", "/cooks")
    if not rows:
        words = "No finished cook with a clear check yet, so no stated time could be held against one."
        return parts.still(parts.head(TITLE, way), html.P(words, className="plain"), title=TITLE)
    promise = (
        "Each stated clear time is an interval that promises to hold in 8 of 10 cooks. Here it is held against what "
        f"the checks showed, over at most the latest {MAX_JUDGED} cooks."
    )
    sections = [
        html.Section(
            [
                html.H2(f"At {row.share * 100:.0f} % of the cook"),
                html.P([html.Strong(f"{row.true} of {row.stated}"), f" came true{_wrong(row)}."], className="plain"),
                html.Div(
                    [
                        html.Span("", className="kept", style={"width": f"{100 * row.true / row.stated:.1f}%"}),
                        html.Span("", className="promised", style={"left": f"{100 * NOMINAL_COVERAGE:.0f}%"}),
                    ],
                    className="share",
                    role="img",
                    **{"aria-label": f"{row.true} of {row.stated}, promised {NOMINAL_COVERAGE * row.stated:.1f}"},
                ),
                html.P(coverage_verdict(row)),
            ]
        )
        for row in rows
    ]
    return parts.still(
        parts.head(TITLE, way),
        html.P(promise),
        *sections,
        html.P("The stroke across each bar stands at the 8 of 10 that were promised.", className="why"),
        html.H2("Cook by cook, as said half way"),
        chart("coverage", 150 + 34 * sum(one.share == CHART_SHARE for _, one in _stated()), caption=KEY),
        title=TITLE,
    )


def register(app: Dash) -> None:
    """Draws the chart."""

    @app.callback(chart_output("coverage"), Input("start", "data"))
    def draw(_started: object) -> dict[str, object]:
        stated = monitor.stated_times(current_state().library.folder, MAX_JUDGED)
        return chart_data(stated_against_came(stated[stated["share"] == CHART_SHARE]))


def _stated() -> list[tuple[Path, StatedInterval]]:
    # Not under the lock: this reads other cooks, and no phone should wait for that.
    return current_state().library.interval_coverage(MAX_JUDGED)


def _wrong(row: CoverageCount) -> str:
    counted = [(row.early, "too early"), (row.late, "too late")]
    return "".join(f", {count} {words}" for count, words in counted if count)
