"""A pH electrode calibrated in one, two or three buffers: its map from voltage to pH, and its condition."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from monitor.probes.buffers import find_buffer
from monitor.probes.ph import HOTTEST_SAMPLE_C, MOST_V, ROOM_C, ideal_v, nernst_v, ph_of_ideal_v
from monitor.probes.thermocouple import Floats

# Probe makers' guidance (common practice): offset and slope of a good probe, of a tired one, of one to be replaced.
GOOD_OFFSET_V = 0.030
REPLACE_OFFSET_V = 0.060
GOOD_SLOPE = (0.95, 1.05)
POOR_SLOPE = 0.90
REPLACE_SLOPE = 0.80
STEEPEST_SLOPE = 1.10
# Below the first slope two buffers are indistinguishable; below the second, the unit is probably wrong.
SAME_SLOPE = 0.10
MILLIVOLTS_SLOPE = 0.002
LEAST_SPAN_PH = 1.0
GOOD, TIRED, POOR = "good", "tired", "poor"
# A hobby probe is checked before every use, and calibrated anew after a week (common practice, no source).
GOOD_FOR_S = 7 * 86_400.0


@dataclass(frozen=True, slots=True)
class BufferPoint:
    """One measurement in a buffer.

    buffer: its name; temperature_c: of the buffer, degC; voltage_v: the stable voltage, V.
    """

    buffer: str
    temperature_c: float
    voltage_v: float


@dataclass(frozen=True, slots=True)
class PhMap:
    """The map from volts to pH. ideal_v, voltage_v: the points in ascending voltage, V; equal shapes, 1 to 3.

    Piecewise linear through the points and extrapolated beyond; through one point with the ideal slope.
    """

    ideal_v: tuple[float, ...]
    voltage_v: tuple[float, ...]

    def _segments(self) -> list[tuple[float, float, float]]:
        """(measured V, ideal V, ideal per measured) of each straight piece, in ascending voltage."""
        if len(self.voltage_v) == 1:
            return [(self.voltage_v[0], self.ideal_v[0], 1.0)]
        pairs = list(zip(self.voltage_v, self.ideal_v, strict=True))
        return [(v1, i1, (i2 - i1) / (v2 - v1)) for (v1, i1), (v2, i2) in pairwise(pairs)]

    def ph(self, volts: Floats | float, temperature_c: Floats | float) -> Floats:
        """The pH of a sample that gives ``volts`` (V) at ``temperature_c`` (degC), any shape; NaN stays NaN."""
        given = np.asarray(volts, dtype=np.float64)
        segments = self._segments()
        which = np.searchsorted([v for v, _, _ in segments[1:]], given)
        at, ideal, rate = np.array(segments).T
        return ph_of_ideal_v(ideal[which] + (given - at[which]) * rate[which], temperature_c)


@dataclass(frozen=True, slots=True)
class ElectrodeHealth:
    """The electrode's condition by its calibration.

    slope: fraction of the Nernst slope over all points; 1 is assumed for one point (``slope_assumed``). offset_v:
    voltage at pH 7, V. state: good, tired or poor. words: one sentence.
    """

    slope: float
    slope_assumed: bool
    offset_v: float
    state: str
    words: str


def ph_map(points: Sequence[BufferPoint]) -> PhMap:
    """The map from volts to pH that one to three buffers give.

    Each point's ideal voltage is -k(T) (pH - 7) with k the Nernst slope at the buffer's temperature; the map is
    piecewise linear from measured to ideal voltage.

    Parameters
    ----------
    points : one to three measurements, at most 50 degC, buffers at least 1 pH apart.

    Raises ValueError with one sentence that says what was seen and what to try, where the points are implausible: slope
    outside 80 to 110 % of ideal, offset beyond 120 mV, or swapped buffers (limits after makers' guidance, common
    practice).

    >>> calibrated = ph_map([BufferPoint("7.00", 25.0, 0.006), BufferPoint("10.01", 25.0, -0.168)])
    >>> f"{float(calibrated.ph(-0.1, 25.0)):.2f}"
    '8.83'
    """
    if not 1 <= len(points) <= 3:
        raise ValueError(f"points has {len(points)} dips; one, two or three buffers are taken")
    _check_voltages(points)
    check_buffers(points)
    ordered = sorted((float(ideal_v(_ph(point), point.temperature_c)), point.voltage_v) for point in points)
    _check_apart(ordered)
    _check_order(points)
    for (ideal_1, volts_1), (ideal_2, volts_2) in pairwise(ordered):
        _check_slope((volts_2 - volts_1) / (ideal_2 - ideal_1))
    if len(points) == 1:
        _check_offset(ordered[0][1] - ordered[0][0])
    else:
        _check_offset(_fit_line(ordered)[1])
    return PhMap(tuple(ideal for ideal, _ in ordered), tuple(volts for _, volts in ordered))


def _ph(point: BufferPoint) -> float:
    return find_buffer(point.buffer).ph_at(point.temperature_c)


def _check_voltages(points: Sequence[BufferPoint]) -> None:
    volts = [point.voltage_v for point in points]
    if all(value == 0.0 for value in volts):
        raise ValueError(
            "Every buffer reads exactly 0 V: the probe is unplugged or shorted, or its amplifier has no power."
        )
    largest = max(abs(value) for value in volts)
    if not largest <= MOST_V:
        if largest > 5.0:
            raise ValueError(
                f"The probe reads {largest:.4g} V where none gives more than half a volt: these look like millivolts; "
                "send the unit mV, or divide by 1000 in the sketch."
            )
        raise ValueError(
            f"The probe reads {largest:.3f} V where none gives more than half a volt: take the amplifier's middle "
            "voltage off and divide by its gain in the sketch."
        )


def check_buffers(points: Sequence[BufferPoint]) -> None:
    """Checks names and temperatures of buffers, whatever the voltages, so that no measurement is made in vain.

    Raises ValueError as ``ph_map`` does.
    """
    names = [find_buffer(point.buffer).name for point in points]
    twice = [name for i, name in enumerate(names) if name in names[:i]]
    if twice:
        raise ValueError(f"The {twice[0]} buffer was measured twice: take another buffer for the second dip.")
    for point in points:
        if point.temperature_c > HOTTEST_SAMPLE_C:
            raise ValueError(
                f"A buffer of {point.temperature_c:.0f} °C is too hot to calibrate in: let probe and buffers come to "
                "about 25 °C first."
            )


def _check_order(points: Sequence[BufferPoint]) -> None:
    by_ph = sorted(points, key=_ph)
    volts = [point.voltage_v for point in by_ph]
    falling = sorted(volts, reverse=True)
    if volts == falling:
        return
    wrong = [point.buffer for point, value, right in zip(by_ph, volts, falling, strict=True) if value != right]
    seen = " and ".join([", ".join(wrong[:-1]), wrong[-1]])
    raise ValueError(
        f"The voltage rises with pH where a probe's falls: the buffers {seen} look swapped; dip again in the right "
        "order, and if it comes out the same, turn the sign round in the sketch."
    )


def _check_apart(ordered: Sequence[tuple[float, float]]) -> None:
    for (ideal_1, volts_1), (ideal_2, volts_2) in pairwise(ordered):
        if ideal_2 - ideal_1 < LEAST_SPAN_PH * float(nernst_v(ROOM_C)):
            raise ValueError(
                f"Two of the buffers lie less than {LEAST_SPAN_PH:g} pH apart, which tells nothing of the slope: take "
                "two that differ more, such as 7.00 and 10.01."
            )
        difference_v = abs(volts_2 - volts_1)
        slope = difference_v / (ideal_2 - ideal_1)
        if slope < MILLIVOLTS_SLOPE:
            raise ValueError(
                f"Two buffers read only {difference_v * 1000:.2f} mV apart: the same buffer was measured twice, the "
                "glass is cracked, or volts were sent with the unit mV."
            )
        if slope < SAME_SLOPE:
            raise ValueError(
                f"Two buffers read only {difference_v * 1000:.1f} mV apart: the same buffer was measured twice, or the "
                "glass is cracked; rinse, dip again, and if it comes out the same, replace the probe."
            )


def _check_slope(slope: float) -> None:
    if slope < REPLACE_SLOPE:
        raise ValueError(
            f"The slope is {slope:.0%} of what a probe should give, and below {REPLACE_SLOPE:.0%} none is to be "
            "trusted: clean it, soak it in its storage solution for an hour, take fresh buffers; else replace it."
        )
    if slope > STEEPEST_SLOPE:
        raise ValueError(
            f"The slope is {slope:.0%} of what any probe can give: look at the buffers' names and temperatures and at "
            "the amplifier's gain in the sketch."
        )


def _check_offset(offset_v: float) -> None:
    if abs(offset_v) > 2.0 * REPLACE_OFFSET_V:
        raise ValueError(
            f"At pH 7 the probe gives {offset_v * 1000:+z.0f} mV where a good one gives within 30: look at the "
            "amplifier's middle voltage in the sketch and at the buffer's name; if both are right, replace the probe."
        )


def _fit_line(ordered: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Least-squares slope (fraction of the ideal) and offset (V) through (ideal, measured) pairs in V."""
    ideal, volts = np.array(ordered).T
    slope = float(((ideal - ideal.mean()) @ (volts - volts.mean())) / ((ideal - ideal.mean()) @ (ideal - ideal.mean())))
    return slope, float(volts.mean() - slope * ideal.mean())


def electrode_health(points: Sequence[BufferPoint]) -> ElectrodeHealth:
    """Slope, offset and condition of an electrode from its calibration points.

    Good: slope 95 to 105 % and offset within 30 mV. Poor: slope below 90 % or offset beyond 60 mV. Tired: between
    (makers' guidance, common practice). Raises ValueError as ``ph_map`` does.

    >>> electrode_health([BufferPoint("7.00", 25.0, 0.006), BufferPoint("10.01", 25.0, -0.168)]).state
    'good'
    """
    calibrated = ph_map(points)
    ordered = list(zip(calibrated.ideal_v, calibrated.voltage_v, strict=True))
    single = len(ordered) == 1
    slope, offset_v = (1.0, ordered[0][1] - ordered[0][0]) if single else _fit_line(ordered)
    worst = slope if single else min((v2 - v1) / (i2 - i1) for (i1, v1), (i2, v2) in pairwise(ordered))
    if worst < POOR_SLOPE or abs(offset_v) > REPLACE_OFFSET_V:
        state, advice = POOR, "order a new probe"
    elif not GOOD_SLOPE[0] <= slope <= GOOD_SLOPE[1] or worst < GOOD_SLOPE[0] or abs(offset_v) > GOOD_OFFSET_V:
        state, advice = TIRED, "clean it and calibrate again before you rely on it"
    else:
        state, advice = GOOD, ""
    age_text = "slope taken as ideal from one buffer" if single else f"slope {slope:.1%}"
    words = f"The probe is {state}: {age_text}, {offset_v * 1000:+z.1f} mV at pH 7{'; ' + advice if advice else ''}."
    return ElectrodeHealth(slope, single, offset_v, state, words)


def age_words(age_s: float, *, checked: bool = False) -> str:
    """The age of a calibration in words.

    Parameters
    ----------
    age_s : seconds since the calibration.
    checked : for a thermocouple's field check, which does not expire; a pH calibration is due after 7 days.

    >>> age_words(3 * 86400), age_words(9 * 86400)
    ('calibrated 3 days ago', 'calibrated 9 days ago: calibrate again')
    """
    days = math.floor(age_s / 86_400)
    age_text = "today" if days == 0 else "yesterday" if days == 1 else f"{days} days ago"
    if checked:
        return f"checked {age_text}"
    return f"calibrated {age_text}{': calibrate again' if age_s > GOOD_FOR_S else ''}"


def trend_words(slopes: Sequence[tuple[float, float]]) -> str:
    """The trend of an electrode's slope in words; empty for fewer than two values.

    slopes: (Unix seconds, fraction of the Nernst slope), oldest first.
    """
    if len(slopes) < 2:
        return ""
    (first_at, first), (last_at, last) = slopes[0], slopes[-1]
    days = (last_at - first_at) / 86_400
    if last > first - 0.02:
        return f"The slope has held since the first calibration {days:.0f} days earlier ({first:.1%}, now {last:.1%})."
    return f"The slope has fallen from {first:.1%} to {last:.1%} in {days:.0f} days: the probe is ageing."
