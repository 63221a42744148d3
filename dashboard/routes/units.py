"""The choice of a kitchen's units."""

from flask import Flask, Response

from dashboard.auth.addresses import UNITS_PATH
from dashboard.components.answers import as_json, as_text, guarded, request_body
from dashboard.components.entry import text_of
from dashboard.live.app_state import AppState
from monitor.session import set_kitchen_units


def add_units_route(server: Flask, state: AppState) -> None:
    """Registers the address on ``server``."""

    def refusal(error: Exception, status: int) -> Response:
        return as_text(str(error), status)

    def choose() -> Response:
        asked = request_body()
        set_kitchen_units(state.library.folder, {text_of(asked, "what"): text_of(asked, "unit")})
        return as_json({"to": UNITS_PATH})

    server.add_url_rule("/set-up-units", "/set-up-units", guarded(choose, refusal, state.lock), methods=["POST"])
