"""Buttons by which a page changes a fact.

Server callbacks only read, so that a view-only link may call them all. A fact is changed by a request to an address of
its own, which the guard checks and which knows a repeated request by its id: the answer to a tap may get lost.
"""

from collections.abc import Mapping
from typing import Any
from urllib.parse import quote

from dash import MATCH, Input, Output, State

from dashboard.components.in_browser import in_browser
from dashboard.components.tags import Component, dcc, html


def sender(
    name: str,
    words: str,
    path: str,
    body: Mapping[str, object] | None = None,
    fields: Mapping[str, str] | None = None,
    gathers: bool = False,
    **button: object,
) -> Component:
    """A button that posts ``body`` to ``path``, and a line that says what became of it.

    name: by which callbacks read what was answered (``sent``) or write what is to be sent (``to_send``). An answer
    with the key ``to`` leads to that address. fields: key of the body -> id of the input whose text it is at the tap.
    gathers: all that stands in the page's form goes with it, as it is typed at the tap. Hidden from view-only links by
    the style sheet.
    """
    task = {"path": path, "body": dict(body or {}), "fields": dict(fields or {}), "gathers": gathers}
    return html.Div(
        [
            html.Button(words, id=_part(name, "button"), type="button", **button),
            html.P("", id=_part(name, "said"), role="status"),
            dcc.Store(id=_part(name, "task"), data=task),
            dcc.Store(id=_part(name, "sent")),
        ],
        className="sends",
    )


def to_send(name: str) -> Output:
    """Where a callback writes ``{"path": ..., "body": {...}}``, which the button's next tap sends."""
    return Output(_part(name, "task"), "data")


def sent(name: str) -> Input:
    """What was answered: ``{"ok": true, "answer": {...}}``, or ``{"ok": false, "words": ...}``; None before a tap."""
    return Input(_part(name, "sent"), "data")


def add_senders(app: Any) -> None:
    """Registers what sends for every page."""
    in_browser(
        app,
        "send",
        Output(_part(MATCH, "sent"), "data"),
        Output(_part(MATCH, "said"), "children"),
        Input(_part(MATCH, "button"), "n_clicks"),
        State(_part(MATCH, "task"), "data"),
        prevent_initial_call=True,
    )


def _part(name: object, part: str) -> dict[str, object]:
    # An id may hold no blank (HTML Living Standard, 3.2.6).
    return {"send": quote(name, safe="") if isinstance(name, str) else name, "part": part}
