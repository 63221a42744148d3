"""Calibrations applied to a history when it is viewed: raw words, emf and electrode voltage become degC and pH.

The stored readings never change. A history viewed as of t uses the calibrations known at t for all of its readings. The
names of channels and their units are described in ``firmware_notes``.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np

from monitor.model import Floats, History, Series, is_temperature, role, to_celsius
from monitor.probes.calibration_records import CalibrationRecords, FieldCheck, PhCalibration, SensorConfig
from monitor.probes.converters import CONVERTERS, GAIN_MV_PER_C, decode, linearised_c
from monitor.probes.ph import BEYOND_PROBE, HOTTEST_SAMPLE_C, MOST_V, ROOM_C, TOO_HOT
from monitor.probes.ph_calibration import GOOD_FOR_S, age_words, electrode_health, ph_map
from monitor.probes.thermocouple import LETTERS, compensated_c
from monitor.probes.two_point_correction import field_correction
from monitor.probes.uncertainty import chain_tolerance_c

RAW_UNIT = "count"
_TO_MV: Mapping[str, float] = MappingProxyType({"V": 1000.0, "mV": 1.0})
# Type K reaches 55 mV at its upper limit; a larger voltage is no emf.
BEYOND_EMF = "voltage beyond what a thermocouple gives: is it in the unit that was sent?"
BEYOND_ANY = "beyond any temperature"
NO_COLD = "cold junction unknown"
# An older cold-junction reading no longer represents the terminals.
COLD_FRESH_S = 120.0
# Names of channels by role.
COLD, SAMPLE, PH = "cold", "sample", "ph"
THERMOCOUPLES = ("paste", "wall", "room")


@dataclass(frozen=True, slots=True)
class ConversionTrace:
    """How one channel's raw signal was converted, for traceability.

    raw_unit, unit: before and after. steps: one clause each, in order. tolerance_c: degC either way near the latest
    reading, None where unknown. calibrated, due: Unix seconds, None where never. overdue: whether a new calibration is
    due at the moment viewed.
    """

    channel: str
    raw_unit: str
    unit: str
    steps: tuple[str, ...] = ()
    tolerance_c: float | None = None
    calibrated: float | None = None
    due: float | None = None
    overdue: bool = False


def convert_history(history: History, records: CalibrationRecords, rig: str) -> History:
    """The history with every channel converted. Never raises for the content of readings or records.

    Parameters
    ----------
    history : raw readings; its ``as_of`` (Unix seconds) selects the records.
    records : every calibration record of the folder.
    rig : the rig whose records apply.
    """
    if not any(record.rig == rig for record in records.all) and all(
        one.unit != RAW_UNIT for one in history.series.values()
    ):
        # Most kitchens have no calibration, and this function runs at every refresh.
        return history
    # An absurd reading becomes NaN or infinite, and then a fault.
    with np.errstate(over="ignore", invalid="ignore"):
        return _convert_all(history, records, rig)[0]


def conversion_traces(history: History, records: CalibrationRecords, rig: str) -> tuple[ConversionTrace, ...]:
    """How each channel of a raw history is converted; parameters as in ``convert_history``."""
    with np.errstate(over="ignore", invalid="ignore"):
        return _convert_all(history, records, rig)[1]


def _convert_all(
    history: History, records: CalibrationRecords, rig: str
) -> tuple[History, tuple[ConversionTrace, ...]]:
    series: dict[str, Series] = {}
    traces: list[ConversionTrace] = []
    # Words are decoded first for their cold junctions, and temperatures are corrected before the pH needs them.
    converters = {name: found for name in history.series if (found := _converter_of(name, history.series[name]))}
    decoded: dict[str, Series] = {}
    for name, converter in converters.items():
        decoded.update(_decode_series(history.series[name], converter))
    known = {**history.series, **decoded}
    for name in sorted(known, key=lambda name: (role(name) == PH, name)):
        raw = history.series.get(name, known[name])
        steps = [f"sent in {raw.sent_unit}"] if raw.sent_unit else []
        steps += [f"decoded from {converters[name]} words"] if name in converters else []
        if role(name) == PH:
            series[name], trace = _convert_ph(known[name], {**known, **series}, records, rig, history.as_of)
        else:
            series[name], trace = _convert_temperature(
                known[name], converters.get(name), known, records, rig, history.as_of
            )
        traces.append(replace(trace, raw_unit=raw.unit, steps=(*steps, *trace.steps)))
    ordered = {name: series[name] for name in known}
    same = len(ordered) == len(history.series) and all(ordered[n] is history.series[n] for n in history.series)
    return history if same else replace(history, series=MappingProxyType(ordered)), tuple(traces)


def _converter_of(name: str, series: Series) -> str | None:
    """The chip whose raw words this channel sends, such as ``max31855/paste`` in counts; None where it sends none."""
    parts = name.replace(":", "/").split("/")
    chip = parts[-2].upper() if len(parts) > 1 else ""
    return chip if series.unit == RAW_UNIT and chip in CONVERTERS else None


def _decode_series(series: Series, converter: str) -> dict[str, Series]:
    decoding = decode(converter, series.value)
    faults = _with_faults(series.faults, decoding.faults)
    out = {series.channel: replace(series, unit="Cel", value=decoding.temperature_c, faults=faults)}
    if decoding.cold_c is not None:
        lost = [(i, text) for i, text in faults if math.isnan(decoding.cold_c[i])]
        name = f"{series.channel}/{COLD}"
        out[name] = replace(series, channel=name, unit="Cel", value=decoding.cold_c, faults=tuple(lost))
    return out


def _with_faults(before: Iterable[tuple[int, str]], more: Iterable[tuple[int, str]]) -> tuple[tuple[int, str], ...]:
    """The faults of both; the device's own fault takes precedence."""
    return tuple(sorted({**dict(more), **dict(before)}.items()))


def _convert_temperature(
    series: Series,
    converter: str | None,
    known: Mapping[str, Series],
    records: CalibrationRecords,
    rig: str,
    as_of: float,
) -> tuple[Series, ConversionTrace]:
    channel = role(series.channel)
    unchanged = ConversionTrace(series.channel, series.unit, series.unit)
    fitting = records.latest(SensorConfig, rig, channel, as_of)
    check = records.field_check(rig, channel, as_of)
    if channel == COLD or (fitting is None and check is None):
        type_unknown = series.unit in _TO_MV and channel in THERMOCOUPLES
        return series, replace(
            unchanged, steps=("its thermocouple's type is not told: shown as sent",)
        ) if type_unknown else unchanged
    steps: list[str] = []
    chip = converter or (fitting.converter if fitting else "")
    if fitting is not None and series.unit in _TO_MV:
        if fitting.converter:
            return series, unchanged
        series = _emf_to_celsius(series, fitting.letter, known)
        steps.append(f"type {fitting.letter} by ITS-90 from emf and cold junction")
    if not is_temperature(series.unit):
        return series, unchanged
    if fitting is not None and fitting.linearise and chip == "MAX31855" and fitting.letter in GAIN_MV_PER_C:
        series, corrected = _linearise(series, fitting.letter, known)
        steps.append(
            "the MAX31855's straight line mended" if corrected else "not mended: the cold junction is not sent"
        )
    if check is not None:
        series = _correct(series, check)
        baths = " and ".join(point.bath for point in check.points)
        steps.append(f"corrected by {baths}")
    tolerance_c = _tolerance_c(series, fitting, chip, checked=check is not None)
    return replace(series, tolerance_c=tolerance_c), replace(
        unchanged,
        unit=series.unit,
        steps=tuple(steps),
        tolerance_c=tolerance_c,
        calibrated=check.known if check else None,
    )


def _correct(series: Series, check: FieldCheck) -> Series:
    """A temperature channel in degC after the correction of a field check."""
    value = field_correction(check.points).corrected_c(_celsius(series))
    infinite = np.isinf(value)
    faults = [(int(i), BEYOND_ANY) for i in np.flatnonzero(infinite)]
    return replace(
        series,
        value=np.where(infinite, math.nan, value),
        unit="Cel",
        faults=_with_faults(series.faults, faults),
    )


def _tolerance_c(series: Series, fitting: SensorConfig | None, chip: str, *, checked: bool) -> float | None:
    if fitting is None or fitting.letter not in LETTERS:
        return None
    good = series.value[~np.isnan(series.value)]
    at_c = float(good[-1]) if len(good) else ROOM_C
    return chain_tolerance_c(fitting.letter, fitting.tolerance_class, chip or None, at_c, checked=checked)


def _celsius(series: Series) -> Floats:
    """The readings of a temperature channel in degC."""
    value_c = to_celsius(series.value, series.unit)
    return series.value if value_c is None else value_c


def _latest_before_c(series: Series, wanted: str, known: Mapping[str, Series]) -> Floats | None:
    """The latest other temperature (degC) before each reading, shape of ``series``; NaN where older than COLD_FRESH_S.

    Looks for ``<channel>/<wanted>``, then for any channel of that role. Returns None where there is no such channel.
    """
    own = known.get(f"{series.channel}/{wanted}")
    others = [one for name, one in known.items() if role(name) == wanted and is_temperature(one.unit)]
    beside = own if own is not None else max(others, key=len, default=None)
    if beside is None or not len(beside):
        return None
    # A cold junction that follows its thermocouple in the pack has the same time.
    place = np.searchsorted(beside.measured, series.measured, side="right") - 1
    found = _celsius(beside)[np.maximum(place, 0)]
    age_s = series.measured - beside.measured[np.maximum(place, 0)]
    return np.where((place >= 0) & (age_s <= COLD_FRESH_S), found, math.nan)


def _emf_to_celsius(series: Series, letter: str, known: Mapping[str, Series]) -> Series:
    emf_mv = series.value * _TO_MV[series.unit]
    cold_c = _latest_before_c(series, COLD, known)
    cold_c = np.full(len(series), math.nan) if cold_c is None else cold_c
    value = compensated_c(letter, emf_mv, cold_c)
    sent = ~np.isnan(series.value)
    lost = [(int(i), NO_COLD) for i in np.flatnonzero(sent & np.isnan(cold_c))]
    beyond = [(int(i), BEYOND_EMF) for i in np.flatnonzero(sent & ~np.isnan(cold_c) & np.isnan(value))]
    return replace(series, unit="Cel", value=value, faults=_with_faults(series.faults, [*lost, *beyond]))


def _linearise(series: Series, letter: str, known: Mapping[str, Series]) -> tuple[Series, bool]:
    cold_c = _latest_before_c(series, COLD, known)
    if cold_c is None:
        return series, False
    reading_c = _celsius(series)
    corrected = linearised_c(letter, reading_c, cold_c)
    # Where the cold junction is missing, a reading a quarter of a degree off is better than none.
    value = np.where(np.isnan(corrected), reading_c, corrected)
    return replace(series, unit="Cel", value=value), True


def _convert_ph(
    series: Series, known: Mapping[str, Series], records: CalibrationRecords, rig: str, as_of: float
) -> tuple[Series, ConversionTrace]:
    unchanged = ConversionTrace(series.channel, series.unit, series.unit)
    if series.unit not in _TO_MV:
        return series, unchanged
    record = records.latest(PhCalibration, rig, role(series.channel), as_of)
    if record is None:
        return series, replace(unchanged, steps=("not calibrated: shown as the probe's voltage",), overdue=True)
    volts = series.value * _TO_MV[series.unit] / 1000.0
    beside_c = _latest_before_c(series, SAMPLE, known)
    measured_c = np.full(len(series), math.nan) if beside_c is None else beside_c
    sample_c = np.where(np.isnan(measured_c), ROOM_C, measured_c)
    hot = ~np.isnan(volts) & (sample_c > HOTTEST_SAMPLE_C)
    beyond = np.abs(np.nan_to_num(volts)) > MOST_V
    value = np.where(hot | beyond, math.nan, ph_map(record.points).ph(volts, np.where(hot, ROOM_C, sample_c)))
    traces = [
        *((int(i), TOO_HOT) for i in np.flatnonzero(hot)),
        *((int(i), BEYOND_PROBE) for i in np.flatnonzero(beyond)),
    ]
    names = ", ".join(point.buffer for point in record.points)
    steps = (
        f"calibrated in {names}: {electrode_health(record.points).words[len('The probe is ') : -1]}",
        "temperature from the sample's own thermometer" if beside_c is not None else "sample taken to be at 25 °C",
        age_words(as_of - record.known),
    )
    return (
        replace(series, unit="pH", value=value, faults=_with_faults(series.faults, traces)),
        ConversionTrace(
            series.channel,
            series.unit,
            "pH",
            steps,
            calibrated=record.known,
            due=record.known + GOOD_FOR_S,
            overdue=as_of > record.known + GOOD_FOR_S,
        ),
    )
