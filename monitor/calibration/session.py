"""Leads through a calibration: which bath next, when it is steady, and what it says of the probe."""

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
    """Wrong words on the command line. why: one sentence."""

    exit_status = 2

    def __init__(self, why: str) -> None:
        self.why = why
        super().__init__(why)


@dataclass(frozen=True, slots=True)
class Prompt:
    """Who dips. ask: shows a question and gives the answer; say: shows a line; told: shows each reading as it comes."""

    ask: Callable[[str], str]
    say: Callable[[str], None]
    on_sample: Callable[[ChannelSample, StabilityState], None]

    def number(self, question: str) -> float:
        """An answer that is a number; asks again until it is one."""
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
    """A settler of volts at a temperature in degC; steady_ph: the most it may change in half a minute, in pH."""
    return StabilityDetector(steady_ph, "pH", per=1.0 / float(nernst_v(temperature_c)))


def read_buffers(
    live: LiveChannel, buffers: Sequence[str], temperature_c: float | None, prompt: Prompt, steady_ph: float = STEADY_PH
) -> tuple[BufferPoint, ...]:
    """One settled dip a buffer.

    temperature_c: of all buffers; asked for at each where it is None. steady_ph: as ``ph_stability_detector`` has it.
    Raises UnsteadyReadingError when a dip will not settle, ValueError with one sentence when dips contradict each
    other.
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
            # What contradicts itself is said before the next dip, not after the last.
            ph_map(points)
    return tuple(points)


def ph_calibration(rig: str, channel: str, known: float, points: Sequence[BufferPoint], probe: str) -> PhCalibration:
    """The fact that dips become. known: Unix seconds. Raises ValueError as ``ph_map`` does."""
    ph_map(points)
    return PhCalibration(str(uuid.uuid4()), rig, channel, known, tuple(points), probe)


def read_baths(
    live: LiveChannel, baths: Sequence[str], pressure_hpa: float | None, prompt: Prompt
) -> tuple[BathPoint, ...]:
    """One settled dip a bath (``ICE``, ``BOILING``). Raises as ``read_buffers`` does."""
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
    """The fact that baths become. known: Unix seconds. Raises ValueError as ``field_correction`` does."""
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
    """The settled pH of a diluted, cooled sample.

    percent: of paste in it. steady_ph: as ``ph_stability_detector`` has it.
    Raises UnsteadyReadingError, with a plain refusal where a pH would tell little.
    """
    known = require_calibration(live.channel, calibration, percent, temperature_c)
    prompt.ask("Rinse, dip into the sample and stir; then press Enter. ")
    live.discard_pending()
    steady = live.wait_until_stable(ph_stability_detector(temperature_c, steady_ph), VOLTS, prompt.on_sample)
    return sample_ph(known, steady.value, temperature_c)


def require_calibration(
    channel: str, calibration: PhCalibration | None, percent: float, temperature_c: float
) -> PhCalibration:
    """The calibration, where a reading of this sample is worth making. Raises as ``read_sample`` does."""
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
    """The pH of a settled voltage. Raises DippingError for one that no probe gives."""
    if abs(volts) > MOST_V:
        raise UnsteadyReadingError(f"It reads {volts:.4g} V: {BEYOND_PROBE}")
    return float(ph_map(calibration.points).ph(volts, temperature_c))


def calibration_text(record: CalibrationRecord) -> str:
    """What a fact says, in one sentence."""
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
    """Every fact of a rig, one line each, and the trend of each pH probe; what no longer holds says so.

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
