"""Set-up: the way to everything that is arranged once and not at every cook."""

from dashboard.access_control import is_view_only
from dashboard.answers import told
from dashboard.app_state import current_state
from dashboard.pages import parts
from dashboard.pages.tags import Component, html
from monitor.runtime import MonitorError

PATH = "/set-up"
TITLE = "Set-up"


def layout(**_others: str) -> parts.Page:
    """A list of what can be arranged; what belongs to a cook is there while one runs."""
    state = current_state()
    with state.lock:
        try:
            running = [found.path.stem for found in state.running()]
        except MonitorError as error:
            return parts.still(parts.head(TITLE), html.P(told(error), className="plain", role="alert"))
    ways = [way for name in running[:1] for way in _of_a_cook(name)]
    ways += [
        *([] if is_view_only() else [_way("Phones", "Who may look and log; pair another one", "/phones")]),
        _way("Kitchen", "What its cooks have taught, and whether the stated times came true", "/kitchen"),
    ]
    without = [] if running else [html.P("Probes, notices and costs are here while a cook runs.", className="why")]
    check = html.P(
        [
            "The check of this machine runs where kettleside runs: type ",
            html.Code("kettleside doctor"),
            ".",
        ]
    )
    return parts.still(
        parts.head(TITLE),
        html.Ul(ways, className="ways"),
        *without,
        html.H2("On the computer beside the cooker"),
        check,
    )


def _of_a_cook(name: str) -> list[Component]:
    return [
        _way("Probes", "What each one reads; check in ice and boiling water", f"/probes/{name}"),
        _way("Notices and sound", "Try every way of being told; let this page ring", f"/?cook={name}#told"),
        _way("Costs", "What a check and a minute over-cooked cost you", f"/?cook={name}#slip-costs"),
    ]


def _way(words: str, about: str, to: str) -> Component:
    return html.Li(html.A([html.Strong(words), html.Span(about)], href=to))
