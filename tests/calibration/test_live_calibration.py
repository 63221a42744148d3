"""Led through a calibration: by a live signal of an invented electrode, and through the command."""

import io
import math
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import redirect_stderr, redirect_stdout, suppress
from pathlib import Path

import pytest

from monitor.calibration import (
    LiveChannel,
    Prompt,
    SourceHistory,
    UnsteadyReadingError,
    calibration_list,
    calibration_text,
    ph_calibration,
    read_baths,
    read_buffers,
    read_sample,
)
from monitor.calibration.session import VOLTS, ph_stability_detector
from monitor.cli import main
from monitor.model import History, Reading, history_from_readings
from monitor.probes.calibration_records import (
    CalibrationRecords,
    FieldCheck,
    PhCalibration,
    Retraction,
    SensorConfig,
    records_from,
)
from monitor.probes.ph_calibration import BufferPoint, electrode_health
from monitor.probes.two_point_correction import BOILING, ICE
from monitor.protocol import parse_pack
from monitor.runtime import SystemClock
from monitor.runtime.clock import JumpClock
from monitor.session import Cook
from monitor.simulator import SerialTransport
from monitor.simulator.sensors import ElectrodeTraits, electrode_v
from monitor.sources import open_source, parse_source_url
from monitor.storage import CalibrationLog, Recorder

ROOT = Path(__file__).resolve().parents[2]
T0 = 1_773_480_000.0
TRAITS = ElectrodeTraits(offset_v=0.008, slope=0.965)


class Bench:
    """A bench in virtual time: whatever is dipped into ``bath`` is read once a second."""

    def __init__(self, channel: str = "ph", unit: str = "V") -> None:
        self.clock = JumpClock(T0)
        self.bath: Callable[[float], float | str] = lambda _: 0.05
        self.channel, self.unit = channel, unit
        self.readings: list[Reading] = []
        self.silent = False
        self._next = T0
        self.answers: list[str] = []
        self.lines: list[str] = []
        self.signals: Iterator[Callable[[float], float | str]] = iter(())

    def look(self) -> History:
        while self._next <= self.clock.now():
            value = self.bath(self._next)
            text = isinstance(value, str)
            if not self.silent:
                number, words = (None, str(value)) if text else (float(value), None)
                self.readings.append(Reading(self.channel, self.unit, self._next, self._next, number, words))
            self._next += 1.0
        return history_from_readings(self.readings)

    def person(self) -> Prompt:
        def ask(question: str) -> str:
            self.lines.append(question)
            if "Enter" in question:
                # The electrode begins where it was and settles within a minute.
                target, before, begun = next(self.signals), self.bath, self.clock.now()

                def settling(moment: float) -> float | str:
                    goal, start = target(moment), before(begun)
                    if isinstance(goal, str) or isinstance(start, str):
                        return goal
                    return goal + (start - goal) * math.exp(-(moment - begun) / 10.0)

                self.bath = settling
                self.clock.wait_until(begun + 3.0)
                return ""
            return self.answers.pop(0)

        return Prompt(ask, self.lines.append, lambda sample, state: None)

    def live(self, records: CalibrationRecords | None = None) -> LiveChannel:
        return LiveChannel(self.look, self.clock, self.channel, records or CalibrationRecords(), "cooker")


def constant_signal(value: float | str) -> Callable[[float], float | str]:
    return lambda _: value


def test_two_buffers_give_the_electrode_that_was_dipped() -> None:
    bench = Bench()
    # NBS and IUPAC values of the buffers at 22 degC, between the rows of 20 and 25 degC.
    bench.signals = iter(
        [constant_signal(electrode_v(TRAITS, 7.012, 22.0)), constant_signal(electrode_v(TRAITS, 10.042, 22.0))]
    )
    bench.answers = ["warm", "22", "22,0"]
    points = read_buffers(bench.live(), ["7.00", "10"], None, bench.person())
    record = ph_calibration("cooker", "ph", bench.clock.now(), points, "")
    assert [p.temperature_c for p in points] == [22.0, 22.0]
    assert "is not a number" in "".join(bench.lines)
    assert calibration_text(record).startswith("The probe is good: slope 96.5%, +8.")
    # What a settling electrode still owed when it was called steady: a fifth of a millivolt at most.
    assert electrode_health(points).offset_v == pytest.approx(TRAITS.offset_v, abs=0.0002)
    assert electrode_health(points).slope == pytest.approx(TRAITS.slope, abs=0.002)
    # Waited for settling, and not much longer.
    assert 100 < bench.clock.now() - T0 < 200


def test_swapped_buffers_are_reported_before_a_third_reading() -> None:
    bench = Bench()
    volts = [electrode_v(TRAITS, ph, 25.0) for ph in (10.0, 7.0, 4.0)]
    bench.signals = iter([constant_signal(value) for value in volts])
    with pytest.raises(ValueError, match="look swapped"):
        read_buffers(bench.live(), ["7.00", "10.01", "4.01"], 25.0, bench.person())
    assert next(bench.signals)(0.0) == volts[2]


@pytest.mark.parametrize(
    ("dip", "unit", "says"),
    [
        (lambda t: 0.1 + 0.00006 * (t - T0), "V", "still drifts by"),
        (constant_signal("open circuit"), "V", "“open circuit”"),
        (constant_signal(9.5), "pH", "comes in pH, and V or mV is needed"),
        (constant_signal(0.0), "V", "exactly 0"),
    ],
)
def test_a_probe_that_cannot_become_stable_ends_in_one_sentence(
    dip: Callable[[float], float | str], unit: str, says: str
) -> None:
    bench = Bench(unit=unit)
    bench.bath = dip
    bench.signals = iter([dip])
    with pytest.raises(UnsteadyReadingError, match=says):
        read_buffers(bench.live(), ["7.00"], 25.0, bench.person())


def test_the_stability_limit_can_be_set() -> None:
    def drifting(moment: float) -> float:
        return 0.006 + 0.03 * 0.0592 / 30 * (moment - T0)

    for steady_ph, settles in ((0.05, True), (0.02, False)):
        bench = Bench()
        bench.bath, bench.signals = drifting, iter([drifting])
        try:
            read_buffers(bench.live(), ["7.00"], 25.0, bench.person(), steady_ph)
            assert settles
        except UnsteadyReadingError as error:
            assert not settles and "drifts by 0.03" in error.why


def test_a_silent_channel_is_reported() -> None:
    bench = Bench()
    bench.silent = True
    bench.signals = iter([constant_signal(0.1)])
    with pytest.raises(UnsteadyReadingError, match="No reading of the channel ph came in 20 s"):
        read_buffers(bench.live(), ["7.00"], 25.0, bench.person())


def test_a_thermocouple_that_sends_words_is_checked_in_two_baths() -> None:
    bench = Bench("max31855/paste", "count")
    words = [0x00141900, 0x06241900]  # 1.25 and 98.25 degC beside 25 degC, by the bits of the data sheet
    bench.signals = iter([constant_signal(float(word)) for word in words])
    bench.bath = constant_signal(float(words[0]))
    live = LiveChannel(bench.look, bench.clock, "paste", CalibrationRecords(), "cooker")

    def ask(question: str) -> str:
        bench.bath = next(bench.signals)
        return ""

    person = Prompt(ask, bench.lines.append, lambda sample, state: None)
    points = read_baths(live, [ICE, BOILING], 1000.0, person)
    assert [point.reads_c for point in points] == [1.25, 98.25]
    assert [point.pressure_hpa for point in points] == [None, 1000.0]


def test_a_sample_is_read_by_the_calibration_and_paste_is_refused() -> None:
    bench = Bench()
    bench.signals = iter([constant_signal(electrode_v(TRAITS, 10.2, 25.0))])
    calibration = ph_calibration("cooker", "ph", T0, (dip(7.0, "7.00"), dip(10.012, "10.01")), "")
    assert read_sample(bench.live(), calibration, 1.0, 25.0, bench.person()) == pytest.approx(10.2, abs=0.02)
    with pytest.raises(UnsteadyReadingError, match="At 93 °C a glass probe tells little"):
        read_sample(bench.live(), calibration, 1.0, 93.0, bench.person())
    with pytest.raises(UnsteadyReadingError, match="run calibrate ph first"):
        read_sample(bench.live(), None, 1.0, 25.0, bench.person())


def dip(ph: float, name: str) -> BufferPoint:
    return BufferPoint(name, 25.0, electrode_v(TRAITS, ph, 25.0))


def test_the_list_shows_age_trend_and_replaced_records() -> None:
    old = PhCalibration("11111111", "cooker", "ph", T0, (dip(7.0, "7.00"), dip(10.012, "10.01")))
    weaker = tuple(
        BufferPoint(point.buffer, point.temperature_c, 0.008 + 0.93 * (point.voltage_v - 0.008)) for point in old.points
    )
    new = PhCalibration("22222222", "cooker", "ph", T0 + 40 * 86_400, weaker)
    wrong = SensorConfig("33333333", "cooker", "paste", T0, "J")
    records = records_from([old, new, wrong, Retraction("4", "33333333", T0 + 5)])
    lines = calibration_list(records, "cooker", T0 + 50 * 86_400)
    assert "taken back" in lines[1] and "calibrate again" in lines[2]
    assert lines[3] == "ph: The slope has fallen from 96.5% to 89.7% in 40 days: the probe is ageing."
    assert calibration_list(records, "other", T0) == []


def test_from_a_real_serial_port(tmp_path: Path) -> None:
    device, clock = SerialTransport(), JumpClock(T0)
    source = open_source(parse_source_url(f"serial://{device.path}"), clock)
    try:
        live = LiveChannel(SourceHistory(source, clock), clock, "ph", CalibrationRecords(), "cooker")
        for second in range(40):
            device.send([{"n": "ph", "u": "mV", "v": -160.0 + 0.01 * (second % 3), "t": T0 + second}])
        state = live.wait_until_stable(ph_stability_detector(25.0), VOLTS, lambda sample, state: None)
        assert state.value == pytest.approx(-0.16, abs=0.0001)
    finally:
        source.close()
        device.close()


def command(*words: str, answers: str = "") -> subprocess.CompletedProcess[str]:
    """``kettleside calibrate`` in this process, its input and output caught."""
    lines, wrong = io.StringIO(), io.StringIO()
    with pytest.MonkeyPatch.context() as patch, redirect_stdout(lines), redirect_stderr(wrong):
        patch.setattr(sys, "stdin", io.StringIO(answers))
        try:
            status = main(["calibrate", *words])
        except SystemExit as ended:
            status = int(ended.code or 0)
    return subprocess.CompletedProcess(words, status, lines.getvalue(), wrong.getvalue())


def test_the_command_saves_lists_and_retracts(tmp_path: Path) -> None:
    kept = command(
        "ph",
        "--recordings",
        str(tmp_path),
        "--point",
        "7.00,24.5,0.0061",
        "--point",
        "10,24.5,-0.168",
        "--probe",
        "new",
    )
    assert kept.returncode == 0 and kept.stdout.startswith("The probe is good: slope 97.8%, +6.2 mV at pH 7.")
    checked = command(
        "thermocouple", "--recordings", str(tmp_path), "--ice", "0.5", "--boiling", "98.2", "--pressure", "985"
    )
    assert checked.returncode == 0 and "+0.94 °C at 95 °C" in checked.stdout
    fitted = command("fitting", "--recordings", str(tmp_path), "--channel", "wall", "--type", "J", "--class", "1")
    assert fitted.returncode == 0 and "within 1.5 °C" in fitted.stdout
    listed = command("list", "--recordings", str(tmp_path)).stdout.splitlines()
    assert len(listed) == 3 and "ph “new”" in listed[0] and listed[0].endswith("Calibrated today.")
    gone = command("take-back", "--recordings", str(tmp_path), listed[1][:8])
    assert gone.returncode == 0 and "taken back" in command("list", "--recordings", str(tmp_path)).stdout
    records = CalibrationLog(tmp_path).facts()
    assert records.latest(FieldCheck, "cooker", "paste") is None
    fitting = records.latest(SensorConfig, "cooker", "wall")
    assert fitting is not None and (fitting.letter, fitting.tolerance_class, fitting.converter) == ("J", 1, "")


@pytest.mark.parametrize(
    ("words", "status", "says"),
    [
        (("ph", "--point", "7.00,25,-0.168", "--point", "10.01,25,0.006"), 1, "look swapped"),
        (("ph", "--point", "7.00,25,0.006", "--point", "7.01,25,0.006"), 1, "measured twice"),
        (("ph", "--point", "7.00,25,0.006", "--point", "10.01,25,-0.065"), 1, "slope is 40%"),
        (("ph", "--point", "7.00,25,6", "--point", "10.01,25,-168"), 1, "look like millivolts"),
        (("ph", "--point", "7.00;25"), 2, "each is BUFFER,C,VOLTS"),
        (("ph", "--point", "5.5,25,0"), 2, "not in the table"),
        (("ph", "--buffers", "5.5"), 1, "not in the table"),
        (("ph",), 1, "No cook of cooker is running"),
        (("ph", "--source", "sreial:///dev/x"), 2, "nearest is 'serial'"),
        (("thermocouple", "--boiling", "99"), 2, "give --pressure"),
        (("thermocouple", "--boiling", "99", "--pressure", "29.9"), 1, "from 500 to 1100"),
        (("thermocouple", "--ice", "21"), 1, "too far off"),
        (("fitting", "--converter", "MAX6675", "--linearise"), 1, "MAX31855 alone"),
        (("sample", "--temperature", "93"), 1, "No cook of cooker is running"),
        (("ph", "--steady", "0"), 2, "above 0 and at most 1"),
        (("take-back", "zz"), 2, "0 calibrations of cooker begin with 'zz'"),
        ((), 2, "WHAT"),
    ],
)
def test_an_error_is_one_sentence_and_nothing_is_saved(
    tmp_path: Path, words: tuple[str, ...], status: int, says: str
) -> None:
    done = command(*words, *(("--recordings", str(tmp_path / "cooks")) if words else ()))
    assert done.returncode == status
    assert says in done.stderr and done.stderr.count("\n") == 1 and "Traceback" not in done.stderr
    assert not (tmp_path / "cooks").exists()


def test_a_sample_is_read_through_the_command_and_logged_with_the_running_cook(tmp_path: Path) -> None:
    clock = SystemClock()
    recorder = Recorder.create(tmp_path, clock.anchor(), rig="cooker", source="test")
    moment = clock.now()
    recorder.add_pack(parse_pack('[{"n":"ph","u":"V","v":-0.168}]', moment))
    recorder.commit()
    command("ph", "--recordings", str(tmp_path), "--point", "7.00,25,0.006", "--point", "10.01,25,-0.168")
    nobody = command("sample", "--recordings", str(tmp_path))
    assert nobody.returncode == 2 and "Nobody answers" in nobody.stderr
    refused = command("sample", "--recordings", str(tmp_path), "--temperature", "93", answers="\n")
    assert refused.returncode == 1 and "At 93 °C" in refused.stderr
    with subprocess.Popen(
        [sys.executable, "-m", "monitor.cli", "calibrate", "sample", "--percent", "2", "--recordings", str(tmp_path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        cwd=ROOT,
    ) as dipped:
        assert dipped.stdin is not None and dipped.stdout is not None
        dipped.stdin.write("\n")
        dipped.stdin.close()
        # Readings that come by a clock of their own, so that half a minute of them is there in an instant.
        for _ in range(100):
            for _ in range(40):
                moment += 1.0
                recorder.add_pack(parse_pack(f'[{{"n":"ph","u":"V","v":-0.168,"t":{moment}}}]', moment))
            recorder.commit()
            with suppress(subprocess.TimeoutExpired):
                dipped.wait(0.2)
                break
        lines = dipped.stdout.read()
    recorder.close()
    assert "pH 10.01 in 2 % at 25 °C." in lines and "Logged with" in lines
    (event,) = Cook(recorder.path).history().events
    assert event.kind == "ph read"
    assert dict(event.fields) == {"ph": pytest.approx(10.012), "sample_percent": 2.0, "temperature_c": 25.0}
