"""A calibration step by step on the command line: the next bath, when it is stable, and what it says of the probe."""

import math
import uuid
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from monitor.calibration.sampling import ChannelSample, LiveChannel, UnsteadyReadingError
from monitor.model import local
from monitor.probes import (
    BEYOND_PROBE,
    BOILING,
    ICE,
    MOST_V,
    ROOM_C,
    STEADY_C,
    STEADY_PH,
    BathPoint,
    BufferPoint,
    CalibrationRecord,
    CalibrationRecords,
    FieldCheck,
    PhCalibration,
    SensorConfig,
    StabilityDetector,
    StabilityState,
    age_words,
    chain_tolerance_c,
    electrode_health,
    field_correction,
    find_buffer,
    nernst_v,
    ph_map,
    sample_refusal,
    trend_words,
)
from monitor.runtime import MonitorError

VOLTS = {"V": 1.0, "mV": 0.001}
CELSIUS = {"Cel": 1.0}


class CalibrationUsageError(MonitorError):
    """Wrong arguments of a calibration. why: one sentence."""

    exit_status = 2

    def __init__(self, why: str) -> None:
        self.why = why
        super().__init__(why)


@dataclass(frozen=True, slots=True)
class Prompt:
    """The person who calibrates.

    ask: shows a question and returns the answer; say: shows a line; on_sample: shows a reading.
    """

    ask: Callable[[str], str]
    say: Callable[[str], None]
    on_sample: Callable[[ChannelSample, StabilityState], None]

    def number(self, question: str) -> float:
        """Asks until the answer is a finite number."""
        while True:
            answer = self.ask(question).strip().replace(",", ".")
            try:
                value = float(answer)
            except ValueError:
                self.say(f"“{answer}” is not a number; give degrees Celsius such as 24.5.")
                continue
            if math.isfinite(value):
                return value


def ph_stability_detector(temperature_c: float, steady_ph: float = STEADY_PH) -> StabilityDetector:
    """A stability detector for the voltage, V, of a pH electrode.

    Parameters
    ----------
    temperature_c : of the buffer or sample, degC, for the slope.
    steady_ph : the greatest change in half a minute, in pH.
    """
    return StabilityDetector(steady_ph, "pH", per=1.0 / float(nernst_v(temperature_c)))


def read_buffers(
    live: LiveChannel, buffers: Sequence[str], temperature_c: float | None, prompt: Prompt, steady_ph: float = STEADY_PH
) -> tuple[BufferPoint, ...]:
    """One stable voltage in each buffer.

    Parameters
    ----------
    buffers : names of the buffers, in the order of measurement.
    temperature_c : of all buffers, degC; None asks at each.
    steady_ph : as in ``ph_stability_detector``.

    Raises UnsteadyReadingError when a reading does not become stable, ValueError when readings contradict each other.
    """
    points: list[BufferPoint] = []
    for name in buffers:
        buffer = find_buffer(name)
        prompt.ask(f"Rinse, dab dry, dip into the {buffer.name} buffer and stir; then press Enter. ")
        at_c = prompt.number("The buffer's temperature in °C: ") if temperature_c is None else temperature_c
        expected = buffer.ph_at(at_c)
        live.discard_pending()
        steady = live.wait_until_stable(ph_stability_detector(at_c, steady_ph), VOLTS, prompt.on_sample)
        points.append(BufferPoint(buffer.name, at_c, round(steady.value, 6)))
        prompt.say(f"Steady: {steady.value * 1000:+z.1f} mV in pH {expected:.2f} at {at_c:g} °C.")
        if len(points) > 1:
            # A contradiction is reported before the next reading, not after the last.
            ph_map(points)
    return tuple(points)


def ph_calibration(rig: str, channel: str, known: float, points: Sequence[BufferPoint], probe: str) -> PhCalibration:
    """The record of a pH calibration. known: Unix seconds. Raises ValueError as ``ph_map`` does."""
    ph_map(points)
    return PhCalibration(str(uuid.uuid4()), rig, channel, known, tuple(points), probe)


def read_baths(
    live: LiveChannel, baths: Sequence[str], pressure_hpa: float | None, prompt: Prompt
) -> tuple[BathPoint, ...]:
    """One stable reading in each bath (``ICE``, ``BOILING``); pressure_hpa: of the boiling water.

    Raises as ``read_buffers``.
    """
    points: list[BathPoint] = []
    for bath in baths:
        how = (
            "Fill a cup with crushed ice, top it up with water, stir, and hold the tip in its middle"
            if bath == ICE
            else "Hold the tip in water at a rolling boil, off the pot's bottom, hands out of the steam"
        )
        prompt.ask(f"{how}; then press Enter. ")
        live.discard_pending()
        steady = live.wait_until_stable(StabilityDetector(STEADY_C, "°C"), CELSIUS, prompt.on_sample)
        point = BathPoint(bath, round(steady.value, 3), pressure_hpa if bath == BOILING else None)
        prompt.say(f"Steady: {steady.value:.2f} °C in {bath} of {point.true_c():.2f} °C.")
        points.append(point)
    return tuple(points)


def field_check(rig: str, channel: str, known: float, points: Sequence[BathPoint]) -> FieldCheck:
    """The record of a field check. known: Unix seconds. Raises ValueError as ``field_correction`` does."""
    field_correction(points)
    return FieldCheck(str(uuid.uuid4()), rig, channel, known, tuple(points))


def read_sample(
    live: LiveChannel,
    calibration: PhCalibration | None,
    percent: float,
    temperature_c: float,
    prompt: Prompt,
    steady_ph: float = STEADY_PH,
) -> float:
    """The stable pH of a diluted, cooled sample.

    Parameters
    ----------
    percent : paste in the sample, per cent by mass.
    temperature_c : of the sample, degC.
    steady_ph : as in ``ph_stability_detector``.

    Raises UnsteadyReadingError, also where a pH of this sample would be unreliable.
    """
    known = require_calibration(live.channel, calibration, percent, temperature_c)
    prompt.ask("Rinse, dip into the sample and stir; then press Enter. ")
    live.discard_pending()
    steady = live.wait_until_stable(ph_stability_detector(temperature_c, steady_ph), VOLTS, prompt.on_sample)
    return sample_ph(known, steady.value, temperature_c)


def require_calibration(
    channel: str, calibration: PhCalibration | None, percent: float, temperature_c: float
) -> PhCalibration:
    """The calibration, where a pH of this sample would be reliable. Raises as ``read_sample`` does."""
    if not (0.0 < percent <= 100.0 and -5.0 <= temperature_c <= 110.0):
        raise CalibrationUsageError(
            f"The sample is said to be {percent:g} % at {temperature_c:g} °C: give per cent of paste and degrees "
            "Celsius."
        )
    refusal = sample_refusal(percent, temperature_c)
    if refusal is not None:
        raise UnsteadyReadingError(refusal)
    if calibration is None:
        raise UnsteadyReadingError(
            f"The channel {channel} is not calibrated yet: run calibrate ph first, or tap Calibrate on the probe page."
        )
    return calibration


def sample_ph(calibration: PhCalibration, volts: float, temperature_c: float) -> float:
    """The pH of a stable voltage, V. Raises UnsteadyReadingError for one that no electrode gives."""
    if abs(volts) > MOST_V:
        raise UnsteadyReadingError(f"It reads {volts:.4g} V: {BEYOND_PROBE}")
    return float(ph_map(calibration.points).ph(volts, temperature_c))


def calibration_text(record: CalibrationRecord) -> str:
    """A calibration record in one sentence."""
    if isinstance(record, PhCalibration):
        return electrode_health(record.points).words
    if isinstance(record, SensorConfig):
        tolerance_c = chain_tolerance_c(record.letter, record.tolerance_class, record.converter or None, 95.0)
        chip = record.converter or "emf sent by the sketch"
        line = ", straight line mended" if record.linearise else ""
        return (
            f"Type {record.letter}, class {record.tolerance_class}, {chip}{line}: within {tolerance_c:.1f} °C at 95 °C "
            "until checked in ice and boiling water."
        )
    correction = field_correction(record.points)
    changes = ", ".join(
        f"{correction.gain * at + correction.offset_c - at:+z.2f} °C at {at:g} °C" for at in (ROOM_C, 95.0)
    )
    return f"Checked in {' and '.join(point.bath for point in record.points)}: readings are changed by {changes}."


def calibration_list(records: CalibrationRecords, rig: str, now: float) -> list[str]:
    """Every record of a rig, one line each, and the trend of each pH electrode; replaced records say so.

    now: Unix seconds.
    """
    lines = []
    for record in records.all:
        if record.rig != rig:
            continue
        gone = records.retracted.get(record.uid, math.inf) <= now
        text = "taken back" if gone else calibration_text(record)
        if isinstance(record, FieldCheck) and records.field_check(rig, record.channel, now) != record and not gone:
            text += " No longer in use: a later check or fitting took its place."
        if isinstance(record, PhCalibration) and records.latest(PhCalibration, rig, record.channel, now) == record:
            text += f" {age_words(now - record.known).capitalize()}."
        probe = f" “{record.probe}”" if isinstance(record, PhCalibration) and record.probe else ""
        lines.append(f"{record.uid[:8]}  {local(record.known):%Y-%m-%d %H:%M}  {record.channel}{probe}: {text}")
    for channel in dict.fromkeys(f.channel for f in records.all if isinstance(f, PhCalibration) and f.rig == rig):
        history = records.history(PhCalibration, rig, channel, now)
        # A new probe begins a new history.
        own = [f for f in history if f.probe == history[-1].probe]
        slopes = [(f.known, found.slope) for f in own if not (found := electrode_health(f.points)).slope_assumed]
        if trend := trend_words(slopes):
            lines.append(f"{channel}: {trend}")
    return lines
