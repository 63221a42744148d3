"""The pages of past cooks: the list, and the replay with its time loss.

They are plain HTML under the same access control as Dash's page: they need none of Dash, and load faster on a slow
phone.
"""

from functools import partial
from urllib.parse import quote

from flask import Flask, Response, request

from dashboard.answers import as_json, as_text, guarded, refused, rendered, request_body, told
from dashboard.app_state import AppState
from dashboard.pages.markup import data_block, markup
from dashboard.pages.parts import due_lines
from dashboard.past_list import CookLine, line_of
from dashboard.replay import STEP_S, frame_of, known_at
from monitor.analysis import TimeLossReport
from monitor.runtime import SystemClock
from monitor.session import IDEAL, USUAL, Cook
from monitor.storage import CookSummary, RecordingError

# Smaller losses are summed up in one line.
MIN_LISTED_LOSS_S = 60.0


def add_past_routes(server: Flask, state: AppState) -> None:
    """Registers the pages of past cooks and their addresses on ``server``."""
    for path, view, method in (
        ("/cooks", _cooks, "GET"),
        ("/cooks/<name>", _replay, "GET"),
        ("/cooks/<name>/time", _time_loss, "GET"),
        ("/cooks/delete", _delete, "POST"),
        ("/cooks/put-back", _put_back, "POST"),
    ):
        server.add_url_rule(path, path, guarded(partial(view, state), _refusal), methods=[method])


def _cooks(state: AppState) -> Response:
    words = request.args.get("words", "")[:200]
    with state.lock:
        found = state.library.found(words)
        running = set(state.library.under_way().values())
        gone = state.library.removed(SystemClock().now())
    lines: list[CookLine] = [line_of(one, running) for one in found]
    return rendered("past_list.html", lines=lines, words=words, gone=gone)


def _replay(state: AppState, name: str) -> Response:
    with state.lock:
        cook = state.cook(name)
        frame, look = frame_of(cook), known_at(cook)
        ended = cook.finished() is not None
    data = data_block("first-look", {"cook": cook.name, "frame": frame, "look": look, "step": STEP_S})
    return rendered(
        "past_replay.html",
        cook=cook,
        title=look["title"],
        frame=frame,
        ended=ended,
        data=data,
        dues=markup(due_lines()),
    )


def _time_loss(state: AppState, name: str) -> Response:
    # A fragment that the script of the replay page requests; a browser that opens it directly is sent to that page.
    if "text/html" in request.headers.get("Accept", ""):
        return Response(status=303, headers={"Location": f"/cooks/{quote(name)}"})
    against = request.args.get("against") or None
    with state.lock:
        cook = state.cook(name)
        others = [one for one in state.library.cooks() if isinstance(one, CookSummary) and one.path != cook.path]
    # Not under the lock: this reads other cooks, and no phone should wait for that.
    report, error_text = _time_loss_report(cook, against)
    return rendered(
        "past_time.html",
        signed=signed,
        told=report,
        trouble=error_text,
        entries=_loss_rows(report),
        against=against or "",
        fixed=(IDEAL, USUAL),
        others=[line_of(one) for one in others if one.finished is not None],
    )


def _delete(state: AppState) -> Response:
    with state.lock:
        gone = state.library.remove(_name(), SystemClock().now())
    return as_json({"gone": gone.name})


def _put_back(state: AppState) -> Response:
    with state.lock:
        state.library.restore(name := _name())
    return as_json({"back": name})


def _time_loss_report(cook: Cook, against: str | None) -> tuple[TimeLossReport | None, str]:
    try:
        return cook.ledger(against), ""
    except RecordingError as error:
        return None, str(error)


def _loss_rows(report: TimeLossReport | None) -> tuple[list[dict[str, object]], int, float]:
    """The losses of a minute and more as rows; then how many smaller ones there are, and their sum in seconds."""
    if report is None:
        return [], 0, 0.0
    listed = [entry for entry in report.losses if abs(entry.seconds) >= MIN_LISTED_LOSS_S]
    rows: list[dict[str, object]] = [
        {
            "cause": entry.cause,
            "begins": round(entry.begins),
            "ends": round(entry.ends),
            "minutes": signed(entry.seconds),
            "share": min(100, round(100 * abs(entry.seconds) / max(abs(one.seconds) for one in listed))),
            "less": entry.seconds < 0,
            "advice": entry.advice,
        }
        for entry in listed
    ]
    small = [entry.seconds for entry in report.losses if entry not in listed]
    return rows, len(small), sum(small)


def signed(seconds: float) -> str:
    """Seconds as minutes with their sign; zero minutes have a plus.

    >>> signed(-130.0), signed(5400.0), signed(-29.0)
    ('−2 min', '+1 h 30 min', '+0 min')
    """
    # A difference below a millisecond is rounding error of the sums, and must not decide the rounding or the sign.
    minutes = round(abs(round(seconds, 3)) / 60)
    words = f"{minutes // 60} h {minutes % 60} min" if minutes >= 60 else f"{minutes} min"
    return f"{'−' if seconds < 0 and minutes else '+'}{words}"


def _name() -> str:
    return str(request_body().get("cook", ""))


def _refusal(error: Exception, status: int) -> Response:
    if request.method == "POST":
        # The recording is fit; it is the requested change that it does not allow.
        return as_text(told(error), 400 if status == 503 else status)
    return refused("past_refusal.html", told(error), status)
