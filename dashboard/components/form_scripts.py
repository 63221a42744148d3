"""What a form leaves to the browser: gathering what is typed, keeping it for the next visit, and taking back."""

from collections.abc import Mapping
from typing import Any

from dash import ALL, Input, Output, State

from dashboard.components.fields import EVERY_FIELD
from dashboard.components.in_browser import in_browser
from dashboard.components.sending import sender, to_send
from dashboard.components.tags import Component, dcc, html

EVERY_SENT = {"send": ALL, "part": "sent"}


def kept_slate(asked: Mapping[str, object]) -> Component:
    """What was written last, for a while, with the button that takes it back; and what the form's scripts hand on.

    asked: what the form came with.
    """
    return html.Div(
        [
            html.Div(
                [
                    html.P("", id="form-kept", role="status"),
                    html.Div(sender("form-back", "Take it back", "/back"), id="form-back"),
                ],
                id="form-slate",
                hidden=True,
            ),
            dcc.Store(id="form-restored"),
            dcc.Store(id="form-asked", data=asked),
            dcc.Store(id="form-printed"),
        ]
    )


def add_form_scripts(app: Any) -> None:
    """Registers what the browser does for every form.

    ``form-asked`` gets what is typed, once nothing was typed for a moment; ``form-restored`` what was kept of it.
    """
    in_browser(
        app,
        "gather",
        Output("form-asked", "data"),
        Input(EVERY_FIELD, "value"),
        Input("form-drawn", "data"),
        Input(EVERY_SENT, "data"),
    )
    in_browser(
        app,
        "restore",
        Output("form-restored", "data"),
        Input("start", "data"),
        State("form-drawn", "data"),
    )
    in_browser(
        app,
        "kept",
        Output("form-slate", "hidden"),
        Output("form-kept", "children"),
        Output("form-back", "hidden"),
        to_send("form-back"),
        Input(EVERY_SENT, "data"),
        prevent_initial_call=True,
    )
    in_browser(
        app,
        "print",
        Output("form-printed", "data"),
        Input("bench-print", "n_clicks"),
        prevent_initial_call=True,
    )
