"""The commands about past cooks, on the three invented ones."""

from dataclasses import replace
from pathlib import Path

import pytest

from monitor.analysis.coverage import SHARES
from monitor.cli import main
from monitor.cli.invent import recording_of, write
from monitor.session import IDEAL, cook_time_loss, kitchen_model
from monitor.simulator import SAMPLE_COOKS, WARNING
from tests.exchange.odd_cooks import contents

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = ROOT / "recordings"


@pytest.mark.parametrize("one", SAMPLE_COOKS, ids=lambda one: str(one.name))
def test_the_sample_recordings_are_reproducible_and_marked_as_invented(tmp_path: Path, one: object) -> None:
    found = next(invented for invented in SAMPLE_COOKS if invented is one)
    kept, made = recording_of(found, SAMPLES), write(found, tmp_path, 1)
    assert contents(made) == contents(kept)
    assert kept.stat().st_size < 400_000
    told = contents(kept)
    assert any(WARNING in str(event[4]) for event in told["events"]) and found.title.startswith("Invented")


def test_the_power_cut_is_the_main_cause_and_the_loose_probe_is_no_cause(capsys: pytest.CaptureFixture[str]) -> None:
    smooth, cut, loose = (recording_of(one, SAMPLES).stem for one in SAMPLE_COOKS)
    assert main(["show", cut, "--against", smooth, "--recordings", str(SAMPLES)]) == 0
    lines = capsys.readouterr().out.splitlines()
    first = lines[next(i for i, line in enumerate(lines) if line.startswith("Where the time went")) + 1]
    assert "heat lost" in first
    assert main(["show", loose, "--against", smooth, "--recordings", str(SAMPLES)]) == 0
    assert "heat lost" not in capsys.readouterr().out.split("Where the time went")[1]


def test_a_doubt_about_the_main_cause_is_printed(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    cut = recording_of(SAMPLE_COOKS[1], SAMPLES)
    told = cook_time_loss(cut, IDEAL)
    assert told is not None and told.in_doubt == ""
    doubtful = replace(told, losses=tuple(replace(one, variance_s2=1e8) for one in told.losses))
    monkeypatch.setattr("monitor.session.cook_time_loss", lambda _path, _against: doubtful)
    assert main(["show", cut.stem, "--recordings", str(SAMPLES)]) == 0
    assert "late stirs or late check" in doubtful.in_doubt and doubtful.in_doubt in capsys.readouterr().out


@pytest.mark.parametrize(
    ("words", "found"),
    [([], 3), (["coconut"], 3), (["coconut", "power"], 1), (["2026-05-02"], 1), (["CLEAR", "may"], 3), (["olive"], 0)],
)
def test_the_list_finds_cooks_by_oil_date_and_outcome(
    capsys: pytest.CaptureFixture[str], words: list[str], found: int
) -> None:
    assert main(["list", *words, "--recordings", str(SAMPLES)]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert sum("Invented" in line for line in lines) == found
    assert found or lines == ["None of 3 cooks has olive."]


def test_the_coverage_is_printed_for_every_share(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["list", "--truth", "--recordings", str(SAMPLES)]) == 0
    assert len(capsys.readouterr().out.splitlines()) == 1 + len(SHARES)


def test_a_csv_without_columns_is_shown_with_inferred_columns(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "table.csv"
    file.write_text("Zeit;Seife °C\n14.03.2026 11:40:00;93,5\n", encoding="utf-8")
    assert main(["import", str(file), "--recordings", str(tmp_path / "r")]) == 2
    told = capsys.readouterr()
    assert "93,5" in told.out and "--columns=time:dmy,paste:Cel" in told.out and told.err.count("\n") == 1
    assert not (tmp_path / "r").exists()
    words = ["import", str(file), "--columns=time:dmy,paste:Cel", "--zone", "Nowhere/Land"]
    assert main([*words, "--recordings", str(tmp_path / "r")]) == 2
    assert "Europe/Berlin" in capsys.readouterr().err


def test_a_zip_and_a_damaged_recording_are_imported(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    cook, zip_path = recording_of(SAMPLE_COOKS[0], SAMPLES), tmp_path / "cook.zip"
    assert main(["export", str(cook), "--to", str(zip_path)]) == 0
    assert main(["import", str(zip_path), "--recordings", str(tmp_path / "r")]) == 0
    damaged = tmp_path / "damaged.cook"
    raw = cook.read_bytes()
    damaged.write_bytes(raw[:81_920] + bytes(4096) + raw[86_016:])
    assert main(["import", str(damaged), "--recordings", str(tmp_path / "r")]) == 0
    assert "Could not read" in capsys.readouterr().out
    assert len(list((tmp_path / "r").glob("*.cook"))) == 2


def test_a_shown_cook_has_readable_units_and_text(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["show", recording_of(SAMPLE_COOKS[0], SAMPLES).stem, "--recordings", str(SAMPLES)]) == 0
    output = capsys.readouterr().out
    assert "94.25 °C" in output and " Cel" not in output
    assert "pH read: 10.88, 1 % sample, 25 °C" in output and "sample_percent" not in output


def test_no_kitchen_learns_from_an_invented_cook() -> None:
    assert kitchen_model(SAMPLES).cooks == 0
