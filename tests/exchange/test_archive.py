"""A package is accepted by other programs, and can be one zip file."""

import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from monitor.exchange import ExchangeError, export_package
from monitor.exchange.archive import FILES, export_zip, import_zip
from monitor.model import make_event
from monitor.protocol import Pack, SenmlRecord
from monitor.runtime import Anchor
from monitor.storage import Recorder
from tests.exchange.odd_cooks import START, contents
from tests.exchange.test_datapackage import silent


def recorded(folder: Path) -> Path:
    recorder = Recorder.create(folder, Anchor(START, START, "", 0.0), rig="cooker", source="test")
    for i in range(50):
        records = (
            SenmlRecord("paste", "Cel", 90.0 + i / 7.0, None, START + i),
            SenmlRecord("wall", "Cel", None, "open circuit", None),
        )
        recorder.add_pack(Pack(records, START + i + 0.25, i, 2**62 + i))
    recorder.add_event(make_event("a", "note", START, START + 1.0, {"text": 'a "quoted", split\nnote'}))
    recorder.add_event(make_event("b", "finished", START + 60.0, START + 60.0))
    recorder.finish()
    return recorder.path


def validated(package: Path) -> subprocess.CompletedProcess[str]:
    # In a process of its own: its warnings are its own affair.
    command = [sys.executable, "-m", "frictionless", "validate", "datapackage.json"]
    return subprocess.run(command, capture_output=True, text=True, cwd=package, timeout=120, check=False)


def test_the_frictionless_library_accepts_a_package_and_refuses_a_damaged_one(tmp_path: Path) -> None:
    package = tmp_path / "out"
    export_package(recorded(tmp_path), package)
    good = validated(package)
    assert good.returncode == 0, good.stdout + good.stderr
    readings = package / "readings.csv"
    readings.write_text(readings.read_text(encoding="utf-8").replace(",90.0,", ",hot,", 1), encoding="utf-8")
    bad = validated(package)
    assert bad.returncode == 1 and "type-error" in bad.stdout
    package = tmp_path / "again"
    export_package(next(tmp_path.glob("*.cook")), package)
    packs = package / "packs.csv"
    packs.write_text("\n".join(packs.read_text(encoding="utf-8").splitlines()[:-1]) + "\n", encoding="utf-8")
    assert "foreign-key" in validated(package).stdout


def test_a_zipped_package_is_imported_unchanged(tmp_path: Path) -> None:
    path, zip_path = recorded(tmp_path), tmp_path / "cook.zip"
    export_zip(path, zip_path, silent)
    copy = import_zip(zip_path, tmp_path / "copies", silent)
    assert contents(copy) == contents(path)
    with pytest.raises(ExchangeError, match="there already"):
        export_zip(path, zip_path, silent)


def test_paths_in_a_zip_cannot_lead_outside_the_target_folder(tmp_path: Path) -> None:
    export_package(recorded(tmp_path), tmp_path / "out")
    zip_path = tmp_path / "cook.zip"
    with zipfile.ZipFile(zip_path, "w") as archive:
        for name in FILES:
            archive.write(tmp_path / "out" / name, f"../../cook/{name}")
        archive.writestr("../../outside.txt", "x")
    copy = import_zip(zip_path, tmp_path / "a" / "b", silent)
    assert copy.parent == tmp_path / "a" / "b"
    assert not (tmp_path / "outside.txt").exists() and not (tmp_path.parent / "outside.txt").exists()


@pytest.mark.parametrize("left_out", FILES)
def test_a_zip_that_lacks_a_file_is_refused(tmp_path: Path, left_out: str) -> None:
    zip_path = tmp_path / "cook.zip"
    with zipfile.ZipFile(zip_path, "w") as archive:
        for name in FILES:
            if name != left_out:
                archive.writestr(name, "{}")
    with pytest.raises(ExchangeError, match=f"no {left_out}"):
        import_zip(zip_path, tmp_path / "r", silent)


def test_an_invalid_zip_and_invalid_contents_are_refused_by_name(tmp_path: Path) -> None:
    zip_path = tmp_path / "cook.zip"
    zip_path.write_bytes(b"PK nonsense")
    with pytest.raises(ExchangeError, match=r"not a \.zip"):
        import_zip(zip_path, tmp_path / "r", silent)
    with zipfile.ZipFile(zip_path, "w") as archive:
        for name in FILES:
            archive.writestr(name, "[")
    with pytest.raises(ExchangeError, match=r"cook\.zip/batch\.json: it is not JSON"):
        import_zip(zip_path, tmp_path / "r", silent)
