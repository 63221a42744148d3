"""The batch sheets that are kept for cooks to come."""

from dashboard.components import parts
from dashboard.components.tags import Component, html
from dashboard.live.app_state import current_state
from monitor.storage import KeptSheet, kept_sheets

PATH = "/bench/sheets"
TITLE = "Kept sheets"


def layout(**_others: object) -> parts.Page:
    """A list of them, each leading to its page; one that cannot be read says why."""
    found = kept_sheets(current_state().library.folder)
    none = html.P("No sheet is kept yet: plan a batch and keep it.", className="plain")
    return parts.still(
        parts.head(TITLE, parts.link("Bench", "/bench")),
        html.Ul([_row(sheet) for sheet in found], className="ways") if found else none,
        html.P(parts.link("Plan a batch", "/bench/plan"), className="plain"),
        title=TITLE,
    )


def _row(sheet: KeptSheet) -> Component:
    if sheet.batch is None:
        return html.Li(html.P(f"{sheet.name} cannot be read: {sheet.why}", className="plain"))
    oils = ", ".join(f"{oil.name} {oil.grams:g} g" for oil in sheet.batch.oils)
    return html.Li(html.A([html.Strong(sheet.batch.title), html.Span(oils)], href=f"/bench/sheets/{sheet.name}"))
