"""One cook as of any moment, with the components of the page beside the cooker."""

from urllib.parse import unquote

from dashboard.board import cook_moments, look_at
from dashboard.desk import current_desk
from dashboard.pages import parts
from dashboard.pages.tags import Component, dcc, html
from monitor.errors import MonitorError

TITLE = "A past cook"


def layout(name: str = "", **_others: str) -> parts.Page:
    """The cook of this name as of its end; the slider asks for other moments."""
    desk = current_desk()
    way = parts.link("Past cooks", "/cooks")
    try:
        with desk.lock:
            cook = desk.cook(unquote(name))
            look = look_at(cook)
            moments = cook_moments(cook)
    except MonitorError as error:
        return parts.still(parts.head("This cook cannot be shown", way), html.P(str(error), className="plain"))
    main = html.Main(
        [
            parts.head(str(look["ti"]), parts.link("Record", f"/record/{cook.name}"), way),
            html.P("", id="as-of", role="status"),
            parts.due_lines(),
            parts.facts_and_curve(),
            _time_travel(moments[0], moments[-1]),
        ],
        className="replay",
    )
    return parts.looked_at("replay", cook.name, look | {"moments": moments}, main)


def _time_travel(first: int, last: int) -> Component:
    return html.Footer(
        [
            html.Label("As it was known at", htmlFor="moment", id="moment-label"),
            dcc.Input(id="moment", type="range", min=first, max=last, step=1, value=last),
            html.Div(
                [
                    parts.button("Event before", **{"data-step": "-1"}),
                    parts.button("Event after", **{"data-step": "1"}),
                ],
                id="first",
            ),
        ],
        id="dock",
    )
