"""The bench's addresses: what is kept of its sums in the cook's record, and what is handed out as a file."""

from functools import partial
from urllib.parse import quote

from flask import Flask, Response, request

from dashboard.bench import charge
from dashboard.bench.day import planned_day
from dashboard.bench.form import FieldError, Form
from dashboard.bench.keep import SavedEntry, keep, log_weighed
from dashboard.bench.plan import batch_at
from dashboard.bench.record import record_of
from dashboard.bench.work import Asked, asked_of
from dashboard.components.answers import AskedError, as_json, guarded, refused, rendered, request_body, told
from dashboard.components.entry import id_of
from dashboard.components.viewer import viewer_zone
from dashboard.live.app_state import AppState
from monitor.formulation import settling_plan, sheet_text
from monitor.model import SETTLING_DAYS
from monitor.planning import DayPlan, day_lines
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
    for path, view in (("/bench/day.ics", _day_calendar), ("/bench/day.txt", _day_text)):
        # No cook is looked at, so that no phone waits for a forecast.
        server.add_url_rule(path, path, guarded(partial(view, state), _refusal), methods=["GET"])


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
    cook = state.begin(sheet=sheet_text(charge.batch_of(form, None)))
    log_weighed(form, cook)
    return as_json({"cook": cook.name, "to": f"/bench?cook={quote(cook.name)}"})


def _reminder(state: AppState) -> Response:
    found = state.cook(request.args.get("cook", ""))
    days = Form(request.args.to_dict()).number("days", "Days", 1.0, 60.0, empty=SETTLING_DAYS)
    ended = found.finished()
    text = settling_plan(SystemClock().now() if ended is None else ended, found.title(), days).calendar
    head = {"Content-Disposition": 'attachment; filename="settling.ics"'}
    return Response(text, mimetype="text/calendar", headers=head)


def _day_asked(state: AppState) -> tuple[DayPlan, bool]:
    """The planned day of an address, and whether its batch is known."""
    form = Form(request.args.to_dict())
    batch = batch_at(state, form.text("base", "Where it begins", 250))
    now = SystemClock().now()
    return planned_day(form, batch, state.library.folder, now, viewer_zone()), batch is not None


def _day_calendar(state: AppState) -> Response:
    head = {"Content-Disposition": 'attachment; filename="day.ics"'}
    return Response(_day_asked(state)[0].calendar, mimetype="text/calendar", headers=head)


def _day_text(state: AppState) -> Response:
    plan, known = _day_asked(state)
    return Response("\n".join(day_lines(plan, known=known, zone=viewer_zone())) + "\n", mimetype="text/plain")


def _record(state: AppState, name: str) -> Response:
    return rendered("record.html", record=record_of(state.cook(name)))


def _asked(state: AppState) -> Asked:
    return asked_of(state, request_body())


def _refusal(error: Exception, status: int) -> Response:
    if request.method == "POST":
        field = error.field if isinstance(error, FieldError) else ""
        return as_json({"error": told(error), "field": field}, status)
    return refused("record.html", told(error), status)
