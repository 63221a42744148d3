"""The list of cooks: a row each, found by words, ticked to be compared, and what was deleted in the last day."""

from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path
from urllib.parse import quote

from dash import ALL, Dash, Input, Output, State, no_update

from dashboard.auth.access_control import is_view_only
from dashboard.components import parts
from dashboard.components.in_browser import in_browser
from dashboard.components.sending import sender
from dashboard.components.tags import Component, dcc, html
from dashboard.components.viewer import time_of
from dashboard.live.app_state import current_state
from dashboard.live.past_list import CookLine, dearest_words, line_of, scale_hours
from dashboard.routes.past import strip_address
from monitor.runtime import SystemClock
from monitor.session import cook_time_loss
from monitor.storage import CookSummary, RecordingError

PATH = "/cooks"
TITLE = "Cooks"
# A phone scrolls no further; what is older is found by words, or asked for.
MOST_ROWS = 60
LONGEST_WORDS = 200
# Verdicts come in portions, so that the first are there soon and nobody else waits for long.
JUDGE_EVERY_MS, JUDGE_FOR_S = 700, 0.4


def layout(words: str = "", every: str = "", **_others: object) -> parts.Page:
    """The cooks that have these words, the latest first. every: not empty where all rows are wanted, however many."""
    state = current_state()
    with state.lock:
        gone = [] if is_view_only() else state.library.removed(SystemClock().now())
    found = str(words)[:LONGEST_WORDS]
    main = [
        parts.head(TITLE, parts.link("Kitchen", "/kitchen")),
        html.Div(
            [
                html.Label("Oil, date, outcome or note", htmlFor="cook-words"),
                dcc.Input(
                    id="cook-words",
                    type="search",
                    value=found,
                    maxLength=LONGEST_WORDS,
                    debounce=0.3,
                    placeholder="coconut clear 2026-05",
                ),
            ],
            className="find",
            role="search",
        ),
        html.Div(_list(found, bool(every)), id="cook-list"),
        *_deleted([one.name for one in gone]),
        html.A("", id="compare-ticked", className="press", href="/compare", hidden=True),
        dcc.Store(id="ticked", data=[]),
    ]
    return parts.still(*main, title=TITLE)


def _list(words: str, every: bool = False) -> list[Component]:
    state = current_state()
    with state.lock:
        found = state.library.found(words)
        running = set(state.library.under_way().values())
        now = state.library.now()
    if not found and words:
        return [
            html.P(f"No cook has “{words}”.", className="plain"),
            html.P(parts.link("Show every cook", "/cooks")),
        ]
    if not found:
        return [html.P("There is no cook yet.", className="plain")]
    shown = found if every else found[:MOST_ROWS]
    hours = scale_hours(shown)
    older = f"/cooks?every=1&words={quote(words)}"
    return [
        html.P(f"Each strip is {hours} h wide, a tick an hour; the stroke is clear.", className="why"),
        html.Ul([_row(one, line_of(one, running, now), hours) for one in shown], className="cooks past"),
        *([html.P(parts.link(f"Show all {len(found)}", older))] if len(shown) < len(found) else []),
        dcc.Interval(id="judge", interval=JUDGE_EVERY_MS),
    ]


def _row(entry: CookSummary | RecordingError, line: CookLine, hours: int) -> Component:
    if isinstance(entry, RecordingError) or line.began is None:
        damaged = html.Div([html.Strong(line.title), html.Span(line.outcome)], className="damaged")
        return html.Li(damaged, **{"data-cook": line.name})
    verdict = [html.Strong("…", id={"verdict": line.name}, className="verdict")] if line.ended else []
    words = [
        html.Strong(line.title),
        html.Span([time_of(line.began, day=True), f" · {line.stands}" if line.stands else ""]),
        html.Span([f"{line.outcome}. " if verdict else line.outcome, *verdict]),
    ]
    strip = html.Span("", className="strip", style={"backgroundImage": f"url({strip_address(entry, hours)})"})
    row = html.A([html.Span(words, className="told"), strip], href=f"/cooks/{quote(line.name, safe='')}")
    pressed = {"aria-pressed": "false", "aria-label": f"Tick {line.title}, to compare it"}
    tick = html.Button("", id={"tick": line.name}, type="button", className="tick", **pressed)
    return html.Li([row, tick], **{"data-cook": line.name})


def _deleted(names: Sequence[str]) -> list[Component]:
    if not names:
        return []
    rows = [
        html.Li([html.Span(name), sender(f"back-{name}", "Put it back", "/cooks/put-back", {"cook": name})])
        for name in names
    ]
    return [html.H2("Deleted in the last day"), html.Ul(rows, className="cooks gone")]


def register(app: Dash) -> None:
    """Finds as one types, judges each cook, and keeps what is ticked."""

    @app.callback(Output("cook-list", "children"), Input("cook-words", "value"), prevent_initial_call=True)
    def find(words: str | None) -> list[Component]:
        return _list(str(words or "")[:LONGEST_WORDS])

    @app.callback(
        Output({"verdict": ALL}, "children"),
        Output("judge", "disabled"),
        Input("judge", "n_intervals"),
        State({"verdict": ALL}, "id"),
    )
    def judge(_times: int | None, ids: Sequence[dict[str, str]]) -> tuple[list[object], bool]:
        told = verdicts([str(one["verdict"]) for one in ids])
        return [no_update if words is None else words for words in told], None not in told

    in_browser(
        app,
        "tick",
        Output("ticked", "data"),
        Output({"tick": ALL}, "aria-pressed"),
        Output("compare-ticked", "children"),
        Output("compare-ticked", "href"),
        Output("compare-ticked", "hidden"),
        Input({"tick": ALL}, "n_clicks"),
        State({"tick": ALL}, "id"),
        State("ticked", "data"),
    )


def verdicts(names: Sequence[str]) -> list[str | None]:
    """What cost each of these cooks most, in words; None for those for which there was no time yet.

    What was found before is remembered. At least one is found in each call.
    """
    state, clock = current_state(), SystemClock()
    with state.lock:
        cooks = {one.path.stem: one for one in state.library.cooks() if isinstance(one, CookSummary)}
    # By these a kitchen's other cooks, against which each is held, are known to be the same as before.
    kitchen = hash(tuple((name, one.finished, len(one.events)) for name, one in cooks.items() if one.finished))
    began_s, told = clock.real_s(), list[str | None]()
    for name in names:
        if name not in cooks:
            told.append("")
        elif told and clock.real_s() - began_s > JUDGE_FOR_S:
            told.append(None)
        else:
            # Not under the lock: this reads other cooks, and no phone should wait for that.
            told.append(_verdict(cooks[name].path, cooks[name].last_known, kitchen))
    return told


@lru_cache(maxsize=2048)
def _verdict(path: Path, _last_known: float, _kitchen: int) -> str:
    try:
        return dearest_words(cook_time_loss(path))
    except RecordingError:
        return dearest_words(None)
