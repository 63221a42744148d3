"""The WSGI application: Dash pages behind the doorkeeper, with the scripts' addresses beside them."""

from pathlib import Path
from typing import Any

import dash
from dash import Dash, Input, Output
from dash.dependencies import ClientsideFunction
from flask import Flask

from dashboard.desk import DESK, Desk, add_addresses
from dashboard.diet import Larder
from dashboard.live import ShortWay
from dashboard.pages import cooks, lost, now, replay
from dashboard.pairing import Doorkeeper
from monitor.view import Shelf

ASSETS = Path(__file__).parent / "assets"
# Dash brings these to every page: its table, of which no page here has one, and a polyfill for browsers of before
# 2018, which takes a tenth of the time to plot. The one part of it that Dash still needs is among the assets.
UNUSED_SCRIPTS = ("/dash_table/", "/deps/polyfill@")

_INDEX = """<!DOCTYPE html>
<html lang="en-GB"><head>{metas}<title>{title}</title><meta name="color-scheme" content="light dark">
<link rel="icon" href="data:image/svg+xml,%3Csvg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 16 16'%3E%3Cpath
 d='M2 5h12v6q0 3-3 3H5q-3 0-3-3zM1 3h14v1H1z' fill='%23806030'/%3E%3C/svg%3E">{css}</head>
<body><noscript>This page needs JavaScript.</noscript>{app_entry}
<footer>{config}{scripts}{renderer}</footer></body></html>
"""


class _Pages(Dash):
    """Dash with an index page of our own, without the scripts that no page here uses."""

    def interpolate_index(self, *_given: Any, **parts: Any) -> str:
        lines = parts["scripts"].split("\n")
        parts["scripts"] = "\n".join(line for line in lines if not any(name in line for name in UNUSED_SCRIPTS))
        return _INDEX.format(**parts)


def make_app(shelf: Shelf, key: str) -> Flask:
    """The application for the cooks of ``shelf``, opened with ``key``. Thread-safe."""
    server = Flask("dashboard", static_folder=None)
    desk = Desk(shelf)
    server.extensions[DESK] = desk
    doorkeeper = Doorkeeper(key)
    doorkeeper.guard(server)
    add_addresses(server, desk)
    # Dash types its server as a switch, and its functions not at all.
    pages: Any = _Pages
    app = pages(
        "dashboard",
        server=server,
        use_pages=True,
        pages_folder="",
        assets_folder=str(ASSETS),
        serve_locally=True,
        title="kettleside",
        update_title="",
        include_pages_meta=False,
        suppress_callback_exceptions=True,
    )
    register: Any = dash.register_page
    register("now", path="/", title=now.TITLE, layout=now.layout)
    register("cooks", path="/cooks", title=cooks.TITLE, layout=cooks.layout)
    register("replay", path_template="/cooks/<name>", title=replay.TITLE, layout=replay.layout)
    # Dash shows the page of this name where no other one fits.
    register("not_found_404", path="/404", title=lost.TITLE, layout=lost.layout)
    app.layout = dash.page_container
    # The script starts once Dash has put the page up, and hands Dash all that changes from then on.
    app.clientside_callback(ClientsideFunction("kettleside", "begin"), Output("drawn", "data"), Input("start", "data"))
    larder = Larder(server, lambda: list(app.csp_hashes()))
    larder.warm(server, key)
    short_way: Any = ShortWay(server.wsgi_app, desk, doorkeeper)
    server.wsgi_app = short_way  # type: ignore[method-assign]
    return server
