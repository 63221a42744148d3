"""Calibrations travel with the cook that used them."""

from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from monitor.exchange import ExchangeError, export_package, import_package
from monitor.exchange.archive import export_zip, import_zip
from monitor.model import make_event
from monitor.probes import (
    ICE,
    BathPoint,
    BufferPoint,
    CalibrationRecord,
    FieldCheck,
    PhCalibration,
    Retraction,
    SensorConfig,
)
from monitor.protocol import Pack, SenmlRecord
from monitor.runtime import Anchor
from monitor.session import Cook
from monitor.storage import CalibrationLog, Recorder
from tests.exchange.odd_cooks import START
from tests.exchange.test_datapackage import silent

END = START + 3600.0


def recorded(folder: Path, began: float = START, rig: str = "cooker") -> Path:
    recorder = Recorder.create(folder, Anchor(began, began, "", 0.0), rig=rig, source="test")
    for i in range(20):
        records = (SenmlRecord("paste", "Cel", 99.5, None, None), SenmlRecord("ph", "V", -0.15, None, None))
        recorder.add_pack(Pack(records, began + 60.0 * i, i, i))
    recorder.add_event(make_event(f"end {began}", "finished", began + 3600.0, began + 3600.0))
    recorder.finish()
    return recorder.path


known = st.floats(START - 86_400.0, END + 86_400.0)
channels = st.sampled_from(["paste", "ph"])
rigs = st.sampled_from(["cooker", "another"])
uids = st.uuids().map(str)
# Slopes within 90 to 105 % of Nernst's at 25 degC, so that each is plausible enough to be stored.
slopes = st.floats(-0.0615, -0.0540)
facts: st.SearchStrategy[CalibrationRecord] = st.one_of(
    st.builds(
        lambda uid, rig, at, slope, probe: PhCalibration(
            uid, rig, "ph", at, (BufferPoint("7.00", 25.0, 0.0), BufferPoint("10.01", 25.0, 3.01 * slope)), probe
        ),
        uids, rigs, known, slopes, st.text(max_size=12),
    ),
    st.builds(
        lambda uid, rig, at, read_c: FieldCheck(uid, rig, "paste", at, (BathPoint(ICE, read_c),)),
        uids, rigs, known, st.floats(-1.5, 1.5),
    ),
    st.builds(SensorConfig, uids, rigs, channels, known, st.sampled_from("KJT"), st.sampled_from([1, 2])),
)  # fmt: skip


def used(folder: Path, rig: str) -> tuple[list[CalibrationRecord], dict[str, float]]:
    found = CalibrationLog(folder).facts()
    own = [
        fact
        for fact in found.all
        if fact.rig == rig and fact.known <= END and found.retracted.get(fact.uid, END) >= START
    ]
    return own, {fact.uid: found.retracted[fact.uid] for fact in own if fact.uid in found.retracted}


@given(entries=st.lists(st.tuples(facts, st.none() | known), max_size=6), zipped=st.booleans())
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_export_and_import_keep_every_calibration_that_was_used(
    tmp_path_factory: Any, entries: list[tuple[CalibrationRecord, float | None]], zipped: bool
) -> None:
    folder, target = tmp_path_factory.mktemp("from"), tmp_path_factory.mktemp("to")
    path = recorded(folder)
    calibration_log = CalibrationLog(folder)
    for number, (fact, retracted) in enumerate(entries):
        calibration_log.add(fact)
        if retracted is not None:
            calibration_log.add(Retraction(f"t{number}", fact.uid, retracted))
    if zipped:
        export_zip(path, folder / "out.zip", silent)
        came = import_zip(folder / "out.zip", target, silent)
    else:
        export_package(path, folder / "out")
        came = import_package(folder / "out", target)
    arrived = CalibrationLog(target).facts()
    assert (list(arrived.all), dict(arrived.retracted)) == used(folder, "cooker")
    for moment in (START + 10.0, START + 1800.0, END):
        before, after = Cook(path).history(moment), Cook(came).history(moment)
        for channel, series in before.series.items():
            assert after.series[channel].unit == series.unit
            assert after.series[channel].value.tolist() == series.value.tolist()


def offset(uid: str, at: float) -> FieldCheck:
    return FieldCheck(uid, "cooker", "paste", at, (BathPoint(ICE, 1.0),))


def test_an_imported_calibration_does_not_change_existing_cooks(tmp_path: Path) -> None:
    sender, home = tmp_path / "sender", tmp_path / "home"
    path = recorded(sender)
    CalibrationLog(sender).add(offset("theirs", START - 60.0))
    export_package(path, tmp_path / "out")
    own = recorded(home, START + 7200.0)
    before = Cook(own).history().series["paste"].value.tolist()
    told: list[str] = []
    import_package(tmp_path / "out", home, silent, told.append)
    assert len(told) == 1 and "left out" in told[0] and CalibrationLog(home).facts().all == ()
    assert Cook(own).history().series["paste"].value.tolist() == before


def test_a_kitchens_own_cooks_can_be_imported_again_one_by_one(tmp_path: Path) -> None:
    home, new = tmp_path / "home", tmp_path / "new"
    paths = [recorded(home, START + day * 86_400.0) for day in range(3)]
    CalibrationLog(home).add(offset("first", START - 60.0))
    CalibrationLog(home).add(offset("second", START + 86_400.0 - 60.0))
    for number in (2, 0, 1):
        told: list[str] = []
        export_package(paths[number], tmp_path / f"out{number}")
        import_package(tmp_path / f"out{number}", new, silent, told.append)
        assert told == []
    assert [fact.uid for fact in CalibrationLog(new).facts().all] == ["first", "second"]


def test_a_damaged_calibration_is_refused_by_name_and_leaves_nothing(tmp_path: Path) -> None:
    path = recorded(tmp_path / "from")
    CalibrationLog(tmp_path / "from").add(offset("a", START - 60.0))
    export_package(path, tmp_path / "out")
    (tmp_path / "out" / "calibrations.jsonl").write_text('{"kind":"moon"}\n')
    with pytest.raises(ExchangeError, match=r"calibrations.jsonl: line 1 is wrong"):
        import_package(tmp_path / "out", tmp_path / "to")
    assert not list((tmp_path / "to").glob("*"))
