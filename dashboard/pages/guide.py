"""A guided calibration, or the reading of a sample: one bath at a time, with the live signal.

What was typed and when each dip began stands in the browser, for as long as its tab, so that a phone that was put away
or loads the page again goes on where it was. The server holds nothing between two requests.
"""

import json
import re
import zlib
from collections.abc import Mapping
from typing import Any
from urllib.parse import quote

from dash import ALL, Dash, Input, Output, State, ctx, no_update
from dash.exceptions import PreventUpdate

from dashboard.auth.access_control import LOOKS_ONLY, is_view_only
from dashboard.bench.guides import NO_SIGNAL, USUAL_CHANNEL, channel_of, guide_request, readings_of, wizard_of
from dashboard.components import parts
from dashboard.components.answers import told
from dashboard.components.fields import EVERY_ACT, EVERY_FIELD, form_of
from dashboard.components.form_scripts import EVERY_SENT
from dashboard.components.in_browser import in_browser
from dashboard.components.tags import Component, dcc, html
from dashboard.live.app_state import AppState, current_state
from dashboard.pages import lost
from dashboard.pages.guide_steps import GUIDES, kept_part, plan_part, work_part
from monitor.calibration import WizardState, latest_text
from monitor.runtime import MonitorError
from monitor.session import Cook

PATH = "/probes/<name>/<what>"
BEAT_MS = 1000
_MINUS = re.compile(r"(?<!\w)-(?=\d)")
Run = Mapping[str, Any]


def layout(name: str, what: str, channel: str = "", **_others: object) -> parts.Page:
    """The signal now, and what to fill in before the first dip. Raises RecordingError, AskedError."""
    if what not in GUIDES:
        return lost.layout()
    if is_view_only():
        return parts.refusal(LOOKS_ONLY, 403)
    guide, state = GUIDES[what], current_state()
    with state.lock:
        cook = state.cook(name)
        role = channel_of(cook, channel or USUAL_CHANNEL[what])
        title, ended, signal = cook.title(), cook.finished(), _signal(cook, role)
    top = [
        parts.head(guide.heading, parts.link("Probes", f"/probes/{quote(name)}")),
        html.P(title, className="of"),
    ]
    if ended is not None:
        return parts.still(*top, html.P(NO_SIGNAL, className="plain"), title=guide.heading)
    heading = f"{'pH' if role == 'ph' else role} now"
    main = html.Main(
        [
            *top,
            html.P("", id="guide-gone", className="refusal", role="alert", hidden=True),
            html.Section(
                [html.H2(heading), html.P(signal, id="signal-now", className="shown")],
                className="probe",
                **{"aria-label": "The signal now"},
            ),
            html.Div(plan_part(what, {}), id="guide-part"),
            html.P("", id="guide-refused", className="refusal", role="alert"),
            html.P("", id="guide-settling", className="plain", role="status", hidden=True),
            parts.button("Start over", id={"guide": "over"}, hidden=True),
            html.P(guide.care, className="care"),
            *_stores({"cook": name, "what": what, "channel": role}),
        ],
        className="sums",
    )
    return parts.Page(main, {"page": "still"}, f"{guide.heading} · kettleside")


def _stores(asked: Mapping[str, str]) -> list[Component]:
    return [
        dcc.Store(id="guide-asked", data=asked),
        # Of every guide of this tab, because a store is kept by its id.
        dcc.Store(id="guide-runs", storage_type="session"),
        dcc.Store(id="guide-kept"),
        dcc.Store(id="guide-drawn", data=_stamp([None, {}])),
        dcc.Store(id="guide-heard"),
        dcc.Interval(id="guide-beat", interval=BEAT_MS),
    ]


def register(app: Dash) -> None:
    """Follows taps, and the signal."""
    app.callback(
        Output("guide-runs", "data"),
        Output("guide-kept", "data"),
        Output("guide-refused", "children"),
        Input({"guide": ALL}, "n_clicks"),
        Input(EVERY_ACT, "n_clicks"),
        Input(EVERY_SENT, "data"),
        State(EVERY_FIELD, "value"),
        State("guide-asked", "data"),
        State("guide-runs", "data"),
        prevent_initial_call=True,
    )(_turn)
    app.callback(
        Output("guide-heard", "data"),
        Output("signal-now", "children"),
        Output("guide-part", "children"),
        Output("guide-drawn", "data"),
        Output("guide-settling", "children"),
        Output("guide-settling", "hidden"),
        Output({"guide": "over"}, "hidden"),
        Input("guide-beat", "n_intervals"),
        Input("guide-runs", "data"),
        Input("guide-kept", "data"),
        State("guide-asked", "data"),
        State("guide-drawn", "data"),
        prevent_initial_call=True,
    )(_look)
    in_browser(
        app,
        "unheard",
        Output("guide-gone", "children"),
        Output("guide-gone", "hidden"),
        Input("guide-beat", "n_intervals"),
        State("guide-heard", "data"),
        prevent_initial_call=True,
    )


def _turn(
    _taps: object, _acts: object, _sent: object, _fields: object, asked: Run, runs: Run | None
) -> tuple[object, object, str]:
    """What the browser keeps of the run after a tap, and what is refused."""
    tapped, value = ctx.triggered_id, ctx.triggered[0]["value"] if ctx.triggered else None
    if not value or not isinstance(tapped, dict):
        raise PreventUpdate
    before = run_of(asked, runs)
    run = {**before, "form": {**before["form"], **form_of(ctx.states_list[0])}}
    try:
        run, kept = _after_sent(run, value) if "send" in tapped else (_after_tap(run, asked, tapped), None)
    except (MonitorError, ValueError) as error:
        return no_update, no_update, told(error)
    return {**(runs or {}), _key(asked): run}, kept, ""


def _look(_beat: object, runs: Run | None, kept: Run | None, asked: Run, drawn: str) -> tuple[object, ...]:
    """The signal now, and the part that changes where it has changed."""
    run, state = run_of(asked, runs), current_state()
    over_hidden = run["begun"] is None and not kept
    with state.lock:
        try:
            heard, signal, part, stamp, settling = _seen(state, asked, run, kept)
        except (MonitorError, ValueError) as error:
            return {"words": told(error)}, *[no_update] * 5, over_hidden
    shown = (no_update, no_update) if stamp == drawn else (part, stamp)
    return {"t": heard}, signal, *shown, settling, not settling, over_hidden


def run_of(asked: Run, runs: Run | None) -> dict[str, Any]:
    """What the browser keeps of this guide. begun: the dips' moments, None before the guide was begun."""
    kept = (runs or {}).get(_key(asked))
    form, begun = (kept.get("form"), kept.get("begun")) if isinstance(kept, dict) else ({}, None)
    return {"form": form if isinstance(form, dict) else {}, "begun": begun}


def _key(asked: Run) -> str:
    return f"{asked['cook']} {asked['what']} {asked['channel']}"


def _after_sent(run: Run, sent: Run) -> tuple[dict[str, Any], dict[str, Any]]:
    """The run, and what is said of it, once it was kept or taken back."""
    answer = sent.get("answer")
    if not isinstance(answer, dict):
        # The button itself says why it was refused.
        raise PreventUpdate
    return {**run, "begun": None}, answer if "kept" in answer else {"kept": "Taken back."}


def _after_tap(run: Run, asked: Run, tapped: Mapping[str, str]) -> dict[str, Any]:
    """The run after a tap. Raises MonitorError or ValueError for a plan that cannot be right."""
    if tapped.get("act") == "choose":
        field, _, value = tapped["of"].partition("=")
        return {**run, "form": {**run["form"], field: value}}
    state, begun = current_state(), run["begun"] if isinstance(run["begun"], list) else []
    what = tapped.get("guide")
    if what == "over":
        return {**run, "begun": None}
    with state.lock:
        # A plan that cannot be right is refused before anything is rinsed.
        request = guide_request(state, {**asked, "form": run["form"], "begun": []})
        wizard_of(request)
        now = request.cook.now()
    return {**run, "begun": {"begin": [], "dipped": [*begun, now], "again": [*begun[:-1], now]}[str(what)]}


def _seen(state: AppState, asked: Run, run: Run, kept: Run | None) -> tuple[float, str, list[Component], str, str]:
    """When it was looked at, the signal, the changing part with its stamp, and how the last dip settles."""
    begun, form = run["begun"], run["form"]
    request = guide_request(state, {**asked, "form": form, "begun": begun or []})
    now, signal = round(request.cook.now(), 3), _signal(request.cook, request.channel)
    if kept:
        return now, signal, kept_part(asked, kept), _stamp(["kept", kept]), ""
    if begun is None:
        return now, signal, plan_part(str(asked["what"]), form), _stamp([None, form]), ""
    wizard = wizard_of(request)
    dips = [(dip.state, _true_minus(dip.words)) for dip in readings_of(wizard)]
    settling = dips[-1][1] if dips and dips[-1][0] == "settling" else ""
    trouble = wizard.error_text if isinstance(wizard, WizardState) else ""
    facts = [begun, [[dip, "" if dip == "settling" else words] for dip, words in dips], trouble, wizard.verdict]
    return now, signal, work_part(asked, run, dips, trouble, _true_minus(wizard.verdict)), _stamp(facts), settling


def _signal(cook: Cook, channel: str) -> str:
    return _true_minus(latest_text(cook, channel)) or "nothing comes"


def _true_minus(words: str) -> str:
    return _MINUS.sub("−", words)


def _stamp(facts: object) -> str:
    """A checksum that changes when the part that is drawn does."""
    return f"{zlib.crc32(json.dumps(facts).encode()):08x}"
