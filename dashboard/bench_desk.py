"""The bench's addresses: what is kept of its sums in the cook's record, and what is handed out as a file."""

from functools import partial
from urllib.parse import quote

from flask import Flask, Response, request

from dashboard import bench_charge
from dashboard.answers import AskedError, as_json, guarded, refused, rendered, request_body, told
from dashboard.app_state import AppState
from dashboard.bench_form import FieldError, Form
from dashboard.bench_keep import SavedEntry, keep, log_weighed
from dashboard.bench_work import Asked, asked_of
from dashboard.entry import id_of
from dashboard.record import record_of
from monitor.formulation import SETTLING_DAYS, settling_plan, sheet_text
from monitor.runtime import SystemClock


def add_bench(server: Flask, state: AppState) -> None:
    """Registers the bench's addresses on ``server``."""
    for path, view, method in (
        ("/bench/keep", _save, "POST"),
        ("/bench/begin", _begin, "POST"),
        ("/bench/settling.ics", _reminder, "GET"),
        ("/record/<name>", _record, "GET"),
    ):
        server.add_url_rule(path, path, guarded(partial(view, state), _refusal, state.lock), methods=[method])


def _save(state: AppState) -> Response:
    asked = _asked(state)
    if asked.cook is None:
        raise AskedError("There is no cook to write this to: start one first.")
    sent = request_body()
    pot = None if asked.batch is None else asked.made
    kept: SavedEntry = keep(str(sent.get("keep")), asked.form, asked.cook, pot, id_of(sent))
    return as_json({"kept": kept.words, "uid": kept.uid, "clear": kept.clear, "cook": asked.cook.name})


def _begin(state: AppState) -> Response:
    form = _asked(state).form
    cook = state.begin(sheet=sheet_text(bench_charge.batch_of(form, None)))
    log_weighed(form, cook)
    return as_json({"cook": cook.name, "to": f"/bench?cook={quote(cook.name)}"})


def _reminder(state: AppState) -> Response:
    found = state.cook(request.args.get("cook", ""))
    days = Form(request.args.to_dict()).number("days", "Days", 1.0, 60.0, empty=SETTLING_DAYS)
    ended = found.finished()
    text = settling_plan(SystemClock().now() if ended is None else ended, found.title(), days).calendar
    head = {"Content-Disposition": 'attachment; filename="settling.ics"'}
    return Response(text, mimetype="text/calendar", headers=head)


def _record(state: AppState, name: str) -> Response:
    return rendered("record.html", record=record_of(state.cook(name)))


def _asked(state: AppState) -> Asked:
    return asked_of(state, request_body())


def _refusal(error: Exception, status: int) -> Response:
    if request.method == "POST":
        field = error.field if isinstance(error, FieldError) else ""
        return as_json({"error": told(error), "field": field}, status)
    return refused("record.html", told(error), status)
