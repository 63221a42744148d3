"""The addresses that the pages' scripts request: what is new, and what a person logs."""

from collections.abc import Callable, Mapping
from functools import partial

from flask import Flask, Response, request

from dashboard.components.answers import AskedError, as_json, as_text, guarded, request_body, told
from dashboard.components.entry import id_of, ids_of_two, moment_of, number
from dashboard.live.app_state import AppState
from dashboard.live.live_delta import Cursor
from monitor.detection import Suggestion
from monitor.model import Event
from monitor.session import LiveCook, set_kitchen_costs

MAX_BODY_BYTES = 16_384
# A suggestion that moved further than this is another one.
SAME_SUGGESTION_S = 300.0


def add_cook_routes(server: Flask, state: AppState) -> None:
    """Registers these addresses on ``server``."""
    server.config["MAX_CONTENT_LENGTH"] = MAX_BODY_BYTES
    for path, view, method in (
        ("/live", _live, "GET"),
        ("/live-all", _all_running, "GET"),
        ("/log", _log, "POST"),
        ("/back", _take_back, "POST"),
        ("/earlier", _move_earlier, "POST"),
        ("/change", _change, "POST"),
        ("/keep", _accept_suggestion, "POST"),
        ("/drop", _dismiss_suggestion, "POST"),
        ("/costs", _set_costs, "POST"),
        ("/begin", _begin, "POST"),
    ):
        server.add_url_rule(path, path, guarded(partial(view, state), _refusal, state.lock), methods=[method])


def _live(state: AppState) -> Response:
    name = request.args.get("cook", "")
    if not name:
        rig = request.args.get("rig")
        return as_json({"idle": not any(rig in (None, found.about.rig) for found in state.running())})
    cursor = Cursor.from_text(request.args.get("since", ""))
    return as_json(state.delta(name).since(cursor))


def _all_running(state: AppState) -> Response:
    return as_json({"cooks": state.overview()})


def _log(state: AppState) -> Response:
    asked = request_body()
    fields = asked.get("fields", {})
    if not isinstance(fields, dict):
        raise AskedError("fields must be names with values.")
    cook, kind, uid = _asked_cook(state, asked), str(asked.get("kind", "")), id_of(asked)
    event = _logged_before(cook, uid) or cook.log_event(kind, moment_of(asked, cook, kind), fields, uid)
    return as_json({"uid": event.uid, "at": round(event.measured)})


def _take_back(state: AppState) -> Response:
    asked = request_body()
    # A suggestion that was accepted may have been two events, which go together.
    cook = _asked_cook(state, asked)
    for uid in str(asked.get("uid", "")).split() or [""]:
        cook.take_back(uid)
    return as_json({"done": True})


def _accept_suggestion(state: AppState) -> Response:
    asked = request_body()
    cook, uids = _asked_cook(state, asked), ids_of_two(asked)
    before = [event for event in map(cook.logged, uids) if event is not None]
    events = before or cook.keep(_asked_suggestion(asked, cook), str(asked.get("noticed")), uids)
    return as_json({"uid": " ".join(event.uid for event in events), "at": round(events[0].measured)})


def _dismiss_suggestion(state: AppState) -> Response:
    asked = request_body()
    cook, uid = _asked_cook(state, asked), id_of(asked)
    event = _logged_before(cook, uid) or cook.drop(_asked_suggestion(asked, cook), uid)
    return as_json({"uid": event.uid, "at": round(number(event.fields["at"], "at"))})


def _move_earlier(state: AppState) -> Response:
    asked = request_body()
    by_s = number(asked.get("by_s", 300), "by_s")
    return _corrected(state, asked, lambda before: before.measured - by_s)


def _change(state: AppState) -> Response:
    """Corrects a row of the log: ``at`` is its time, Unix seconds, and ``fields`` are those with another value."""
    asked = request_body()
    at = number(asked.get("at"), "at")
    return _corrected(state, asked, lambda _before: at)


def _corrected(state: AppState, asked: Mapping[str, object], moment: Callable[[Event], float]) -> Response:
    """Logs an event anew with another moment or other fields, and withdraws it as it was."""
    fields = asked.get("fields", {})
    if not isinstance(fields, dict):
        raise AskedError("fields must be names with values.")
    cook, own = _asked_cook(state, asked), id_of(asked)
    uid = str(asked.get("uid", ""))
    event = _logged_before(cook, own)
    if event is None:
        before = next((event for event in cook.history().events if event.uid == uid), None)
        if before is None:
            raise AskedError("That was taken back already.")
        event = cook.log_event(before.kind, moment(before), {**before.fields, **fields}, own)
    # Also at the second arrival: the first may have ended in between.
    cook.take_back(uid)
    return as_json({"uid": event.uid, "at": round(event.measured)})


def _set_costs(state: AppState) -> Response:
    """Sets costs for all cooks of the kitchen; for the cook that is asked from too, whose own go before."""
    asked = request_body()
    amounts = asked.get("amounts")
    if not isinstance(amounts, dict) or not amounts:
        raise AskedError("amounts must be names with numbers.")
    cook, uid = _asked_cook(state, asked), id_of(asked)
    event = _logged_before(cook, uid)
    if event is None:
        set_kitchen_costs(cook.path.parent, amounts)
        event = cook.log_event("costs set", moment_of(asked, cook, "costs set"), amounts, uid)
    return as_json({"uid": event.uid, "at": round(event.measured)})


def _begin(state: AppState) -> Response:
    return as_json({"cook": state.begin(str(request_body().get("cook") or "")).name})


def _asked_cook(state: AppState, asked: Mapping[str, object]) -> LiveCook:
    return state.find(str(asked.get("cook", "")))


def _logged_before(cook: LiveCook, uid: str | None) -> Event | None:
    """The event of an earlier try, after a look at what is recorded by now; None where this is the first."""
    if uid is None:
        cook.look()
        return None
    return cook.logged(uid)


def _asked_suggestion(asked: Mapping[str, object], cook: LiveCook) -> Suggestion:
    """The suggestion that a phone answers: the nearest of that kind, for its moment moves as more is known."""
    at, kind = number(asked.get("at"), "at"), asked.get("noticed")
    own = [
        suggestion
        for suggestion in cook.offered_suggestions()
        if kind in (suggestion.kind, *suggestion.answers) and abs(suggestion.at - at) <= SAME_SUGGESTION_S
    ]
    if not own:
        raise AskedError("That has been answered already.")
    return min(own, key=lambda suggestion: abs(suggestion.at - at))


def _refusal(error: Exception, status: int) -> Response:
    return as_text(told(error), status)
