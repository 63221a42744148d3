"""The replay on the page of a cook: its course over a slider, and what was known at the moment where that stands."""

from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd
from dash import Dash, Input, Output, State

from dashboard.components import parts
from dashboard.components.chart import chart, chart_data, chart_output
from dashboard.components.in_browser import in_browser
from dashboard.components.tags import Component, dcc, html
from dashboard.components.viewer import clock, zone_name
from dashboard.live.app_state import current_state
from dashboard.live.replay import course_at, frame_of
from monitor.model import PERSON_EVENTS, History, event_text
from monitor.plots import COURSE_EDGES_PX, shaded

COURSE_PX = 320
# The slider's value is a part of the course's axis, by so many parts.
PARTS = 1000
DRIVES = ("event-before", "event-after", "play", "speed")
SPEED_WORDS = "1 min a second"
KEY = "Ticks are stirs, glasses are checks; a hatched stretch has no readings. Hill: how likely clear when, as of then."


def replay() -> list[Component]:
    """The course with its slider and buttons, then what was known. The cook's name stands in the store "cook-name"."""
    edges = {"--left": f"{COURSE_EDGES_PX[0]}px", "--right": f"{COURSE_EDGES_PX[1]}px"}
    step = parts.button
    return [
        html.Div(
            [
                chart("course", COURSE_PX, caption=KEY),
                html.Div("", id="moment-line", hidden=True),
                html.Div(
                    [
                        html.Label("As it was known at the end", id="moment-label", htmlFor="moment"),
                        # Dash hears of a moment by the script alone: an answer of its own to each step of a finger
                        # takes a slow phone longer than a frame.
                        dcc.Input(id="moment", type="range", min=0, max=PARTS, step="any", value=PARTS, debounce=True),
                    ],
                    className="scrub",
                ),
                html.Div(
                    [
                        step("Event before", id="event-before"),
                        step("Event after", id="event-after"),
                        step("Play", id="play"),
                        step(SPEED_WORDS, id="speed", title="How fast"),
                    ],
                    className="steps-row",
                ),
                _known_then(),
            ],
            className="course replayed",
            style=edges,
        ),
        # frame: what stays. rested: where the finger rests, null at the end. stretch: [begin, end, cause] to be shaded.
        *(dcc.Store(id=name) for name in ("frame", "rested", "stretch")),
        dcc.Interval(id="beat", interval=200, disabled=True),
    ]


def _known_then() -> Component:
    head = html.Tr([html.Td(""), html.Th("Said then", scope="col"), html.Th("Came of it", scope="col")])
    rows = [
        html.Tr(
            [html.Th(what.capitalize(), scope="row"), html.Td("", id=f"{what}-said"), html.Td("", id=f"{what}-came")],
            id=f"{what}-row",
        )
        for what in ("clear", "stir", "check")
    ]
    return html.Section(
        [
            html.H2("What was known then"),
            html.P("…", id="glance"),
            html.P("", id="wrong-then"),
            html.Table([html.Thead(head), html.Tbody(rows)], className="said"),
            html.Details([html.Summary("Logged by then"), html.Ul("", id="log-list")]),
        ],
        id="known-then",
    )


def register(app: Dash) -> None:
    """The frame and the course from the server; the moment from server and browser."""

    @app.callback(Output("frame", "data"), Input("start", "data"), State("cook-name", "data"))
    def frame(_started: object, name: str) -> dict[str, object]:
        state = current_state()
        with state.lock:
            return frame_of(state.cook(name))

    @app.callback(
        chart_output("course"),
        Output("log-list", "children"),
        Input("frame", "data"),
        Input("rested", "data"),
        Input("stretch", "data"),
        State("cook-name", "data"),
    )
    def draw(
        frame: Mapping[str, Any] | None, rested: float | None, stretch: Sequence[Any] | None, name: str
    ) -> tuple[dict[str, object] | None, list[Component]]:
        if frame is None:
            return None, []
        state, zone = current_state(), zone_name()
        with state.lock:
            cook = state.cook(name)
            figure = course_at(cook, rested, (float(frame["begin"]), float(frame["end"])), zone)
            history = cook.history(rested)
        if stretch:
            begin, end = (pd.Timestamp(moment, unit="s", tz=zone) for moment in stretch[:2])
            figure = shaded(figure, begin, end, str(stretch[2]))
        return chart_data(figure), logged_by_then(history)

    for function, output, inputs in (
        ("frameHere", ("moment-label", "children"), [("frame", "data")]),
        ("drive", ("beat", "disabled"), [(one, "n_clicks") for one in DRIVES] + [("beat", "n_intervals")]),
    ):
        in_browser(app, function, Output(*output), *(Input(*one) for one in inputs))


def logged_by_then(history: History) -> list[Component]:
    """The rows of the log that stood then, the latest first."""
    logged = [event for event in history.events if event.kind in PERSON_EVENTS]
    rows = [
        html.Li([html.Span(clock(event.measured), className="when"), logged_words(event.kind, event_text(event))])
        for event in reversed(logged)
    ]
    return rows or [html.Li("Nothing was logged yet.")]


def logged_words(kind: str, details: str) -> str:
    """An event as the log has it.

    >>> logged_words("checked", "hazy"), logged_words("lid on", ""), logged_words("ph read", "10.1")
    ('Checked: hazy', 'Lid on', 'pH read 10.1')
    """
    joined = kind if not details else f"{kind}: {details}" if kind in _WITH_COLON else f"{kind} {details}"
    return f"pH {joined[3:]}" if joined.startswith("ph ") else joined[:1].upper() + joined[1:]


_WITH_COLON = ("checked", "looked", "heat", "note", "costs set")
