"""The first page where several cookers run: each with what is due there, and the way to its own page."""

from dash import Dash

from dashboard.components import parts
from dashboard.components.answers import told
from dashboard.components.tags import Component, html
from dashboard.live.app_state import AppState, current_state
from dashboard.pages import now
from monitor.runtime import MonitorError

PATH = "/"
TITLE = "kettleside"


def layout(cook: str | None = None, rig: str | None = None, **_others: str) -> parts.Page:
    """The list of those that run; the page of one where it is named, or is the only one.

    rig: a cooker's name, for an address that stays the same from cook to cook.
    """
    if cook is not None:
        return now.layout(cook)
    state = current_state()
    with state.lock:
        try:
            running = state.running()
            if rig is not None:
                own = [found.path.stem for found in running if found.about.rig == rig]
                if not own:
                    return _not_running(rig, bool(running))
                cook = own[0]
            elif len(running) > 1:
                return _list(state)
        except MonitorError as error:
            return parts.still(parts.head(TITLE), parts.refused(told(error)))
    return now.layout(cook)


def register(app: Dash) -> None:
    """What the page of one cook needs."""
    now.register(app)


def _list(state: AppState) -> parts.Page:
    looks = state.overview()
    main = html.Main(
        [
            parts.head(TITLE),
            html.P(f"{len(looks)} cooks are running.", className="plain"),
            html.Ul([_row(number, look) for number, look in enumerate(looks)], className="cooks running"),
            html.P("", id="stale", className="plain", role="status", hidden=True),
            parts.waiting_line(),
            parts.refused_entries(),
        ]
    )
    return parts.Page(main, {"page": "cookers", "cooks": looks})


def _row(number: int, look: dict[str, object]) -> Component:
    title = "" if look["title"] == look["rig"] else f": {look['title']}"
    return html.Li(
        html.A(
            [
                html.Strong(f"{look['rig']}{title}"),
                # The browser writes times, in the viewer's own zone.
                html.Span("", id=f"due-{number}", className="first-due"),
                html.Span("", id=f"state-{number}"),
                html.Span("", id=f"wrong-{number}", className="look-here", hidden=True),
            ],
            href=f"/?cook={look['cook']}",
        )
    )


def _not_running(rig: str, others: bool) -> parts.Page:
    ways = [parts.link("All cookers", "/")] if others else []
    words = f"No cook is running on {rig}. This page shows it as soon as one does."
    main = html.Main(
        [
            parts.head(rig, *ways),
            html.P(words, id="due", className="plain"),
            parts.waiting_line(),
            parts.refused_entries(),
        ]
    )
    return parts.Page(main, {"page": "idle", "rig": rig})
