"""Each channel of a cook for a person: what was sent, how it became what is shown, how sure it is, and its health."""

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
# Faults no further apart than this are one.
SAME_FAULT_S = 60.0
# Beyond so many readings back nobody asks which fault it was.
MOST_LOOKED_AT = 5000
SILENT_READINGS, SILENT_S = 10.0, 30.0
WELL, LOOK, FAULTY = "well", "look", "faulty"
_DIGITS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {"Cel": (".2f", "°C"), "K": (".2f", "K"), "V": (".4f", "V"), "mV": (".3f", "mV")}
)


@dataclass(frozen=True, slots=True)
class FaultInterval:
    """A spell in which a channel said the same words. began, ended: Unix seconds of its first and last reading."""

    words: str
    began: float
    ended: float
    stands: bool


@dataclass(frozen=True, slots=True)
class ProbeStatus:
    """One channel at the moment looked at.

    sent, shown: its latest reading in words, before and after. steps: one clause each from the one to the other.
    tolerance: how far it may be off, in words. health: well, look or faulty; health_words: one sentence.
    reference: what the calibration says and how old it is. calibrated, due: Unix seconds or None.
    faults: the last ones, the latest first. trend: of a pH probe's slope. part: the channel's plain name. kind:
    temperature, ph or other.
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
    """Every channel of a cook as of now; what hangs in the pot first."""
    history, raw, facts = cook.history(), cook.raw(), cook.calibration_log.facts()
    wrong = {one.name: one.words for one in cook.outlook().conditions if one.until is None}
    order = [*THERMOCOUPLES, PH]
    told = sorted(
        cook.conversion_traces(),
        key=lambda chain: (order.index(r) if (r := role(chain.channel)) in order else 9, chain.channel),
    )
    # A virtual cook's readings come when the machine gets round to it.
    patience = max(1.0, cook.rate)
    silent_after = None if cook.finished() is not None else SILENT_S * patience
    return tuple(
        _probe(chain, raw.series.get(chain.channel), history.series[chain.channel], facts, cook, wrong, silent_after)
        for chain in told
    )


def latest_of(cook: Cook) -> dict[str, tuple[str, str]]:
    """The latest reading of each channel in words: as it was sent, and as it is shown."""
    history, raw = cook.history(), cook.raw()
    return {
        name: (said(raw.series.get(name, series)), said(series, shown=True)) for name, series in history.series.items()
    }


def said(series: Series, *, shown: bool = False) -> str:
    """The latest reading in words. shown: no finer than a person can use."""
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
    """The last spells of faults, the latest first."""
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


def _probe(
    chain: ConversionTrace,
    raw: Series | None,
    series: Series,
    facts: CalibrationRecords,
    cook: Cook,
    wrong: Mapping[str, str],
    silent_after: float | None,
) -> ProbeStatus:
    plain, now = role(chain.channel), cook.now()
    kind = "ph" if plain == PH else "temperature" if series.unit in ("Cel", "K") or plain in THERMOCOUPLES else "other"
    calibration = facts.latest(PhCalibration, cook.rig, plain, now) if kind == "ph" else None
    check = facts.field_check(cook.rig, plain, now) if kind == "temperature" else None
    fitting = facts.latest(SensorConfig, cook.rig, plain, now) if kind == "temperature" else None
    slopes = [
        (fact.known, found.slope)
        for fact in facts.history(PhCalibration, cook.rig, plain, now)
        if calibration is not None and fact.probe == calibration.probe
        if not (found := electrode_health(fact.points)).slope_assumed
    ]
    dated = calibration or check
    reference = (
        ""
        if dated is None
        else f"{calibration_text(dated)} {age_words(now - dated.known, checked=calibration is None).capitalize()}."
    )
    health, words = _health(series, chain, calibration, now, wrong, silent_after)
    return ProbeStatus(
        chain.channel,
        plain,
        kind,
        said(raw if raw is not None else series),
        said(series, shown=True),
        (*_by_chip(chain, fitting), *chain.steps),
        _tolerance(chain, fitting, checked=check is not None) if kind == "temperature" else "",
        health,
        words,
        reference,
        chain.calibrated,
        chain.due,
        chain.overdue,
        fault_intervals(series),
        trend_words(slopes),
    )


def _by_chip(chain: ConversionTrace, fitting: SensorConfig | None) -> Iterable[str]:
    """What the converter had done before it sent anything."""
    if fitting is not None and fitting.converter and chain.raw_unit in ("Cel", "K", RAW_UNIT):
        yield f"the {fitting.converter} has added its cold junction and made degrees of it"


def _tolerance(chain: ConversionTrace, fitting: SensorConfig | None, *, checked: bool) -> str:
    if checked and chain.tolerance_c is None:
        return f"Within {CHECKED_C:g} °C, by its check in ice or boiling water."
    if fitting is None or chain.tolerance_c is None:
        return "Not known: nobody has told which thermocouple and converter it is (kettleside calibrate fitting)."
    if checked:
        return f"Within {chain.tolerance_c:.1f} °C: checked in ice or boiling water, which takes the rest out."
    wire_c = wire_tolerance_c(fitting.letter, fitting.tolerance_class, 95.0)
    chip = f" and the {fitting.converter} ({CONVERTER_C[fitting.converter]:g} °C)" if fitting.converter else ""
    return (
        f"Within {chain.tolerance_c:.1f} °C: type {fitting.letter} wire of IEC 60584-1 class "
        f"{fitting.tolerance_class} ({wire_c:.1f} °C at 95 °C){chip}."
    )


def _health(
    series: Series,
    chain: ConversionTrace,
    calibration: PhCalibration | None,
    now: float,
    wrong: Mapping[str, str],
    silent_after: float | None,
) -> tuple[str, str]:
    plain = role(chain.channel)
    if not len(series):
        return FAULTY, "It has said nothing yet: look at its plug and cable."
    steps = np.diff(series.measured[-50:])
    usual_s = float(np.median(steps)) if len(steps) else 0.0
    silent_s = now - float(series.measured[-1])
    if silent_after is not None and silent_s > max(silent_after, SILENT_READINGS * usual_s):
        return FAULTY, f"Silent for {span(silent_s)}: look at its plug, its cable and the logger."
    if series.faults and series.faults[-1][0] == len(series) - 1:
        return FAULTY, f"It says “{series.faults[-1][1]}”: look at its plug, its cable and its tip."
    if not is_usable_unit(plain, series.unit):
        value = float(series.value[-1])
        return FAULTY, unit_problem_text(ArrivingChannel(plain, series.sent_unit or series.unit, value, None))
    for name, words in wrong.items():
        if name.startswith(f"{plain} probe "):
            return LOOK, words
    if plain == PH and chain.unit != "pH":
        return LOOK, "Not calibrated: only its voltage is known."
    if calibration is not None:
        judgement = electrode_health(calibration.points)
        if judgement.state != "good":
            return LOOK, judgement.words
        if chain.overdue:
            return LOOK, f"{age_words(now - calibration.known).capitalize()}."
    return WELL, "Reads well."
