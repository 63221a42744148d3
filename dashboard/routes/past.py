"""The addresses of past cooks beside their pages: strips for the list, deleting and putting back."""

from collections import OrderedDict
from collections.abc import Callable
from functools import lru_cache, partial
from pathlib import Path
from typing import TypeAlias
from urllib.parse import quote

from flask import Flask, Response, request

from dashboard.components.answers import AskedError, as_json, as_text, guarded, request_body, told
from dashboard.components.entry import id_of, number
from dashboard.live.app_state import AppState
from dashboard.live.past_list import LEAST_SCALE_H, MOST_SCALE_H, lid_to_clear
from dashboard.live.replay import known_at, what_came
from dashboard.live.replay_words import said_then
from dashboard.server.static_cache import FOREVER
from monitor.plots import course_thumbnail, curve
from monitor.runtime import SystemClock
from monitor.session import Cook
from monitor.storage import CookSummary, summary

# A strip begins a little before the lid, as the course of a cook does.
BEFORE_LID_S = 600.0
# Changes that were made last: the id of each and its cook, to know a request that arrives again.
KNOWN_IDS = 200
_Done: TypeAlias = OrderedDict[str, str]


def add_past_routes(server: Flask, state: AppState) -> None:
    """Registers these addresses on ``server``."""
    done: _Done = OrderedDict()
    for path, view, method in (
        ("/cooks/<name>/course.svg", partial(_strip, state), "GET"),
        ("/cooks/<name>/then", partial(_then, state), "GET"),
        ("/cooks/delete", partial(_delete, state, done), "POST"),
        ("/cooks/put-back", partial(_put_back, state, done), "POST"),
    ):
        server.add_url_rule(path, path, guarded(view, _refusal), methods=[method])


def strip_address(cook: CookSummary, hours: int) -> str:
    """Where the strip of a cook is had, on a scale of so many hours."""
    # Its readings and its events are all that it shows.
    version = f"{cook.last_known:.0f}-{len(cook.events)}"
    return f"/cooks/{quote(cook.path.stem, safe='')}/course.svg?hours={hours}&v={version}"


def _strip(state: AppState, name: str) -> Response:
    hours = request.args.get("hours", "")
    if not hours.isdecimal() or not LEAST_SCALE_H <= int(hours) <= MOST_SCALE_H:
        raise AskedError(f"hours must be from {LEAST_SCALE_H} to {MOST_SCALE_H}.")
    path = state.path_of(name)
    cook = summary(path)
    # Not under the lock: this reads another cook, and no phone should wait for that.
    drawn = _drawn(path, cook.last_known, len(cook.events), int(hours))
    return Response(drawn, mimetype="image/svg+xml", headers={"Cache-Control": FOREVER})


@lru_cache(maxsize=1024)
def _drawn(path: Path, _last_known: float, _events: int, hours: int) -> str:
    cook = summary(path)
    took = lid_to_clear(cook)
    times, temperatures_c = curve(Cook(path).history())
    begin = cook.about.started if took is None else took[0] - BEFORE_LID_S
    return course_thumbnail(times, temperatures_c, begin, hours * 3600.0, clear=took and took[1])


def _then(state: AppState, name: str) -> Response:
    """What was known at ``t`` (Unix seconds), in words. A callback of Dash's for it took a slow phone too long."""
    moment = number(request.args.get("t"), "t")
    with state.lock:
        cook = state.cook(name)
        return as_json(said_then(known_at(cook, moment), what_came(cook)))


def _delete(state: AppState, done: _Done) -> Response:
    with state.lock:
        return _once(done, lambda name: state.library.remove(name, SystemClock().now()))


def _put_back(state: AppState, done: _Done) -> Response:
    with state.lock:
        return _once(done, state.library.restore)


def _once(done: _Done, change: Callable[[str], object]) -> Response:
    """Makes a change to the cook that is asked for, unless this very request has made it before."""
    asked = request_body()
    name, uid = str(asked.get("cook", "")), id_of(asked)
    if uid is None or done.get(uid) != name:
        change(name)
    if uid is not None:
        done[uid] = name
        while len(done) > KNOWN_IDS:
            done.popitem(last=False)
    return as_json({"cook": name, "to": "/cooks"})


def _refusal(error: Exception, status: int) -> Response:
    # The recording is fit where something was sent; it is the requested change that it does not allow.
    return as_text(told(error), 400 if status == 503 and request.method == "POST" else status)
