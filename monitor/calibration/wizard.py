"""A calibration step by step on a page: the state of each reading, as a pure function of what was recorded.

A reading begins at the moment at which the person said that the probe is in; its value is taken from the recording at
every request. Nothing is held between two requests, and a page cannot supply a reading of its own.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from monitor.calibration.sampling import (
    SILENT_S,
    ChannelSample,
    UnsteadyReadingError,
    detect_stability,
    samples_after,
    silence_text,
)
from monitor.calibration.session import (
    CELSIUS,
    VOLTS,
    calibration_text,
    field_check,
    ph_calibration,
    ph_stability_detector,
    require_calibration,
    sample_ph,
)
from monitor.model import Event, check_uid
from monitor.probes import (
    BOILING,
    COLD_FRESH_S,
    ICE,
    SAMPLE,
    STEADY_C,
    BathPoint,
    BufferPoint,
    FieldCheck,
    PhCalibration,
    Retraction,
    SensorConfig,
    StabilityDetector,
    StabilityState,
    Stable,
    TimedOut,
    Unsettled,
    all_buffers,
    boiling_point_c,
    check_buffers,
    find_buffer,
    ph_map,
    sample_refusal,
    station_pressure_hpa,
)
from monitor.session import Cook

SETTLING, STEADY, FAILED = "settling", "steady", "failed"
BATHS: Mapping[str, tuple[str, ...]] = MappingProxyType({"both": (ICE, BOILING), "ice": (ICE,), "boiling": (BOILING,)})


@dataclass(frozen=True, slots=True)
class BufferReading:
    """The state of one reading in a buffer or bath.

    state: settling, steady or failed. words: one sentence. value: V or degC, once steady.
    """

    state: str
    words: str
    value: float | None = None


@dataclass(frozen=True, slots=True)
class WizardState:
    """The state of a calibration. readings: one for each that has begun.

    error_text: one sentence where the readings are implausible, else empty. verdict: the result in words once all are
    steady. record: what would be saved.
    """

    readings: tuple[BufferReading, ...] = ()
    error_text: str = ""
    verdict: str = ""
    record: PhCalibration | FieldCheck | None = None


@dataclass(frozen=True, slots=True)
class SampleState:
    """The state of a sample's reading. ph: once it is steady."""

    reading: BufferReading | None
    verdict: str = ""
    ph: float | None = None


def buffer_names() -> tuple[str, ...]:
    """The available buffers, in ascending pH."""
    return tuple(all_buffers())


def kitchen_pressure_hpa(pressure: float | None, sea_level: float | None, altitude_m: float | None) -> float:
    """The station pressure in the kitchen, hPa, from a barometer, or from a weather report (hPa) and altitude (m).

    Raises ValueError where neither is given.
    """
    if pressure is not None:
        return pressure
    if sea_level is None or altitude_m is None:
        raise ValueError(
            "Water boils at another temperature each day: give the kitchen's barometer, or the weather report's "
            "pressure and the altitude."
        )
    return station_pressure_hpa(sea_level, altitude_m)


def buffer_wizard(
    cook: Cook, channel: str, planned: Sequence[tuple[str, float]], begun: Sequence[float], probe: str = ""
) -> WizardState:
    """A pH calibration. planned: (buffer, degC) of each reading; begun: the start of each one begun, Unix seconds.

    Raises ValueError with one sentence for a plan that cannot be right.
    """
    check_buffers([BufferPoint(find_buffer(name).name, at_c, 0.0) for name, at_c in planned])
    readings: list[BufferReading] = []
    points: list[BufferPoint] = []
    for (name, at_c), since in zip(planned, begun, strict=False):
        buffer = find_buffer(name)
        ph = buffer.ph_at(at_c)
        reading = _read_bath(cook, channel, since, ph_stability_detector(at_c), VOLTS)
        if reading.value is not None:
            points.append(BufferPoint(buffer.name, at_c, round(reading.value, 6)))
            reading = BufferReading(
                STEADY, f"{reading.value * 1000:+z.1f} mV in pH {ph:.2f} at {at_c:g} °C.", reading.value
            )
        readings.append(reading)
    try:
        if len(points) > 1 or (points and len(points) == len(planned)):
            ph_map(points)
        if not points or len(points) < len(planned):
            return WizardState(tuple(readings))
        record = ph_calibration(cook.rig, channel, cook.now(), points, probe)
    except ValueError as error:
        return WizardState(tuple(readings), error_text=str(error))
    return WizardState(tuple(readings), verdict=calibration_text(record), record=record)


def bath_wizard(
    cook: Cook, channel: str, planned: Sequence[str], begun: Sequence[float], pressure_hpa: float | None
) -> WizardState:
    """The state of a thermocouple's field check.

    Parameters
    ----------
    planned : baths, ``ICE`` or ``BOILING``, in order.
    begun : as in ``buffer_wizard``.
    pressure_hpa : station pressure for boiling water, hPa, or None.

    Raises ValueError as ``buffer_wizard`` does.
    """
    if pressure_hpa is not None:
        boiling_point_c(pressure_hpa)
    readings: list[BufferReading] = []
    points: list[BathPoint] = []
    for bath, since in zip(planned, begun, strict=False):
        reading = _read_bath(cook, channel, since, StabilityDetector(STEADY_C, "°C"), CELSIUS)
        if reading.value is not None:
            point = BathPoint(bath, round(reading.value, 3), pressure_hpa if bath == BOILING else None)
            reading = BufferReading(
                STEADY, f"{reading.value:.2f} °C in {bath} of {point.true_c():.2f} °C.", reading.value
            )
            points.append(point)
        readings.append(reading)
    if not points or len(points) < len(planned):
        return WizardState(tuple(readings))
    try:
        record = field_check(cook.rig, channel, cook.now(), points)
    except ValueError as error:
        return WizardState(tuple(readings), error_text=str(error))
    return WizardState(tuple(readings), verdict=calibration_text(record), record=record)


def sample_wizard(cook: Cook, channel: str, percent: float, temperature_c: float, since: float | None) -> SampleState:
    """The state of a reading in a diluted, cooled sample.

    Parameters
    ----------
    percent : paste in the sample, per cent by mass.
    temperature_c : of the sample, degC.
    since : when the probe went in, Unix seconds, or None.

    Raises UnsteadyReadingError where a pH would be unreliable, by what was typed or by the sample's own thermometer.
    """
    warm = samples_after(cook.raw(), cook.calibration_log.facts(), cook.rig, SAMPLE, cook.now() - COLD_FRESH_S)
    said_c = next((one.value for one in reversed(warm) if one.value is not None and one.unit == "Cel"), None)
    if said_c is not None and (refusal := sample_refusal(percent, said_c)):
        raise UnsteadyReadingError(refusal)
    latest = cook.calibration_log.facts().latest(PhCalibration, cook.rig, channel, cook.now())
    calibration = require_calibration(channel, latest, percent, temperature_c)
    if since is None:
        return SampleState(None)
    reading = _read_bath(cook, channel, since, ph_stability_detector(temperature_c), VOLTS)
    if reading.value is None:
        return SampleState(reading)
    ph = sample_ph(calibration, reading.value, temperature_c)
    return SampleState(
        BufferReading(STEADY, f"{reading.value * 1000:+z.1f} mV.", reading.value),
        f"pH {ph:.2f} in {percent:g} % at {temperature_c:g} °C.",
        ph,
    )


def log_sample(cook: Cook, read: SampleState, percent: float, temperature_c: float, uid: str | None = None) -> Event:
    """Logs a sample's pH with its concentration and temperature. uid: as ``Cook.log_event`` takes it.

    Raises UnsteadyReadingError while the reading is not stable.
    """
    if read.ph is None:
        raise UnsteadyReadingError("The sample's reading is not steady yet.")
    fields = {"ph": round(read.ph, 3), "sample_percent": percent, "temperature_c": temperature_c}
    return cook.log_event("ph read", fields=fields, uid=uid)


def save_calibration(cook: Cook, state: WizardState, uid: str | None = None) -> str:
    """Adds the calibration to the cook's folder and returns its id. uid: the id that the sender chose, or None.

    Raises UnsteadyReadingError while there is nothing to save.
    """
    if state.record is None:
        raise UnsteadyReadingError(state.error_text or "Not every dip is steady yet.")
    record = state.record if uid is None else replace(state.record, uid=check_uid(uid))
    cook.calibration_log.add(record)
    return record.uid


def saved_verdict(cook: Cook, uid: str) -> str | None:
    """The verdict of the calibration already saved under this id, or None."""
    own = (record for record in cook.calibration_log.facts().all if record.uid == uid and record.rig == cook.rig)
    return next((calibration_text(record) for record in own if not isinstance(record, SensorConfig)), None)


def retract_calibration(cook: Cook, uid: str, own_uid: str) -> None:
    """Retracts a calibration. own_uid: the id of the retraction. Raises UnsteadyReadingError where there is none."""
    if uid not in [record.uid for record in cook.calibration_log.facts().all if record.rig == cook.rig]:
        raise UnsteadyReadingError("There is no such calibration to take back.")
    cook.calibration_log.add(Retraction(own_uid, uid, cook.now()))


def latest_text(cook: Cook, channel: str) -> str:
    """The channel's present value before any calibration, in words; empty where it sent nothing lately."""
    samples = _samples(cook, channel, cook.now() - SILENT_S * max(1.0, cook.rate))
    if not samples:
        return ""
    last = samples[-1]
    if last.value is None:
        return last.fault or "fault"
    if last.unit in VOLTS:
        return f"{last.value * VOLTS[last.unit] * 1000:+z.1f} mV"
    return f"{last.value:.2f} {'°C' if last.unit == 'Cel' else last.unit}"


def _samples(cook: Cook, channel: str, after: float) -> list[ChannelSample]:
    return samples_after(cook.raw(), cook.calibration_log.facts().of_kinds(SensorConfig), cook.rig, channel, after)


def _read_bath(
    cook: Cook, channel: str, since: float, detector: StabilityDetector, units: dict[str, float]
) -> BufferReading:
    samples = _samples(cook, channel, since)
    try:
        state = detect_stability(samples, detector, units, channel)
    except UnsteadyReadingError as error:
        return BufferReading(FAILED, error.why)
    heard = max([since, *(sample.moment for sample in samples[-1:])])
    # Readings of an accelerated virtual cook arrive late by its rate.
    if isinstance(state, Unsettled) and cook.now() - heard > SILENT_S * max(1.0, cook.rate):
        return BufferReading(FAILED, silence_text(channel))
    return _reading_of(state, "pH" if units is VOLTS else "°C")


def _reading_of(state: StabilityState, unit: str) -> BufferReading:
    if isinstance(state, Stable):
        return BufferReading(STEADY, "", state.value)
    if isinstance(state, TimedOut):
        return BufferReading(FAILED, state.why)
    if state.change is None:
        return BufferReading(SETTLING, "Settling: half a minute of readings is needed.")
    return BufferReading(SETTLING, f"Settling: it changes by {abs(state.change):.2f} {unit} in half a minute.")
