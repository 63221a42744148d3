"""The page of one past cook: its verdict, its course with the replay, where the time went, the sheet, the notes."""

from urllib.parse import quote

from dash import Dash, Input, Output, State

from dashboard.auth.access_control import is_view_only
from dashboard.components import parts
from dashboard.components.bench_words import percent, weight
from dashboard.components.in_browser import in_browser
from dashboard.components.sending import sender
from dashboard.components.tags import Component, dcc, html
from dashboard.components.viewer import clock, time_of
from dashboard.live.app_state import current_state
from dashboard.live.past_list import CookLine, line_of
from dashboard.pages import cook_notes, cook_then, cook_time
from monitor.model import Batch, History, event_text
from monitor.storage import summary

PATH = "/cooks/<name>"
# What was measured and made, in the order of the log.
OUTCOMES = (
    *("checked", "ph read", "titrated", "weighed", "paste weighed", "water added", "neutraliser added", "added"),
    *("settled", "bottled", "labelled"),
)


def layout(name: str = "", **_others: object) -> parts.Page:
    """The page of the cook of this name. Raises RecordingError where there is none, or none that can be read."""
    state = current_state()
    with state.lock:
        cook = state.cook(name)
        history, ended = cook.history(), cook.finished() is not None
        line = line_of(summary(cook.path), set(state.library.under_way().values()), cook.batch_now())
    address = quote(name, safe="")
    ways = [
        parts.link("Record", f"/record/{address}"),
        parts.link("Compare", f"/compare?cook={address}"),
        parts.link("Cooks", "/cooks"),
    ]
    main = [
        parts.head(line.title, *ways),
        _verdict(line, address),
        html.Div(cook_then.replay(), className="column"),
        html.Div(
            [
                *([cook_time.time_section()] if ended else []),
                html.Section([html.H2("Sheet and outcome"), *_sheet(history.batch), *_outcomes(history)]),
                _after_the_week(history, address),
                cook_notes.notes_section(cook, history),
                _pictures(),
                *([_delete(name)] if not line.running and not is_view_only() else []),
            ],
            className="column",
        ),
        dcc.Store(id="cook-name", data=name),
    ]
    return parts.still(*main, title=line.title)


def _verdict(line: CookLine, address: str) -> Component:
    how, _, rest = line.outcome.partition(", ")
    assert line.began is not None
    waiting = "…" if line.ended else ""
    ways = {"Finish this cook": not line.ended, "Go on with the batch": line.ended and bool(line.stands)}
    unfinished = [parts.link(words, f"/?cook={address}") for words, there in ways.items() if there]
    return html.Section(
        [
            html.P([time_of(line.began, day=True), f" · {rest}" if rest else ""], className="why"),
            html.P(how, className="outcome"),
            *([html.P(f"The batch: {line.stands}")] if line.stands else []),
            html.P(waiting, id="dearest", className="dearest"),
            html.P(waiting, id="against-usual"),
            *unfinished,
        ],
        id="verdict",
    )


def _sheet(batch: Batch | None) -> list[Component]:
    if batch is None:
        return [html.P("There is no batch sheet in this recording.")]
    alkali = batch.alkali
    rows = [(oil.name, f"{weight(oil.grams)}{f', lot {oil.lot}' if oil.lot else ''}") for oil in batch.oils]
    rows.append((alkali.kind, f"{percent(alkali.assay)} pure, {percent(alkali.excess)} excess"))
    rows.append(("Water for the lye", weight(batch.water_grams)))
    if batch.glycerol_grams:
        rows.append(("Glycerol", weight(batch.glycerol_grams)))
    return [html.Dl([html.Div([html.Dt(what), html.Dd(much)]) for what, much in rows], className="sheet")]


def _outcomes(history: History) -> list[Component]:
    rows = [
        html.Li(
            [html.Span(clock(event.measured), className="when"), cook_then.logged_words(event.kind, event_text(event))]
        )
        for event in history.events_of(*OUTCOMES)
    ]
    return [html.Ul(rows, className="outcomes")] if rows else []


def _after_the_week(history: History, address: str) -> Component:
    rows = [
        html.Li([time_of(event.measured, day=True), html.Span(f" {event_text(event)}")])
        for event in reversed(history.events_of("outcome"))
    ]
    ways = [
        parts.link("Say how it looks", f"/bench/outcome?cook={address}"),
        " ",
        parts.link("Outcomes of all", "/outcomes"),
    ]
    return html.Section([html.H2("After the week"), html.Ul(rows or html.Li("Not said yet.")), html.P(ways)], id="week")


def _pictures() -> Component:
    buttons = [parts.button("As SVG", id="keep-svg"), parts.button("As PNG", id="keep-png")]
    return html.Section(
        [html.H2("Keep the picture of the course"), html.Div(buttons, className="pair"), html.P("", id="picture-said")]
    )


def _delete(name: str) -> Component:
    sure = [
        html.P("It can be put back for a day, under Cooks. After that it is gone for good.", className="why"),
        sender("delete", "Yes, delete it", "/cooks/delete", {"cook": name}),
    ]
    return html.Details([html.Summary("Delete this cook…"), *sure], className="delete")


def register(app: Dash) -> None:
    """The replay, the lost time and the notes."""
    cook_then.register(app)
    cook_time.register(app)
    cook_notes.register(app)
    in_browser(
        app,
        "keepPicture",
        Output("picture-said", "children"),
        Input("keep-svg", "n_clicks"),
        Input("keep-png", "n_clicks"),
        State("cook-name", "data"),
        prevent_initial_call=True,
    )
