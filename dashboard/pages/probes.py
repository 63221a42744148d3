"""The probes of a cook: what each channel reads, how that came about, and how far it may be off."""

import json
import zlib
from collections.abc import Collection, Mapping, Sequence
from dataclasses import asdict
from urllib.parse import quote

from dash import ALL, Dash, Input, Output, State

from dashboard.auth.access_control import is_view_only
from dashboard.components import parts
from dashboard.components.answers import told
from dashboard.components.in_browser import in_browser
from dashboard.components.tags import Component, dcc, html
from dashboard.components.viewer import clock, day_and_clock
from dashboard.live.app_state import current_state
from monitor.calibration import FaultInterval, ProbeStatus, latest_values, probe_statuses
from monitor.runtime import MonitorError

PATH = "/probes/<name>"
TITLE = "Probes"
BEAT_MS = 1000
# Word of the page -> what it means.
MEANINGS = (
    ("Sent as", "What the device sent, never changed: degrees, a voltage, or a chip's raw word in eight figures."),
    (
        "Cold junction",
        "Where the thermocouple's wires end. A thermocouple tells only the difference between its tip and there, so "
        "that end's own temperature is added.",
    ),
    (
        "Emf",
        "The thermocouple's voltage, a few thousandths of a volt; ITS-90 is the scale that turns it into degrees.",
    ),
    (
        "Straight line",
        "Some chips take the emf to rise evenly with temperature. It does not quite; mending it moves a reading near "
        "95 °C by a few tenths.",
    ),
    ("Corrected", "Changed by what it read in ice water and in boiling water, whose temperatures are known."),
    (
        "Within … °C",
        "How far a reading may be off, either way: the wire by its class of IEC 60584-1, and the converter by its data "
        "sheet.",
    ),
    (
        "Slope",
        "How much the pH probe's voltage changes for one pH, as a share of what a perfect one would give. 95 to 105 % "
        "is good; below 80 % it is not to be trusted.",
    ),
    (
        "mV at pH 7",
        "The offset: what it gives where a perfect one gives nothing. Within 30 is good, beyond 60 it is worn out.",
    ),
    ("Open, short", "A wire has come off or broken; a wire touches metal. Look at the plug first, then the tip."),
    ("Silent", "Nothing comes on this channel, while the cook goes on."),
)


def layout(name: str, **_others: object) -> parts.Page:
    """Every channel with its latest reading, and on demand how it is known. Raises RecordingError, AskedError."""
    state = current_state()
    with state.lock:
        cook = state.cook(name)
        probes, ended, title = probe_statuses(cook), cook.finished(), cook.title()
    over = [] if ended is None else [f"The cook ended on {day_and_clock(ended)}; this is what they said last."]
    meanings = [html.Div([html.Dt(word), html.Dd(meaning)]) for word, meaning in MEANINGS]
    return parts.still(
        parts.head(TITLE, parts.link("This cook", f"/?cook={quote(name)}")),
        html.P(title, className="why"),
        *(html.P(words) for words in over),
        html.P("", id="gone", className="refusal", role="alert", hidden=True),
        html.Div(_sections(name, probes), id="channels"),
        html.Details([html.Summary("What the words mean"), html.Dl(meanings, className="coming")]),
        dcc.Store(id="probes-cook", data=name),
        dcc.Store(id="probes-stamp", data=stamp_of(probes)),
        dcc.Store(id="probes-heard"),
        # What a finished cook's probes said does not change any more.
        dcc.Interval(id="probes-beat", interval=BEAT_MS, disabled=ended is not None),
        title=TITLE,
    )


def register(app: Dash) -> None:
    """Asks for the latest readings, which are few bytes, and for all the rest where it has changed."""

    @app.callback(
        Output("probes-heard", "data"),
        Input("probes-beat", "n_intervals"),
        State("probes-cook", "data"),
        prevent_initial_call=True,
    )
    def listen(_beat: int, name: str) -> dict[str, object]:
        state = current_state()
        with state.lock:
            try:
                cook = state.cook(name)
                values = {channel: list(words) for channel, words in latest_values(cook).items()}
                return {"t": round(cook.now(), 1), "stamp": stamp_of(probe_statuses(cook)), "values": values}
            except MonitorError as error:
                return {"words": told(error)}

    @app.callback(
        Output("channels", "children"),
        Input("probes-stamp", "data"),
        State("probes-cook", "data"),
        State({"known": ALL}, "id"),
        State({"known": ALL}, "n_clicks"),
        prevent_initial_call=True,
    )
    def anew(
        _stamp: str, name: str, known: Sequence[Mapping[str, str]], clicks: Sequence[int | None]
    ) -> list[Component]:
        # What a person had open stays open.
        opened = {one["known"] for one, count in zip(known, clicks, strict=True) if (count or 0) % 2}
        state = current_state()
        with state.lock:
            return _sections(name, probe_statuses(state.cook(name)), opened)

    _register_in_browser(app)


def _register_in_browser(app: Dash) -> None:
    in_browser(
        app,
        "readings",
        Output({"reading": ALL, "channel": ALL, "at": ALL}, "children"),
        Output("probes-stamp", "data"),
        Input("probes-heard", "data"),
        State("probes-stamp", "data"),
        prevent_initial_call=True,
    )
    in_browser(
        app,
        "unheard",
        Output("gone", "children"),
        Output("gone", "hidden"),
        Input("probes-beat", "n_intervals"),
        State("probes-heard", "data"),
        prevent_initial_call=True,
    )


def stamp_of(probes: Sequence[ProbeStatus]) -> str:
    """A checksum that changes when anything but the latest readings does."""
    facts = [{**asdict(probe), "sent": "", "shown": ""} for probe in probes]
    return f"{zlib.crc32(json.dumps(facts).encode()):08x}"


def _sections(name: str, probes: Sequence[ProbeStatus], opened: Collection[str] = ()) -> list[Component]:
    if not probes:
        words = "No channel has been heard yet: look at the cable and the logger."
        return [html.P(words, className="plain")]
    return [_section(name, probe, probe.channel in opened) for probe in probes]


def _section(name: str, probe: ProbeStatus, is_open: bool) -> Component:
    called = "pH" if probe.channel == "ph" else probe.channel
    guides = [] if is_view_only() else _guides(name, probe)
    inside = [*_how_it_is_known(probe), *(guides if probe.kind == "temperature" else [])]
    summary = html.Summary("How it is known", id={"known": probe.channel}, n_clicks=int(is_open))
    return html.Section(
        [
            html.H2(called),
            html.P(_reading("shown", probe.channel, "top", probe.shown), className="shown"),
            html.P(probe.health_words, className=f"health {probe.health}"),
            html.Details([summary, *inside], open=is_open),
            *([html.Div(guides, className="answers")] if guides and probe.kind == "ph" else []),
        ],
        className="probe",
        **{"aria-label": called},
    )


def _reading(kind: str, channel: str, at: str, words: str) -> Component:
    return html.B(words, id={"reading": kind, "channel": channel, "at": at})


def _how_it_is_known(probe: ProbeStatus) -> list[Component]:
    steps = [f"{step[:1].upper()}{step[1:]}" for step in probe.steps] or ["Shown as it was sent"]
    chain = [
        html.Li(["Sent as ", _reading("sent", probe.channel, "chain", probe.sent)]),
        *(html.Li(step) for step in steps),
        html.Li(["Shown as ", _reading("shown", probe.channel, "chain", probe.shown)]),
    ]
    faults = [html.Li(_fault_words(fault)) for fault in probe.faults]
    said = [words for words in (probe.tolerance, _reference_words(probe), probe.trend) if words]
    return [
        html.Ol(chain),
        *(html.P(words) for words in said),
        html.H3("Last faults"),
        html.Ul(faults, className="faults") if faults else html.P("None in this cook."),
    ]


def _reference_words(probe: ProbeStatus) -> str:
    if not probe.reference or probe.calibrated is None:
        return probe.reference
    due = f"; due again on {day_and_clock(probe.due)}" if probe.due else ""
    return f"{probe.reference} Done on {day_and_clock(probe.calibrated)}{due}."


def _fault_words(fault: FaultInterval) -> str:
    until = ", and still" if fault.stands else f" to {clock(fault.ended)}" if fault.ended > fault.began else ""
    return f"{day_and_clock(fault.began)}{until}: “{fault.words}”"


def _guides(name: str, probe: ProbeStatus) -> list[Component]:
    def way(words: str, what: str) -> Component:
        to = f"/probes/{quote(name)}/{what}?channel={quote(probe.part)}"
        return html.A(words, href=to, className="button")

    if probe.kind == "ph":
        return [way("Calibrate", "buffers"), way("Read a sample", "sample")]
    if probe.kind == "temperature" and probe.part != "cold":
        return [way("Check in ice and boiling water", "baths")]
    return []
