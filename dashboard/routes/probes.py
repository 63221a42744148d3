"""What a guided calibration changes: it is kept, or taken back."""

from functools import partial
from uuid import uuid4

from flask import Flask, Response

from dashboard.bench.guides import guide_request, sample_of, wizard_of
from dashboard.components.answers import as_json, as_text, guarded, request_body, told
from dashboard.components.entry import id_of
from dashboard.live.app_state import AppState
from monitor.calibration import SampleState, log_sample, retract_calibration, save_calibration, saved_verdict


def add_probes_routes(server: Flask, state: AppState) -> None:
    """Registers the addresses on ``server``."""
    for path, view in (("/probe-keep", _save), ("/probe-back", _retract)):
        server.add_url_rule(path, path, guarded(partial(view, state), _refusal, state.lock), methods=["POST"])


def _save(state: AppState) -> Response:
    sent = request_body()
    asked, uid = guide_request(state, sent), id_of(sent)
    if uid is not None and (event := asked.cook.logged(uid)) is not None:
        return as_json({"kept": "Logged.", "uid": event.uid, "event": True})
    if uid is not None and (verdict := saved_verdict(asked.cook, uid)) is not None:
        return as_json({"kept": f"Kept. {verdict}", "uid": uid, "event": False})
    wizard = wizard_of(asked)
    if isinstance(wizard, SampleState):
        event = log_sample(asked.cook, wizard, *sample_of(asked.form), uid)
        return as_json({"kept": f"Logged: {wizard.verdict}", "uid": event.uid, "event": True})
    kept = save_calibration(asked.cook, wizard, uid)
    return as_json({"kept": f"Kept. {wizard.verdict}", "uid": kept, "event": False})


def _retract(state: AppState) -> Response:
    asked = request_body()
    retract_calibration(state.cook(str(asked.get("cook", ""))), str(asked.get("uid", "")), str(uuid4()))
    return as_json({"done": True})


def _refusal(error: Exception, status: int) -> Response:
    return as_text(told(error), status)
