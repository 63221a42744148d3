"""The page beside the cooker: what to do next and when, and buttons to log what was done."""

from dashboard.desk import Desk, current_desk
from dashboard.pages import parts
from dashboard.pages.tags import Component, html
from monitor.errors import MonitorError

TITLE = "kettleside"


def layout(cook: str | None = None, **_others: str) -> Component:
    """The page of the named cook, else of the one that began last, else of an idle cooker."""
    desk = current_desk()
    with desk.lock:
        try:
            return _page(desk, cook)
        except MonitorError as error:
            return html.Main([parts.head("kettleside", _past()), html.P(str(error), className="plain", role="alert")])


def _page(desk: Desk, wanted: str | None) -> Component:
    running = desk.running()
    if wanted is None and not running:
        return _idle()
    name = wanted or running[0].path.stem
    board = desk.board(name)
    look = board.since(None)
    others = [
        html.Li(html.A(f"{found.about.rig}: {found.title}", href=f"/?cook={found.path.stem}"))
        for found in running
        if found.path.stem != name
    ]
    choice = [html.Nav([html.P("Also running:"), html.Ul(others)], className="others", **{"aria-label": "Cookers"})]
    return html.Main(
        [
            *(choice if others else []),
            parts.head(str(look["ti"]), _past()),
            parts.due_lines(),
            parts.facts_and_curve(),
            parts.dock(),
            *parts.dialogs(),
            *parts.first_look("now", name, look),
        ]
    )


def _past() -> Component:
    return parts.link("Past cooks", "/cooks")


def _idle() -> Component:
    return html.Main(
        [
            parts.head("kettleside", _past()),
            html.P("No cook is running.", id="due"),
            html.P(
                "A new cook is a new recording. The logger takes it up when it runs; "
                "“kettleside start” on the computer beside the cooker runs it.",
                className="plain",
            ),
            html.P("", id="strip-words", role="status"),
            html.Footer(html.Div(parts.button("Start a new cook", id="begin"), id="first"), id="dock"),
            *parts.first_look("idle", None, {}),
        ]
    )
