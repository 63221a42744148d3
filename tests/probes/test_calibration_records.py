"""Calibrations as facts, and the file they are kept in."""

import json
import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.probes.calibration_records import (
    CalibrationRecord,
    FieldCheck,
    PhCalibration,
    Retraction,
    SensorConfig,
    from_json,
    records_from,
    to_json,
)
from monitor.probes.ph_calibration import BufferPoint
from monitor.probes.two_point_correction import BOILING, ICE, BathPoint
from monitor.storage import CalibrationError, CalibrationLog

PH = PhCalibration(
    "a1", "cooker", "ph", 100.0, (BufferPoint("7.00", 24.5, 0.0061), BufferPoint("10.01", 24.5, -0.168)), "new one"
)
CHECK = FieldCheck("b2", "cooker", "paste", 200.0, (BathPoint(ICE, 0.5), BathPoint(BOILING, 98.7, 985.0)))
FITTING = SensorConfig("c3", "cooker", "paste", 50.0, "K", 1, "MAX31855", True)
ALL: list[CalibrationRecord | Retraction] = [PH, CHECK, FITTING, Retraction("d4", "a1", 300.0)]


@pytest.mark.parametrize("entry", ALL)
def test_every_kind_of_record_survives_its_line(entry: CalibrationRecord | Retraction) -> None:
    line = to_json(entry)
    assert "\n" not in line and from_json(line) == entry


@given(st.text() | st.recursive(st.none() | st.booleans() | st.floats() | st.text(), st.lists).map(json.dumps))
def test_any_other_line_raises_a_value_error(text: str) -> None:
    with pytest.raises(ValueError):
        from_json(text)


@given(
    st.sampled_from(ALL),
    st.sampled_from(["kind", "uid", "rig", "known", "points", "letter", "tolerance_class", "linearise", "of"]),
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5) | st.lists(st.integers(), max_size=2),
)
def test_a_changed_field_gives_a_record_or_a_value_error(
    entry: CalibrationRecord | Retraction, key: str, value: object
) -> None:
    given = {**json.loads(to_json(entry)), key: value}
    try:
        assert from_json(json.dumps(given)).kind == given["kind"]
    except ValueError as error:
        assert "\n" not in str(error)


def test_an_implausible_record_is_not_stored(tmp_path: Path) -> None:
    swapped = PhCalibration("e", "cooker", "ph", 1.0, (BufferPoint("7.00", 25, -0.17), BufferPoint("10.01", 25, 0.0)))
    for wrong in (
        swapped,
        SensorConfig("f", "cooker", "paste", 1.0, "E"),
        SensorConfig("g", "cooker", "paste", 1.0, "K", 2, "MAX6675", True),
        SensorConfig("h", "cooker", "paste", 1.0, "K", 2, "MAX1"),
    ):
        with pytest.raises(ValueError):
            CalibrationLog(tmp_path).add(wrong)
    assert not list(tmp_path.iterdir())


def test_the_latest_record_known_at_a_moment_is_in_force() -> None:
    later = PhCalibration("z9", "cooker", "ph", 250.0, PH.points)
    records = records_from([later, *ALL])
    told = [records.latest(PhCalibration, "cooker", "ph", as_of) for as_of in (99.0, 100.0, 249.0, 250.0, 400.0)]
    assert told == [None, PH, PH, later, later]
    assert records.history(PhCalibration, "cooker", "ph", 299.0) == [PH, later]
    assert records.history(PhCalibration, "cooker", "ph", 300.0) == [later]
    assert (
        records.latest(PhCalibration, "other", "ph") is None and records.latest(PhCalibration, "cooker", "ph2") is None
    )


def test_a_new_sensor_configuration_ends_the_two_point_correction() -> None:
    refitted = SensorConfig("y8", "cooker", "paste", 500.0, "T")
    records = records_from([FITTING, CHECK, refitted])
    assert records.field_check("cooker", "paste", 499.0) == CHECK
    assert records.field_check("cooker", "paste", 500.0) is None


def test_the_log_is_appended_to_and_read_again_after_a_change(tmp_path: Path) -> None:
    writer, reader = CalibrationLog(tmp_path / "cooks"), CalibrationLog(tmp_path / "cooks")
    assert reader.facts().all == ()
    for entry in ALL:
        writer.add(entry)
    assert reader.facts() == records_from(ALL) and reader.unread == 0
    before = writer.path.read_bytes()
    writer.add(Retraction("e5", "b2", 301.0))
    assert writer.path.read_bytes().startswith(before)
    assert reader.facts().retracted == {"a1": 300.0, "b2": 301.0}
    assert reader.facts() is reader.facts()


def test_a_line_cut_short_by_a_power_failure_loses_no_other_line(tmp_path: Path) -> None:
    calibration_log = CalibrationLog(tmp_path)
    calibration_log.add(PH)
    with calibration_log.path.open("ab") as file:
        file.write(to_json(CHECK).encode()[:50])
    calibration_log.add(FITTING)
    assert calibration_log.facts().all == (FITTING, PH) and calibration_log.unread == 1


def test_an_unreadable_log_keeps_the_records_read_before(tmp_path: Path) -> None:
    calibration_log = CalibrationLog(tmp_path)
    calibration_log.add(PH)
    assert calibration_log.facts().all == (PH,) and calibration_log.trouble is None
    calibration_log.path.unlink()
    calibration_log.path.mkdir()
    assert calibration_log.facts().all == (PH,)
    assert calibration_log.trouble is not None and "is a directory" in calibration_log.trouble
    with pytest.raises(CalibrationError, match="is a directory"):
        calibration_log.add(CHECK)


def test_active_lists_the_records_in_force() -> None:
    records = records_from(ALL)
    assert records.active(150.0) == ("c3", "a1") and records.active(math.inf) == ("c3", "b2")
    assert records.latest(PhCalibration, "cooker", "ph") is None
    assert records.latest(FieldCheck, "cooker", "paste") == CHECK
