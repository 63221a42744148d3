"""Callbacks that the browser answers itself, by a function of the pages' own scripts."""

from typing import Any

from dash import ClientsideFunction


def in_browser(app: Any, function: str, *dependencies: object, **more: object) -> None:
    """Has ``function`` of the scripts' own namespace answer a callback. more: as ``Dash.callback`` takes it.

    app: untyped, as Dash's own method is.
    """
    app.clientside_callback(ClientsideFunction("kettleside", function), *dependencies, **more)
