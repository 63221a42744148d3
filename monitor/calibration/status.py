"""The status of each channel of a cook: what was sent, how it was converted, its uncertainty and its health."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from monitor.calibration.session import calibration_text
from monitor.model import ArrivingChannel, Series, is_usable_unit, role, span, unit_problem_text
from monitor.probes import (
    CHECKED_C,
    CONVERTER_C,
    PH,
    RAW_UNIT,
    THERMOCOUPLES,
    CalibrationRecords,
    ConversionTrace,
    PhCalibration,
    SensorConfig,
    age_words,
    electrode_health,
    trend_words,
    wire_tolerance_c,
)
from monitor.session import Cook

MOST_FAULTS = 5
# Equal faults closer than this belong to one interval.
SAME_FAULT_S = 60.0
# Older faults than this many are not searched.
MOST_LOOKED_AT = 5000
SILENT_READINGS, SILENT_S = 10.0, 30.0
WELL, LOOK, FAULTY = "well", "look", "faulty"
_DIGITS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {"Cel": (".2f", "°C"), "K": (".2f", "K"), "V": (".4f", "V"), "mV": (".3f", "mV")}
)


@dataclass(frozen=True, slots=True)
class FaultInterval:
    """An interval with the same fault.

    began, ended: Unix seconds of its first and last reading. stands: it still lasts.
    """

    words: str
    began: float
    ended: float
    stands: bool


@dataclass(frozen=True, slots=True)
class ProbeStatus:
    """One channel at the moment viewed.

    sent, shown: its latest reading in words, before and after conversion. steps: the conversion, one clause each.
    tolerance: its uncertainty in words. health: well, look or faulty; health_words: one sentence. reference: the
    calibration and its age. calibrated, due: Unix seconds or None. faults: the last ones, latest first. trend: of a pH
    electrode's slope. part: the channel's role. kind: temperature, ph or other.
    """

    channel: str
    part: str
    kind: str
    sent: str
    shown: str
    steps: tuple[str, ...]
    tolerance: str
    health: str
    health_words: str
    reference: str
    calibrated: float | None
    due: float | None
    overdue: bool
    faults: tuple[FaultInterval, ...] = ()
    trend: str = ""


def probe_statuses(cook: Cook) -> tuple[ProbeStatus, ...]:
    """The status of every channel of a cook now; probes in the pot first."""
    history, raw, records = cook.history(), cook.raw(), cook.calibration_log.facts()
    alarm_text = {one.name: one.words for one in cook.outlook().alarms if one.until is None}
    order = [*THERMOCOUPLES, PH]
    on_sample = sorted(
        cook.conversion_traces(),
        key=lambda trace: (order.index(r) if (r := role(trace.channel)) in order else 9, trace.channel),
    )
    # Readings of an accelerated virtual cook arrive late by its rate.
    patience = max(1.0, cook.rate)
    silent_after = None if cook.finished() is not None else SILENT_S * patience
    return tuple(
        _probe_status(
            trace, raw.series.get(trace.channel), history.series[trace.channel], records, cook, alarm_text, silent_after
        )
        for trace in on_sample
    )


def latest_values(cook: Cook) -> dict[str, tuple[str, str]]:
    """The latest reading of each channel in words: as sent, and as shown."""
    history, raw = cook.history(), cook.raw()
    return {
        name: (latest_value_text(raw.series.get(name, series)), latest_value_text(series, shown=True))
        for name, series in history.series.items()
    }


def latest_value_text(series: Series, *, shown: bool = False) -> str:
    """The latest reading in words. shown: rounded to what a person can use."""
    if not len(series):
        return "nothing yet"
    value = float(series.value[-1])
    if math.isnan(value):
        return series.faults[-1][1] if series.faults and series.faults[-1][0] == len(series) - 1 else "fault"
    if series.unit == RAW_UNIT and value.is_integer() and 0.0 <= value < 2.0**32:
        return f"{int(value):08X}"
    if series.unit == "pH":
        return f"pH {value:.2f}"
    digits, unit = _DIGITS.get(series.unit, ("g", series.unit))
    if shown and series.unit in ("Cel", "K"):
        digits = ".1f"
    return f"{value:{digits}} {unit}".rstrip()


def fault_intervals(series: Series) -> tuple[FaultInterval, ...]:
    """The last intervals of faults, latest first, at most MOST_FAULTS."""
    found: list[FaultInterval] = []
    for place, words in reversed(series.faults[-MOST_LOOKED_AT:]):
        at = float(series.measured[place])
        last = found[-1] if found else None
        if last is not None and last.words == words and last.began - at <= SAME_FAULT_S:
            found[-1] = FaultInterval(words, at, last.ended, last.stands)
            continue
        if len(found) == MOST_FAULTS:
            break
        found.append(FaultInterval(words, at, at, place == len(series) - 1))
    return tuple(found)


def _probe_status(
    trace: ConversionTrace,
    raw: Series | None,
    series: Series,
    records: CalibrationRecords,
    cook: Cook,
    alarm_text: Mapping[str, str],
    silent_after: float | None,
) -> ProbeStatus:
    channel_role, now = role(trace.channel), cook.now()
    kind = (
        "ph"
        if channel_role == PH
        else "temperature"
        if series.unit in ("Cel", "K") or channel_role in THERMOCOUPLES
        else "other"
    )
    ph_record = records.latest(PhCalibration, cook.rig, channel_role, now) if kind == "ph" else None
    check = records.field_check(cook.rig, channel_role, now) if kind == "temperature" else None
    fitting = records.latest(SensorConfig, cook.rig, channel_role, now) if kind == "temperature" else None
    slopes = [
        (record.known, found.slope)
        for record in records.history(PhCalibration, cook.rig, channel_role, now)
        if ph_record is not None and record.probe == ph_record.probe
        if not (found := electrode_health(record.points)).slope_assumed
    ]
    dated = ph_record or check
    reference = (
        ""
        if dated is None
        else f"{calibration_text(dated)} {age_words(now - dated.known, checked=ph_record is None).capitalize()}."
    )
    health, words = _health(series, trace, ph_record, now, alarm_text, silent_after)
    return ProbeStatus(
        trace.channel,
        channel_role,
        kind,
        latest_value_text(raw if raw is not None else series),
        latest_value_text(series, shown=True),
        (*_converter_steps(trace, fitting), *trace.steps),
        _tolerance(trace, fitting, checked=check is not None) if kind == "temperature" else "",
        health,
        words,
        reference,
        trace.calibrated,
        trace.due,
        trace.overdue,
        fault_intervals(series),
        trend_words(slopes),
    )


def _converter_steps(trace: ConversionTrace, fitting: SensorConfig | None) -> Iterable[str]:
    """What the converter did before it sent a value."""
    if fitting is not None and fitting.converter and trace.raw_unit in ("Cel", "K", RAW_UNIT):
        yield f"the {fitting.converter} has added its cold junction and made degrees of it"


def _tolerance(trace: ConversionTrace, fitting: SensorConfig | None, *, checked: bool) -> str:
    if checked and trace.tolerance_c is None:
        return f"Within {CHECKED_C:g} °C, by its check in ice or boiling water."
    if fitting is None or trace.tolerance_c is None:
        return "Not known: nobody has told which thermocouple and converter it is (kettleside calibrate fitting)."
    if checked:
        return f"Within {trace.tolerance_c:.1f} °C: checked in ice or boiling water, which takes the rest out."
    wire_c = wire_tolerance_c(fitting.letter, fitting.tolerance_class, 95.0)
    chip = f" and the {fitting.converter} ({CONVERTER_C[fitting.converter]:g} °C)" if fitting.converter else ""
    return (
        f"Within {trace.tolerance_c:.1f} °C: type {fitting.letter} wire of IEC 60584-1 class "
        f"{fitting.tolerance_class} ({wire_c:.1f} °C at 95 °C){chip}."
    )


def _health(
    series: Series,
    trace: ConversionTrace,
    ph_record: PhCalibration | None,
    now: float,
    alarm_text: Mapping[str, str],
    silent_after: float | None,
) -> tuple[str, str]:
    channel_role = role(trace.channel)
    if not len(series):
        return FAULTY, "It has said nothing yet: look at its plug and cable."
    steps = np.diff(series.measured[-50:])
    usual_s = float(np.median(steps)) if len(steps) else 0.0
    silent_s = now - float(series.measured[-1])
    if silent_after is not None and silent_s > max(silent_after, SILENT_READINGS * usual_s):
        return FAULTY, f"Silent for {span(silent_s)}: look at its plug, its cable and the logger."
    if series.faults and series.faults[-1][0] == len(series) - 1:
        return FAULTY, f"It says “{series.faults[-1][1]}”: look at its plug, its cable and its tip."
    if not is_usable_unit(channel_role, series.unit):
        value = float(series.value[-1])
        return FAULTY, unit_problem_text(ArrivingChannel(channel_role, series.sent_unit or series.unit, value, None))
    for name, words in alarm_text.items():
        if name.startswith(f"{channel_role} probe "):
            return LOOK, words
    if channel_role == PH and trace.unit != "pH":
        return LOOK, "Not calibrated: only its voltage is known."
    if ph_record is not None:
        judgement = electrode_health(ph_record.points)
        if judgement.state != "good":
            return LOOK, judgement.words
        if trace.overdue:
            return LOOK, f"{age_words(now - ph_record.known).capitalize()}."
    return WELL, "Reads well."
