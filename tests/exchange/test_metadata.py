"""A package's metadata are what a recording can hold, or are refused as a whole."""

import json
from pathlib import Path

import pytest

from monitor.exchange import ExchangeError, export_package, import_package
from monitor.exchange.metadata import PackageMetadata, read_metadata
from monitor.runtime import Anchor
from monitor.storage import Recorder
from tests.exchange.odd_cooks import START

CLOCK = {"cook_time": START, "wall": START, "boot_id": "", "boot_s": 0.0, "rate": 1.0}


def test_metadata_survive_writing_and_reading() -> None:
    clocks = (Anchor(START, START, "a", 1.0), Anchor(START + 60.0, START + 61.0, "b", 2.0, 80.0))
    head = PackageMetadata("cooker", "serial://auto", START, None, ((START, "title = 1"),), clocks)
    assert read_metadata(json.loads(json.dumps(head.as_json()))) == head


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("started", 1e300),
        ("started", float("nan")),
        ("started", -1e15),
        ("started", True),
        ("ended", "x"),
        ("ended", []),
        ("ended", float("nan")),
        ("earlier_clocks", 5),
        ("earlier_clocks", ["x"]),
        ("clock", []),
        ("clock", {**CLOCK, "cook_time": float("inf")}),
        ("clock", {**CLOCK, "rate": None}),
        ("sheets", [{"known": START, "text": "\ud800"}]),
        ("sheets", [5]),
        ("rig", "\ud800"),
        ("rig", 7),
    ],
)
def test_invalid_metadata_are_refused_and_leave_nothing(tmp_path: Path, key: str, value: object) -> None:
    recorder = Recorder.create(tmp_path, Anchor(START, START, "", 0.0), rig="cooker", source="test")
    recorder.finish()
    export_package(recorder.path, tmp_path / "out")
    file = tmp_path / "out" / "batch.json"
    batch = json.loads(file.read_text(encoding="utf-8"))
    file.write_text(json.dumps({**batch, key: value}), encoding="utf-8")
    with pytest.raises(ExchangeError, match="not what an export writes"):
        import_package(tmp_path / "out", tmp_path / "to")
    assert not list((tmp_path / "to").glob("*"))
