"""The notes of a cook on its page: those there are, and a field for another one."""

from dash import Dash, Input, Output, State

from dashboard.auth.access_control import is_view_only
from dashboard.components.in_browser import in_browser
from dashboard.components.sending import sender, sent, to_send
from dashboard.components.tags import Component, dcc, html
from dashboard.components.viewer import clock
from monitor.model import Event, History
from monitor.session import LiveCook

LONGEST_NOTE = 2000


def notes_section(cook: LiveCook, history: History) -> Component:
    """The notes, the latest first, and the form for another one where this link may keep it."""
    notes = [_note(event) for event in reversed(history.events_of("note"))]
    form = [] if is_view_only() else [_form(cook.name)]
    return html.Section(
        [html.H2("Notes"), html.Ul(notes or html.Li("None yet."), className="notes"), *form], id="notes"
    )


def _note(event: Event) -> Component:
    words = [html.Span(clock(event.measured), className="when"), str(event.fields["text"])]
    photo = event.fields.get("photo")
    return html.Li([*words, *([html.Span(str(photo), className="why")] if photo else [])])


def _form(name: str) -> Component:
    return html.Div(
        [
            html.Label("What should be remembered?", htmlFor="note-text"),
            dcc.Textarea(id="note-text", maxLength=LONGEST_NOTE),
            sender("note", "Keep the note", "/log", {"cook": name, "kind": "note", "fields": {"text": ""}}),
        ],
        id="note",
    )


def register(app: Dash) -> None:
    """What is typed is what is sent; a note that was kept is shown."""
    in_browser(
        app,
        "noteToSend",
        to_send("note"),
        Input("note-text", "value"),
        State("cook-name", "data"),
        prevent_initial_call=True,
    )
    in_browser(
        app,
        "noteKept",
        Output("note-text", "value"),
        sent("note"),
        prevent_initial_call=True,
    )
