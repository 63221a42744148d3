"""The WSGI application: Dash pages behind access control, with the addresses that scripts request beside them."""

from functools import partial
from pathlib import Path
from typing import Any

from dash.exceptions import DashException
from flask import Flask, Response, redirect, request

from dashboard.auth.access_control import AccessSettings, RequestGuard
from dashboard.auth.addresses import PICTURES_PATH
from dashboard.components.answers import refuse_deep_json
from dashboard.components.chart import add_charts
from dashboard.components.installable import add_manifest
from dashboard.components.manual_text import FOLDER
from dashboard.components.sending import add_senders
from dashboard.index import PageApp, set_status
from dashboard.live.app_state import APP_STATE, AppState
from dashboard.live.invented_cook import add_invented_cook
from dashboard.pages import page_modules
from dashboard.routes.alert_line import add_alert_line_route
from dashboard.routes.bench import add_bench
from dashboard.routes.certificate import add_certificate_routes
from dashboard.routes.cook import add_cook_routes
from dashboard.routes.listening import add_listening
from dashboard.routes.metrics import add_metrics_route
from dashboard.routes.past import add_past_routes
from dashboard.routes.phones import add_phones_routes
from dashboard.routes.probes import add_probes_routes
from dashboard.routes.push import add_push_routes
from dashboard.routes.self_test import add_self_test_route
from dashboard.routes.sheets import add_sheet_routes
from dashboard.routes.stock import add_stock_routes, allow_file
from dashboard.routes.units import add_units_route
from dashboard.server.static_cache import StaticCache
from monitor.session import CookLibrary

ASSETS = Path(__file__).parent / "assets"
# Addresses of before -> where the same is shown today.
MOVED = {"/truth": "/kitchen#truth"}

# Each registers its addresses on the server.
WITH_STATE = (
    add_cook_routes,
    add_alert_line_route,
    add_bench,
    add_sheet_routes,
    add_stock_routes,
    add_self_test_route,
    add_push_routes,
    add_units_route,
    add_invented_cook,
    add_probes_routes,
    add_past_routes,
)


def make_app(library: CookLibrary, key: str, access: AccessSettings | None = None) -> Flask:
    """The application for the cooks of ``library``, to which ``key`` gives access. Thread-safe.

    access: the access list and host names; None keeps the access list in memory.
    """
    server = Flask("dashboard", static_folder=None)
    state = AppState(library)
    server.extensions[APP_STATE] = state
    add_metrics_route(server, state, key)
    guard = RequestGuard(key, access)
    guard.install(server)
    server.before_request(allow_file)
    server.before_request(refuse_deep_json)
    add_manifest(server)
    for add in WITH_STATE:
        add(server, state)
    for add_guarded in (add_phones_routes, add_certificate_routes):
        add_guarded(server, guard)
    add_listening(server)
    server.add_url_rule(f"{PICTURES_PATH}/<name>", "manual pictures", manual_picture)
    for old, new in MOVED.items():
        server.add_url_rule(old, old, partial(redirect, new, 301))
    # Dash annotates its parameter ``server`` as bool, and its functions not at all.
    pages: Any = PageApp
    app = pages(
        "dashboard",
        server=server,
        assets_folder=str(ASSETS),
        # The printed record, made from a template, brings its own.
        assets_ignore=r"^record\.",
        serve_locally=True,
        title="kettleside",
        update_title="",
        include_pages_meta=False,
        suppress_callback_exceptions=True,
    )
    app.add_pages(page_modules())
    add_charts(app)
    add_senders(app)
    server.after_request(set_status)
    _refuse_malformed_dash_requests(server)
    cache = StaticCache(server, lambda: list(app.csp_hashes()))
    cache.preload(server)
    return server


def manual_picture(name: str) -> Response:
    """A picture of the manual."""
    if name not in {picture.name for picture in FOLDER.glob("*.svg")}:
        return Response(status=404)
    return Response((FOLDER / name).read_bytes(), mimetype="image/svg+xml")


def _refuse_malformed_dash_requests(server: Flask) -> None:
    """Answers malformed requests to Dash's own addresses with a status of 400 or 404 instead of 500.

    Dash checks little of what it is sent, and would answer as if it were at fault itself.
    """

    def refuse(error: Exception) -> Response:
        if not request.path.startswith("/_dash-"):
            raise error
        # Such a request from our own page would be our mistake, which has to be seen.
        server.logger.warning("A request that Dash does not understand: %s.", type(error).__name__)
        status = 404 if request.method == "GET" else 400
        return Response("This is no request of the page's.", status, mimetype="text/plain")

    for kind in (DashException, LookupError, TypeError, ValueError, AttributeError):
        server.register_error_handler(kind, refuse)
