"""Set-up: what is still to be done before a first cook, and the way to all that is arranged once."""

from collections.abc import Iterable

from dash import Dash, Input, Output

from dashboard.auth.access_control import current_guard, is_view_only
from dashboard.auth.addresses import PUSH_PATH, SENDS_PATH, TLS_PATH, UNITS_PATH
from dashboard.auth.readiness import ITEMS, Item, items
from dashboard.auth.ticks import ticks
from dashboard.components import parts
from dashboard.components.answers import told
from dashboard.components.sending import sender
from dashboard.components.tags import Component, dcc, html
from dashboard.live.app_state import current_state
from dashboard.live.invented_cook import current_invented_cook
from monitor.runtime import MonitorError, SystemClock
from monitor.session import is_sample

PATH = "/set-up"
TITLE = "Set-up"
LOOK_EVERY_MS = 5000


def layout(**_others: object) -> parts.Page:
    """The rows, not ticked yet, and the ways; what belongs to a cook is there while one runs."""
    state = current_state()
    with state.lock:
        try:
            running = [found.path.stem for found in state.running()]
            invented = current_invented_cook().name()
        except MonitorError as error:
            return parts.still(parts.head(TITLE), parts.refused(told(error)))
    ways = [
        *(way for name in running[:1] for way in _of_a_cook(name)),
        *([] if is_view_only() else _of_owners()),
        _way("Manual", "What an alarm means and what to do; every page, and a search in all of them", "/manual"),
        _way("Kitchen", "What its cooks have taught, and whether the stated times came true", "/kitchen"),
    ]
    first = [
        html.H2("Before a first cook"),
        html.Ol(_rows(Item(name, words, False, "Looking…", "") for name, words in ITEMS.items()), id="ready"),
        dcc.Interval(id="look-again", interval=LOOK_EVERY_MS),
        *_invented(invented, nothing_runs=not running),
    ]
    once = [*_sound(), html.H2("Arranged once"), html.Ul(ways, className="ways"), *_on_the_computer()]
    return parts.still(
        parts.head(TITLE), html.Div(first, className="column"), html.Div(once, className="column"), title=TITLE
    )


def register(app: Dash) -> None:
    """Ticks the rows."""

    @app.callback(Output("ready", "children"), Input("start", "data"), Input("look-again", "n_intervals"))
    def look(_started: object, _looked: object) -> list[Component]:
        state, hides = current_state(), is_view_only()
        grants = [] if hides else current_guard().access_list.grants()
        valid = [grant for grant in grants if grant.is_valid(SystemClock().now())]
        with state.lock:
            try:
                running = [found for found in state.running() if not is_sample(found)]
                cook = state.cook(running[0].path.stem) if running else None
                return _rows(items(cook, valid, ticks(state.library.folder), hides_owners=hides))
            except MonitorError as error:
                return [html.Li(parts.refused(told(error)))]


def _rows(rows: Iterable[Item]) -> list[Component]:
    return [html.Li(_row(item), className="done" if item.done else "") for item in rows]


def _row(item: Item) -> Component:
    said = [
        html.Span("", className="tick", **{"aria-hidden": "true"}),
        html.Strong(item.words),
        # In words too: a mark alone says nothing to whoever does not see it.
        html.Span([html.Span("Done. " if item.done else "To do. ", className="unseen"), item.found], className="found"),
    ]
    return html.A(said, href=item.to) if item.to else html.Div(said)


def _invented(name: str, *, nothing_runs: bool) -> list[Component]:
    """A cook to look at while nothing is connected."""
    if name:
        told_of = "An invented cook is playing, sixty times faster than life. No soap is made, and nothing is learned."
        way = parts.link("Look at it", f"/?cook={name}")
        return [
            html.H2("Invented cook", id="invented-cook"),
            html.P(told_of),
            html.P(way),
            sender("invented", "End it and put it away", "/set-up-invented-end"),
        ]
    if not nothing_runs or is_view_only():
        return []
    return [
        html.H2("Nothing connected yet?", id="invented-cook"),
        html.P(
            "Watch an invented cook on these very pages, sixty times faster than life: every reading is made up. It is "
            "marked as invented, the kitchen never learns from it, and it can be ended at any time."
        ),
        sender("invented", "Watch an invented cook", "/set-up-invented-begin"),
    ]


def _sound() -> list[Component]:
    return [
        html.H2("Sound", id="sound-here"),
        html.P("Turn the phone's volume up. It rings while Now is open and the phone awake.", className="why"),
        html.Div(
            [
                parts.button("Ring once", id="ring-once"),
                sender("heard", "I heard it", "/set-up-tick", {"what": "sound"}),
            ],
            className="halves",
        ),
    ]


def _on_the_computer() -> list[Component]:
    return [
        html.H2("On the computer beside the cooker"),
        html.P(
            [
                "The check of this machine runs where kettleside runs: type ",
                html.Code("kettleside doctor"),
                ". The kitchen's own figures are told by ",
                html.Code("kettleside kitchen"),
                ".",
            ]
        ),
    ]


def _of_owners() -> list[Component]:
    return [
        _way("What sends", "See what a broker or a cable sends, and how to read it", SENDS_PATH),
        _way("Units", "Grams or ounces, °C or °F", UNITS_PATH),
        _way("Phones", "Who may look and log; pair another one", "/phones"),
        _way("Told on a sleeping phone", "A push service of your choice", PUSH_PATH),
        _way("Secure connection", "TLS: keep the phone awake, open from the home screen", TLS_PATH),
    ]


def _of_a_cook(name: str) -> list[Component]:
    return [
        _way("Probes", "What each one reads; check in ice and boiling water", f"/probes/{name}"),
        _way("Notices and sound", "Try every way of being told; let this page ring", f"/?cook={name}#told"),
        _way("Costs", "What a check and a minute over-cooked cost you", f"/?cook={name}#slip-costs"),
    ]


def _way(words: str, about: str, to: str) -> Component:
    return html.Li(html.A([html.Strong(words), html.Span(about)], href=to))
