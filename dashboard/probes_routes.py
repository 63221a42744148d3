"""Calibrations guided by the live signal."""

from collections.abc import Mapping, Sequence
from functools import partial
from types import MappingProxyType
from uuid import uuid4

from flask import Flask, Response, request

from dashboard.answers import AskedError, as_json, as_text, guarded, refused, rendered, request_body, told
from dashboard.app_state import AppState
from dashboard.bench_form import Form
from dashboard.entry import id_of
from monitor.calibration import (
    BATHS,
    BufferReading,
    SampleState,
    WizardState,
    bath_wizard,
    buffer_names,
    buffer_wizard,
    kitchen_pressure_hpa,
    latest_text,
    log_sample,
    retract_calibration,
    sample_wizard,
    save_calibration,
    saved_verdict,
)
from monitor.session import Cook

# Name in the address -> (the page's heading, the channel where the address names none).
GUIDES: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "buffers": ("Calibrate in buffers", "ph"),
        "baths": ("Check in ice and boiling water", "paste"),
        "sample": ("Read a sample's pH", "ph"),
    }
)
MAX_DIPS = 3
NO_SIGNAL = "This cook is finished, so no signal comes: start a new cook, and calibrate before its lid goes on."


def add_probes_routes(server: Flask, state: AppState) -> None:
    """Registers the probe pages and their addresses on ``server``."""
    for path, view, method in (
        ("/probes/<name>/<what>", _guide, "GET"),
        ("/probe-dips", _answer_dips, "POST"),
        ("/probe-keep", _save, "POST"),
        ("/probe-back", _retract, "POST"),
    ):
        server.add_url_rule(path, path, guarded(partial(view, state), _refusal, state.lock), methods=[method])


def _guide(state: AppState, name: str, what: str) -> Response:
    if what not in GUIDES:
        return refused("bench_refusal.html", "There is no such page.", 404)
    heading, usual = GUIDES[what]
    cook = state.cook(name)
    channel = _channel(cook, request.args.get("channel") or usual)
    return rendered(
        f"guide_{what}.html",
        cook=cook,
        what=what,
        channel=channel,
        heading=heading,
        buffers=buffer_names(),
        ended=NO_SIGNAL if cook.finished() is not None else "",
    )


def _answer_dips(state: AppState) -> Response:
    asked, cook, channel, form, begun = _guide_request(state)
    wizard = _wizard_state(str(asked.get("what", "")), cook, channel, form, begun)
    return as_json(
        {
            "t": round(cook.now(), 3),
            "now": latest_text(cook, channel),
            "begun": begun,
            "dips": [[dip.state, dip.words] for dip in _readings(wizard)],
            "wrong": wizard.error_text if isinstance(wizard, WizardState) else "",
            "verdict": wizard.verdict,
        }
    )


def _save(state: AppState) -> Response:
    asked, cook, channel, form, begun = _guide_request(state)
    uid = id_of(asked)
    if uid is not None and (event := cook.logged(uid)) is not None:
        return as_json({"kept": "Logged.", "uid": event.uid, "event": True})
    if uid is not None and (verdict := saved_verdict(cook, uid)) is not None:
        return as_json({"kept": f"Kept. {verdict}", "uid": uid, "event": False})
    wizard = _wizard_state(str(asked.get("what", "")), cook, channel, form, begun)
    if isinstance(wizard, SampleState):
        event = log_sample(cook, wizard, *_sample(form), uid)
        return as_json({"kept": f"Logged: {wizard.verdict}", "uid": event.uid, "event": True})
    return as_json({"kept": f"Kept. {wizard.verdict}", "uid": save_calibration(cook, wizard, uid), "event": False})


def _retract(state: AppState) -> Response:
    asked = request_body()
    retract_calibration(state.cook(str(asked.get("cook", ""))), str(asked.get("uid", "")), str(uuid4()))
    return as_json({"done": True})


def _guide_request(state: AppState) -> tuple[dict[str, object], Cook, str, Form, list[float]]:
    """A guide's request: its body, the cook, the channel, the form, and when each dip began, Unix seconds."""
    asked = request_body()
    cook = state.cook(str(asked.get("cook", "")))
    if cook.finished() is not None:
        raise AskedError(NO_SIGNAL)
    fields, begun = asked.get("form", {}), asked.get("begun", [])
    if not isinstance(fields, dict):
        raise AskedError("The form must be fields with values.")
    if not isinstance(begun, list) or len(begun) > MAX_DIPS:
        raise AskedError(f"begun must be a list of at most {MAX_DIPS} moments.")
    now = cook.now()
    moments = [now if moment == "now" else _moment(moment, now) for moment in begun]
    return asked, cook, _channel(cook, str(asked.get("channel", ""))), Form(fields), moments


def _moment(given: object, now: float) -> float:
    if isinstance(given, int | float) and not isinstance(given, bool) and now - 86_400 <= given <= now:
        return float(given)
    raise AskedError("A dip began within the last day.")


def _channel(cook: Cook, wanted: str) -> str:
    """A channel of this cook by its plain name. Raises AskedError."""
    plain = wanted.strip()[:60]
    if plain and cook.raw().by_role(plain) is not None:
        return plain
    raise AskedError(f"This cook has heard nothing from a channel {plain or '(none)'}: look at its plug and its name.")


def _wizard_state(what: str, cook: Cook, channel: str, form: Form, begun: Sequence[float]) -> WizardState | SampleState:
    if not what:
        return WizardState()
    if what == "buffers":
        at_c = form.number("temperature", "The buffers' temperature", -10.0, 110.0, "°C")
        names = [form.text(f"buffer_{number}", "Buffer", 10) for number in (1, 2, 3)]
        planned = [(name, at_c) for name in names if name]
        return buffer_wizard(cook, channel, planned, begun, form.text("probe", "Probe", 60))
    if what == "baths":
        wanted = form.text("baths", "Baths", 10)
        if wanted not in BATHS:
            raise AskedError("Choose ice water, boiling water, or both.")
        pressure_hpa = None if wanted == "ice" else _pressure_hpa(form)
        return bath_wizard(cook, channel, BATHS[wanted], begun, pressure_hpa)
    if what == "sample":
        return sample_wizard(cook, channel, *_sample(form), begun[0] if begun else None)
    raise AskedError(f"There is no guide called {what[:40]!r}; there are {', '.join(GUIDES)}.")


def _pressure_hpa(form: Form) -> float:
    return kitchen_pressure_hpa(
        form.maybe("pressure", "The barometer", 500.0, 1100.0, "hPa"),
        form.maybe("sea_level", "The weather report's pressure", 900.0, 1100.0, "hPa"),
        form.maybe("altitude", "The altitude", -400.0, 5000.0, "m"),
    )


def _sample(form: Form) -> tuple[float, float]:
    """The share of paste in the sample in per cent, and its temperature in degC."""
    return (
        form.number("percent", "Paste in the sample", 0.01, 100.0, "%"),
        form.number("temperature", "The sample's temperature", -5.0, 110.0, "°C"),
    )


def _readings(wizard: WizardState | SampleState) -> Sequence[BufferReading]:
    if isinstance(wizard, WizardState):
        return wizard.readings
    return () if wizard.reading is None else (wizard.reading,)


def _refusal(error: Exception, status: int) -> Response:
    if request.path.startswith("/probe-"):
        return as_text(told(error), status)
    return refused("bench_refusal.html", told(error), status)
