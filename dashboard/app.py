"""The WSGI application: Dash pages behind the doorkeeper, with the scripts' addresses beside them."""

from pathlib import Path
from typing import Any

import dash
from dash import Input, Output
from dash.dependencies import ClientsideFunction
from dash.exceptions import DashException
from flask import Flask, Response, request

from dashboard.access_control import Door, Doorkeeper
from dashboard.answers import refuse_deep_json
from dashboard.app_state import APP_STATE, AppState
from dashboard.bench_desk import add_bench
from dashboard.cook_routes import add_addresses
from dashboard.index import PageApp, for_dash, routes_of
from dashboard.pages import cookers, lost
from dashboard.past_routes import add_past
from dashboard.phones_routes import add_phones
from dashboard.probes_routes import add_probes
from dashboard.self_test_route import add_trying
from dashboard.static_cache import StaticCache
from monitor.session import CookLibrary

ASSETS = Path(__file__).parent / "assets"


def make_app(library: CookLibrary, key: str, door: Door | None = None) -> Flask:
    """The application for the cooks of ``library``, opened with ``key``. Thread-safe.

    door: what the doorkeeper goes by; None keeps the list of phones in memory.
    """
    server = Flask("dashboard", static_folder=None)
    state = AppState(library)
    server.extensions[APP_STATE] = state
    doorkeeper = Doorkeeper(key, door)
    doorkeeper.guard(server)
    server.before_request(refuse_deep_json)
    add_addresses(server, state)
    add_bench(server, state)
    add_phones(server, doorkeeper)
    add_trying(server, state)
    add_probes(server, state)
    add_past(server, state)
    # Dash types its server as a switch, and its functions not at all.
    pages: Any = PageApp
    app = pages(
        "dashboard",
        server=server,
        use_pages=True,
        pages_folder="",
        assets_folder=str(ASSETS),
        # The bench, the record, the probes and the past cooks, which need no script of Dash's, bring their own.
        assets_ignore=r"^(bench|record|probes|past|replay)\.",
        serve_locally=True,
        title="kettleside",
        update_title="",
        include_pages_meta=False,
        suppress_callback_exceptions=True,
    )
    app.routes = routes_of({"/": cookers.layout})
    register: Any = dash.register_page
    register("now", path="/", title=cookers.TITLE, layout=for_dash(cookers.layout))
    # Dash shows the page of this name where no other one fits.
    register("not_found_404", path="/404", title=lost.TITLE, layout=for_dash(lost.layout))
    app.layout = dash.page_container
    # Dash has put the page up: from now on it is Dash's own.
    app.clientside_callback(
        ClientsideFunction("kettleside", "takeOver"), Output("taken", "data"), Input("start", "data")
    )
    _refuse_what_dash_trips_over(server)
    cache = StaticCache(server, lambda: list(app.csp_hashes()))
    cache.preload(server)
    return server


def _refuse_what_dash_trips_over(server: Flask) -> None:
    """Dash checks little of what it is sent, and would answer a caller's rubbish as if it were at fault itself."""

    def rubbish(error: Exception) -> Response:
        if not request.path.startswith("/_dash-"):
            raise error
        # One of the page's own would be a fault of ours, which has to be seen.
        server.logger.warning("A request that Dash does not understand: %s.", type(error).__name__)
        status = 404 if request.method == "GET" else 400
        return Response("This is no request of the page's.", status, mimetype="text/plain")

    for kind in (DashException, LookupError, TypeError, ValueError, AttributeError):
        server.register_error_handler(kind, rubbish)
