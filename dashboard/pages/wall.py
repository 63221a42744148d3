"""The wall view: a cook on a tablet beside the cooker, read from across the kitchen, with nothing to press."""

from urllib.parse import quote

from dashboard.components import parts
from dashboard.components.answers import told
from dashboard.components.tags import html
from dashboard.live.app_state import AppState, current_state
from monitor.runtime import MonitorError

PATH = "/wall"


def layout(cook: str | None = None, rig: str | None = None, **_others: str) -> parts.Page:
    """The named cook, else the one on the named cooker, else the one that began last.

    Without a name of a cook it goes on to the next one by itself.
    """
    state = current_state()
    with state.lock:
        try:
            running = [found for found in state.running() if rig in (None, found.about.rig)]
            name = cook or (running[0].path.stem if running else None)
            return _idle(rig) if name is None else _page(state, name, cook is None, rig)
        except MonitorError as error:
            return parts.still(html.P(told(error), className="plain", role="alert"))


def _page(state: AppState, name: str, goes_on: bool, rig: str | None) -> parts.Page:
    look = state.delta(name).since(None)
    main = html.Main(
        [
            html.H1(str(look["title"]), id="title"),
            html.Div(
                [
                    html.P("", id="pace"),
                    html.P("", id="away", role="status", hidden=True),
                    parts.due(),
                    html.Section([], id="wrong", hidden=True, **{"aria-label": "What is wrong"}),
                    parts.three_values(),
                ],
                className="column",
            ),
            html.Div(parts.course(name), className="column"),
        ],
        className="wall",
    )
    page = parts.looked_at(name, look, main)
    after = ("/live" if rig is None else f"/live?rig={quote(rig)}") if goes_on else None
    return parts.Page(main, {**page.start, "wall": True, "after": after})


def _idle(rig: str | None) -> parts.Page:
    main = html.Main(
        [html.H1(rig or "kettleside", id="title"), html.P("No cook is running.", id="due")], className="wall"
    )
    return parts.Page(main, {"page": "idle", "rig": rig})
