"""What a guided calibration is asked for, and its state by what was recorded since each dip began."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from dashboard.bench.form import Form
from dashboard.components.answers import AskedError
from dashboard.live.app_state import AppState
from monitor.calibration import (
    BATHS,
    BufferReading,
    SampleState,
    WizardState,
    bath_wizard,
    buffer_wizard,
    kitchen_pressure_hpa,
    sample_wizard,
)
from monitor.session import Cook

# Guide -> the channel that it is for where the address names none.
USUAL_CHANNEL: Mapping[str, str] = {"buffers": "ph", "baths": "paste", "sample": "ph"}
NO_SIGNAL = "This cook is finished, so no signal comes: start a new cook, and calibrate before its lid goes on."
# Stands where no third buffer, or no second one, was chosen.
NO_BUFFER = "none"
MAX_DIPS = 3


@dataclass(frozen=True, slots=True)
class GuideRequest:
    """what: the guide. channel: by its plain name. form: what was typed. begun: start of each dip, Unix seconds."""

    what: str
    cook: Cook
    channel: str
    form: Form
    begun: tuple[float, ...]


def guide_request(state: AppState, asked: Mapping[str, object]) -> GuideRequest:
    """What a browser asked for. Raises AskedError, and RecordingError for a cook that is not there."""
    cook = state.cook(str(asked.get("cook", "")))
    if cook.finished() is not None:
        raise AskedError(NO_SIGNAL)
    fields, begun = asked.get("form", {}), asked.get("begun", [])
    if not isinstance(fields, dict):
        raise AskedError("The form must be fields with values.")
    if not isinstance(begun, list) or len(begun) > MAX_DIPS:
        raise AskedError(f"begun must be a list of at most {MAX_DIPS} moments.")
    moments = tuple(_moment(moment, cook.now()) for moment in begun)
    channel = channel_of(cook, str(asked.get("channel", "")))
    return GuideRequest(str(asked.get("what", "")), cook, channel, Form(fields), moments)


def channel_of(cook: Cook, wanted: str) -> str:
    """A channel of this cook by its plain name. Raises AskedError."""
    plain = wanted.strip()[:60]
    if plain and cook.raw().by_role(plain) is not None:
        return plain
    raise AskedError(f"This cook has heard nothing from a channel {plain or '(none)'}: look at its plug and its name.")


def wizard_of(asked: GuideRequest) -> WizardState | SampleState:
    """The state of the guide. Raises ValueError or MonitorError, in one sentence, for a plan that cannot be right."""
    cook, channel, form, begun = asked.cook, asked.channel, asked.form, asked.begun
    if asked.what == "buffers":
        at_c = form.number("temperature", "The buffers' temperature", -10.0, 110.0, "°C")
        names = [form.text(f"buffer_{number}", "Buffer", 10) for number in (1, 2, 3)]
        planned = [(name, at_c) for name in names if name not in ("", NO_BUFFER)]
        return buffer_wizard(cook, channel, planned, begun, form.text("probe", "Probe", 60))
    if asked.what == "baths":
        wanted = form.text("baths", "Baths", 10)
        if wanted not in BATHS:
            raise AskedError("Choose ice water, boiling water, or both.")
        pressure_hpa = None if wanted == "ice" else _pressure_hpa(form)
        return bath_wizard(cook, channel, BATHS[wanted], begun, pressure_hpa)
    if asked.what == "sample":
        return sample_wizard(cook, channel, *sample_of(form), begun[0] if begun else None)
    raise AskedError(f"There is no guide called {asked.what[:40]!r}; there are {', '.join(USUAL_CHANNEL)}.")


def sample_of(form: Form) -> tuple[float, float]:
    """The share of paste in the sample in per cent, and its temperature in degC. Raises FieldError."""
    return (
        form.number("percent", "Paste in the sample", 0.01, 100.0, "%"),
        form.number("temperature", "The sample's temperature", -5.0, 110.0, "°C"),
    )


def readings_of(wizard: WizardState | SampleState) -> Sequence[BufferReading]:
    """The state of each dip that has begun."""
    if isinstance(wizard, WizardState):
        return wizard.readings
    return () if wizard.reading is None else (wizard.reading,)


def _moment(given: object, now: float) -> float:
    if isinstance(given, int | float) and not isinstance(given, bool) and now - 86_400 <= given <= now:
        return float(given)
    raise AskedError("A dip began within the last day.")


def _pressure_hpa(form: Form) -> float:
    return kitchen_pressure_hpa(
        form.maybe("pressure", "The barometer", 500.0, 1100.0, "hPa"),
        form.maybe("sea_level", "The weather report's pressure", 900.0, 1100.0, "hPa"),
        form.maybe("altitude", "The altitude", -400.0, 5000.0, "m"),
    )
