"""Calibrations applied as a cook is viewed: what changes, what stays, and when."""

import math
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from monitor.estimation import LN_NEED
from monitor.model import History, Reading, history_from_readings, make_event
from monitor.probes.calibration_records import (
    CalibrationRecord,
    FieldCheck,
    PhCalibration,
    Retraction,
    SensorConfig,
    records_from,
)
from monitor.probes.conversion import BEYOND_EMF, NO_COLD, conversion_traces, convert_history
from monitor.probes.ph import BEYOND_PROBE, TOO_HOT, ideal_v
from monitor.probes.ph_calibration import BufferPoint, ph_map
from monitor.probes.thermocouple import emf_mv
from monitor.probes.two_point_correction import BOILING, ICE, BathPoint
from monitor.protocol import parse_pack
from monitor.runtime.clock import JumpClock
from monitor.session import Cook, kitchen_model
from monitor.storage import CalibrationLog, Recorder

T0 = 1_773_480_000.0
DIPS = (BufferPoint("7.00", 25.0, 0.006), BufferPoint("10.01", 25.0, -0.168))
PH = PhCalibration("p", "cooker", "ph", T0 - 10, DIPS)
CHECK = FieldCheck("c", "cooker", "paste", T0 - 10, (BathPoint(ICE, 1.0), BathPoint(BOILING, 98.0, 1000.0)))


def history(*channels: tuple[str, str, Sequence[float | str]]) -> History:
    """One reading a second of each channel; a string is a fault."""
    return history_from_readings(
        [
            Reading(name, unit, T0 + i, T0 + i, None, v)
            if isinstance(v, str)
            else Reading(name, unit, T0 + i, T0 + i, v)
            for name, unit, values in channels
            for i, v in enumerate(values)
        ]
    )


def convert(raw: History, *records: CalibrationRecord) -> History:
    return convert_history(raw, records_from(list(records)), "cooker")


def test_without_calibrations_readings_are_unchanged() -> None:
    raw = history(("paste", "Cel", [94.0, "open circuit"]), ("ph", "V", [-0.1]))
    assert convert(raw) is raw
    assert conversion_traces(raw, records_from([]), "cooker")[-1].steps == (
        "not calibrated: shown as the probe's voltage",
    )


def test_probe_volts_are_converted_to_ph_and_the_raw_history_is_unchanged() -> None:
    raw = history(("rig:ph", "mV", [6.0, -168.0, "amplifier at its limit"]))
    seen = convert(raw, PH).series["rig:ph"]
    assert seen.unit == "pH" and seen.value[:2].tolist() == pytest.approx([7.0, 10.012], abs=1e-6)
    assert math.isnan(seen.value[2]) and seen.faults == ((2, "amplifier at its limit"),)
    assert raw.series["rig:ph"].unit == "mV" and raw.series["rig:ph"].value[1] == -168.0


def test_a_sample_is_compensated_by_its_own_thermometer() -> None:
    raw = history(("ph", "V", [0.006 + float(ideal_v(10.0, 40.0))]), ("sample", "Cel", [40.0]))
    at_40 = convert(raw, PH).series["ph"].value[0]
    slope = (0.006 + 0.168) / float(ideal_v(7.0, 25.0) - ideal_v(10.012, 25.0))
    assert at_40 == pytest.approx(7.0 + 3.0 / slope, abs=0.001)


def test_a_probe_in_hot_paste_gives_no_ph() -> None:
    raw = history(("ph", "V", [-0.168, -0.168]), ("sample", "Cel", [25.0, 93.0]))
    seen = convert(raw, PH).series["ph"]
    assert seen.value[0] == pytest.approx(10.012, abs=1e-6)
    assert math.isnan(seen.value[1]) and seen.faults == ((1, TOO_HOT),)


def test_millivolts_sent_as_volts_are_a_fault() -> None:
    seen = convert(history(("ph", "V", [-168.0])), PH).series["ph"]
    assert math.isnan(seen.value[0]) and seen.faults == ((0, BEYOND_PROBE),)


def test_a_ph_computed_by_the_sketch_is_unchanged() -> None:
    raw = history(("ph", "pH", [9.5]))
    assert convert(raw, PH) is raw


def test_a_two_point_correction_applies_to_kelvin_too() -> None:
    celsius = convert(history(("paste", "Cel", [1.0, 98.0])), CHECK).series["paste"]
    kelvin = convert(history(("paste", "K", [274.15, 371.15])), CHECK).series["paste"]
    assert celsius.unit == kelvin.unit == "Cel"
    # Water boils at 99.61 degC at 1000 hPa (steam tables).
    assert celsius.value.tolist() == pytest.approx([0.0, 99.606], abs=0.001)
    assert kelvin.value.tolist() == pytest.approx(celsius.value.tolist())


def test_converter_words_give_temperatures_cold_junctions_and_faults() -> None:
    raw = history(("max31855/paste", "count", [0x05F01E00, 0x00011901, 0, 0xFFFFFFFF]))
    seen = convert(raw)
    paste, cold = seen.by_role("paste"), seen.by_role("cold")
    assert paste is not None and cold is not None
    assert paste.unit == "Cel" and paste.value[0] == 95.0 and np.isnan(paste.value[1:]).all()
    assert [words.split(":")[0] for _, words in paste.faults] == ["open circuit", "all bits are 0", "all bits are 1"]
    assert cold.channel == "max31855/paste/cold" and cold.value[:2].tolist() == [30.0, 25.0]
    assert [i for i, _ in cold.faults] == [2, 3]
    assert seen.temperature_c("paste")[1][0] == 95.0
    assert raw.series["max31855/paste"].value[0] == 0x05F01E00


def test_the_linear_conversion_is_corrected_where_configured() -> None:
    fitting = SensorConfig("f", "cooker", "paste", T0 - 10, "K", 2, "MAX31855", True)
    # 95 degC with a cold junction of 30 reads 0.073 high: max31855_linearisation_error.csv.
    word = history(("max31855/paste", "count", [0x05F01E00]))
    assert convert(word, fitting).series["max31855/paste"].value[0] == pytest.approx(94.927, abs=0.003)
    sent = history(("paste", "Cel", [95.0, 95.0]), ("cold", "Cel", [30.0, "lost"]))
    assert convert(sent, fitting).series["paste"].value.tolist() == pytest.approx([94.927, 95.0], abs=0.003)
    alone = history(("paste", "Cel", [95.0]))
    assert convert(alone, fitting).series["paste"].value[0] == 95.0
    (chain,) = conversion_traces(alone, records_from([fitting]), "cooker")
    assert chain.steps == ("not mended: the cold junction is not sent",)
    assert chain.tolerance_c == pytest.approx(3.2, abs=0.05)


def test_an_emf_needs_a_sensor_configuration_and_a_cold_junction() -> None:
    emf = float(emf_mv("J", 95.0) - emf_mv("J", 20.0))
    raw = history(("paste", "mV", [emf, emf, 5000.0]), ("paste/cold", "Cel", [20.0, "lost", 20.0]))
    assert convert(raw) is raw
    seen = convert(raw, SensorConfig("f", "cooker", "paste", T0 - 10, "J")).series["paste"]
    assert seen.value[0] == pytest.approx(95.0) and np.isnan(seen.value[1:]).all()
    assert seen.faults == ((1, NO_COLD), (2, BEYOND_EMF))
    # Two minutes old, then older.
    late = history_from_readings(
        [
            Reading("cold", "Cel", T0, T0, 20.0),
            Reading("paste", "mV", T0 + 120, T0 + 120, emf),
            Reading("paste", "mV", T0 + 121, T0 + 121, emf),
        ]
    )
    seen = convert(late, SensorConfig("f", "cooker", "paste", T0 - 10, "J")).series["paste"]
    assert seen.value[0] == pytest.approx(95.0) and seen.faults == ((1, NO_COLD),)
    volts = history(("paste", "V", [emf / 1000]))
    assert convert(volts, SensorConfig("f", "cooker", "paste", T0 - 10, "J")).series["paste"].faults == ((0, NO_COLD),)


def test_the_conversion_trace_has_its_steps_and_tolerance() -> None:
    records = records_from([PH, CHECK, SensorConfig("f", "cooker", "paste", T0 - 20, "K", 1, "MAX31855", True)])
    raw = history(("max31855/paste", "count", [0x05F01E00]), ("ph", "V", [-0.1]))
    told = {chain.channel: chain for chain in conversion_traces(raw, records, "cooker")}
    paste, ph = told["max31855/paste"], told["ph"]
    assert (paste.raw_unit, paste.unit, paste.tolerance_c) == ("count", "Cel", 0.5)
    assert convert_history(raw, records, "cooker").series["max31855/paste"].tolerance_c == 0.5
    assert convert_history(raw, records_from([]), "cooker").series["max31855/paste"].tolerance_c is None
    assert paste.steps == (
        "decoded from MAX31855 words",
        "the MAX31855's straight line mended",
        "corrected by ice water and boiling water",
    )
    assert ph.steps == (
        "calibrated in 7.00, 10.01: good: slope 97.6%, +6.0 mV at pH 7",
        "sample taken to be at 25 °C",
        "calibrated today",
    )
    assert not ph.overdue and ph.due == PH.known + 7 * 86_400
    late = conversion_traces(
        history(("ph", "V", [-0.1])), records_from([PhCalibration("o", "cooker", "ph", T0 - 8e5, DIPS)]), "cooker"
    )
    assert late[0].overdue and late[0].steps[-1] == "calibrated 9 days ago: calibrate again"


@given(
    st.lists(st.floats(allow_nan=False, allow_infinity=False) | st.text(max_size=3), min_size=1, max_size=5),
    st.sampled_from(["paste", "ph", "cold", "max31855/paste", "b:max31856/wall", "max6675/ph", "paste/cold", "x"]),
    st.sampled_from(["Cel", "K", "V", "mV", "pH", "count", ""]),
)
@example([1e308, -1.7e308], "ph", "V")
@example([1e308, -1.7e308], "paste", "V")
@example([1e308, -1.7e308], "paste", "Cel")
@example([1e308, -1.7e308], "paste", "K")
def test_any_reading_is_converted_without_an_exception(values: list[float | str], name: str, unit: str) -> None:
    fittings = (
        SensorConfig("f", "cooker", "paste", T0 - 20, "K", 1, "MAX31855", True),
        SensorConfig("g", "cooker", "paste", T0, "K"),
    )
    for raw in (history((name, unit, values)), history((name, unit, values), ("rig/cold", "Cel", [20.0, "lost"]))):
        for fitting in fittings:
            seen = convert(raw, PH, CHECK, fitting)
            assert len(seen.series[name]) == len(values)
            assert not np.isinf(seen.series[name].value).any()
            assert all(math.isnan(seen.series[name].value[i]) for i, _ in seen.series[name].faults)


def test_a_cook_is_viewed_by_the_calibration_known_at_the_time_and_never_rewritten(tmp_path: Path) -> None:
    clock = JumpClock(T0)
    recorder = Recorder.create(tmp_path, clock.anchor(), rig="cooker", source="test")
    for second in range(4):
        recorder.add_pack(parse_pack('[{"n":"ph","u":"V","v":-0.168}]', T0 + 100 * second))
        recorder.add_pack(parse_pack('[{"n":"paste","u":"Cel","v":98.0}]', T0 + 100 * second))
    recorder.close()
    before = recorder.path.read_bytes()
    calibration_log = CalibrationLog(tmp_path)
    other = (BufferPoint("7.00", 25.0, 0.006), BufferPoint("10.01", 25.0, -0.160))
    calibration_log.add(PhCalibration("1", "cooker", "ph", T0 + 50, DIPS))
    calibration_log.add(PhCalibration("2", "cooker", "ph", T0 + 150, other))
    calibration_log.add(FieldCheck("3", "cooker", "paste", T0 + 250, CHECK.points))
    calibration_log.add(Retraction("4", "3", T0 + 299))
    cook = Cook(recorder.path, lambda anchor: clock)
    told = [
        (h.series["ph"].unit, round(float(h.series["ph"].value[0]), 2), round(float(h.series["paste"].value[0]), 1))
        for h in (cook.history(T0 + at) for at in (40, 60, 200, 260, 300))
    ]
    by_other = round(float(ph_map(other).ph(-0.168, 25.0)), 2)
    assert told == [
        ("V", -0.17, 98.0),
        ("pH", 10.01, 98.0),
        ("pH", by_other, 98.0),
        ("pH", by_other, 99.6),
        ("pH", by_other, 98.0),
    ]
    assert cook.raw().series["ph"].unit == "V" and recorder.path.read_bytes() == before
    assert [chain.channel for chain in cook.conversion_traces()] == ["paste", "ph"]


def test_a_calibration_made_while_the_cook_runs_reaches_the_estimate(tmp_path: Path) -> None:
    clock = JumpClock(T0)
    recorder = Recorder.create(tmp_path, clock.anchor(), rig="cooker", source="test")
    for minute in range(60):
        recorder.add_pack(parse_pack('[{"n":"paste","u":"Cel","v":90.0}]', T0 + 60 * minute))
    recorder.commit()
    cook = Cook(recorder.path, lambda anchor: clock)
    clock.wait_until(T0 + 3600)
    assert cook.outlook().estimate.temperature_c == pytest.approx(90.0)
    before = cook.outlook().estimate.equivalent_s
    CalibrationLog(tmp_path).add(FieldCheck("3", "cooker", "paste", T0 + 3600, (BathPoint(BOILING, 96.6, 1000.0),)))
    recorder.add_pack(parse_pack('[{"n":"paste","u":"Cel","v":90.0}]', T0 + 3605))
    recorder.close()
    clock.wait_until(T0 + 3610)
    after = cook.outlook().estimate
    assert after.temperature_c == pytest.approx(93.0, abs=0.01)
    # Three degrees more all along: some 15 % more done at 50 kJ/mol.
    assert before is not None and after.equivalent_s is not None and 1.10 < after.equivalent_s / before < 1.25


def test_later_cooks_learn_from_corrected_temperatures(tmp_path: Path) -> None:
    def taught(folder: Path, *records: CalibrationRecord) -> float:
        recorder = Recorder.create(folder, JumpClock(T0).anchor(), rig="cooker", source="test")
        for minute in range(180):
            recorder.add_pack(parse_pack('[{"n":"paste","u":"Cel","v":90.0}]', T0 + 60 * minute))
        for at, kind, fields in ((0, "lid on", {}), (10_700, "checked", {"result": "clear"}), (10_740, "finished", {})):
            recorder.add_event(make_event(kind, kind, T0 + at, T0 + at, fields))
        recorder.finish()
        for record in records:
            CalibrationLog(folder).add(record)
        weight = kitchen_model(folder, T0 + 20_000).prior().weight.sum(axis=(1, 2, 3))
        return math.exp(float(weight @ LN_NEED))

    plain = taught(tmp_path / "plain")
    # Four degrees more than was read: the paste needed more equivalent time than it seemed.
    corrected = taught(tmp_path / "corrected", FieldCheck("c", "cooker", "paste", T0, (BathPoint(ICE, -4.0),)))
    later = taught(tmp_path / "later", FieldCheck("c", "cooker", "paste", T0 + 15_000, (BathPoint(ICE, -4.0),)))
    assert corrected > 1.03 * plain and later == pytest.approx(plain)
