"""A kitchen's own costs: written, read, refused in one sentence, and used by every look at a cook."""

import json
import shutil
from pathlib import Path

import pytest

from monitor.cli import main
from monitor.estimation import Costs, first_prior
from monitor.formulation import METRIC, UnitChoice
from monitor.runtime import SystemClock
from monitor.session import (
    Cook,
    CookLibrary,
    KitchenFileError,
    StreamSession,
    believed_kitchen_units,
    read_kitchen_costs,
    read_kitchen_units,
    set_kitchen_costs,
    set_kitchen_units,
)
from tests.dashboard.seeded import SHEET, Maker


def test_nothing_set_is_what_is_usual(tmp_path: Path) -> None:
    assert read_kitchen_costs(tmp_path) == Costs(15.0, 0.25, 2100.0)


def test_what_is_set_is_kept_and_the_rest_left(tmp_path: Path) -> None:
    set_kitchen_costs(tmp_path, {"check_min": 10.0})
    assert set_kitchen_costs(tmp_path, {"stir_every_min": 40.0}) == Costs(10.0, 0.25, 2400.0)
    assert read_kitchen_costs(tmp_path) == Costs(10.0, 0.25, 2400.0)
    assert [path.name for path in tmp_path.iterdir()] == ["kitchen.toml"]


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (b"[costs]\ncheck_min = 'much'", "'costs.check_min': it is 'much'; it must be a number from 0 to 240"),
        (b"[costs]\ncheck_min = inf", "a number from 0 to 240"),
        (b"[costs]\ncheck_min = true", "a number from 0 to 240"),
        (b"[costs]\nchekc_min = 3", "the nearest is 'check_min'"),
        (b"[cost]\ncheck_min = 3", "'cost': there is no such key; the nearest is 'costs'"),
        (b"costs = 3", "a table headed"),
        (b"[costs\n", "its TOML"),
        (b"a = " + b"[" * 3000, "its TOML"),
        (b"\xff\xfe", "not UTF-8"),
        (b"#" * 20_000, "more than 16384 bytes"),
    ],
)
def test_a_broken_file_is_one_sentence_and_left_alone(tmp_path: Path, content: bytes, why: str) -> None:
    place = tmp_path / "kitchen.toml"
    place.write_bytes(content)
    for amounts in ({}, {"check_min": 3.0}):
        with pytest.raises(KitchenFileError, match=r"^kitchen\.toml, ") as caught:
            set_kitchen_costs(tmp_path, amounts) if amounts else read_kitchen_costs(tmp_path)
        assert why in str(caught.value)
    assert place.read_bytes() == content


def test_a_folder_in_its_place_is_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "kitchen.toml").mkdir()
    with pytest.raises(KitchenFileError, match="cannot be read"):
        read_kitchen_costs(tmp_path)


@pytest.mark.parametrize("amounts", [{"check_min": -1.0}, {"overcook_per_min": 99.0}, {"check_hours": 1.0}])
def test_an_amount_that_is_not_allowed_is_refused(tmp_path: Path, amounts: dict[str, float]) -> None:
    with pytest.raises(KitchenFileError):
        set_kitchen_costs(tmp_path, amounts)
    assert not list(tmp_path.iterdir())


def test_every_look_at_a_cook_counts_by_them(tmp_path: Path) -> None:
    maker = Maker(tmp_path, SystemClock(), hours=2.0)
    maker.recorder.close()
    live = CookLibrary(tmp_path).cook(maker.path.stem)
    now = live.now()
    plain = live.outlook()
    set_kitchen_costs(tmp_path, {"overcook_per_min": 2.0, "stir_every_min": 60.0})
    for cook in (Cook(maker.path), CookLibrary(tmp_path).cook(maker.path.stem)):
        for outlook in (cook.outlook(), cook.outlook(now)):
            assert plain.check_due is not None and outlook.check_due is not None
            assert outlook.check_due < plain.check_due - 300.0
            assert "2 for a minute over-cooked" in outlook.reasons["check"]
        assert cook.costs() == Costs(15.0, 2.0, 3600.0)
    # The one that was open all along sees it at the next entry.
    live.log_event("costs set", fields={"check_min": 5.0})
    assert "5 minutes of work for a check, 2 for" in live.outlook().reasons["check"]
    assert live.costs() == Costs(5.0, 2.0, 3600.0)


def test_a_broken_file_is_told_with_the_check_and_stops_no_cook(tmp_path: Path) -> None:
    maker = Maker(tmp_path, SystemClock(), hours=2.0)
    maker.recorder.close()
    (tmp_path / "kitchen.toml").write_text("[costs]\ncheck_min = -3")
    reason = Cook(maker.path).outlook().reasons["check"]
    assert reason.endswith("it must be a number from 0 to 240. The usual costs count instead.")
    assert "15 minutes of work" in reason


def test_a_stream_counts_by_the_costs_in_its_folder(tmp_path: Path) -> None:
    set_kitchen_costs(tmp_path, {"stir_every_min": 50.0})
    stream = StreamSession(SHEET.format(title="x"), tmp_path, first_prior)
    stream.take(json.dumps({"t": 1_773_484_800, "event": "lid on"}))
    answer = stream.take(json.dumps({"t": 1_773_484_860, "ask": "outlook"}))
    assert answer is not None and answer["stir_due"] == 1_773_484_800 + 3000
    stream.close()


def test_the_command_sets_and_tells_them(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    where = ["kitchen", "--recordings", str(tmp_path)]
    assert main([*where, "--check-min", "10", "--stir-every-min", "40"]) == 0
    told = "A clarity check counts as 10 min of work, a minute cooked past clear as 0.25 min; stir every 40 min."
    assert told in capsys.readouterr().out
    assert main(where) == 0
    assert told in capsys.readouterr().out
    assert main([*where, "--overcook-per-min", "11"]) == 2
    assert capsys.readouterr().err == (
        "kettleside: kitchen.toml, 'costs.overcook_per_min': it is 11.0; it must be a number from 0 to 10.\n"
    )


def test_units_are_chosen_once_and_costs_are_left(tmp_path: Path) -> None:
    set_kitchen_costs(tmp_path, {"check_min": 10.0})
    assert read_kitchen_units(tmp_path) == METRIC
    assert set_kitchen_units(tmp_path, {"mass": "oz"}) == UnitChoice("oz", "mL", "degC")
    assert set_kitchen_units(tmp_path, {"temperature": "degF"}) == UnitChoice("oz", "mL", "degF")
    assert set_kitchen_costs(tmp_path, {"stir_every_min": 40.0}) == Costs(10.0, 0.25, 2400.0)
    assert read_kitchen_units(tmp_path) == UnitChoice("oz", "mL", "degF")


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (b"[units]\nmass = 'stone'", "'units.mass': it is 'stone'; it must be g or oz"),
        (b"[units]\nmas = 'g'", "'units.mas': there is no such key; the nearest is 'mass'"),
        (b"[units]\nmass = ['g']", "'units.mass': it is ['g']"),
        (b"units = 3", "'units': it must be a table headed [units]"),
    ],
)
def test_units_that_cannot_be_are_refused_and_metric_ones_believed(tmp_path: Path, content: bytes, why: str) -> None:
    (tmp_path / "kitchen.toml").write_bytes(content)
    with pytest.raises(KitchenFileError) as refused:
        read_kitchen_units(tmp_path)
    assert why in str(refused.value)
    assert believed_kitchen_units(tmp_path) == METRIC


def test_commands_are_read_in_the_kitchen_s_units(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    here = ["--recordings", str(tmp_path)]
    shutil.copy(next(Path("recordings").glob("*smooth.cook")), tmp_path)
    assert main(["kitchen", "--mass", "oz", "--temperature", "degF", *here]) == 0
    told = capsys.readouterr().out
    assert "minutes at 203 °F" in told and "Read in oz, mL and °F." in told
    for words, said in (
        (["show", "latest"], " °F\nEvents:"),
        (["plan", "batch", "--oil", "olive=453.59237", "--water", "400"], "453.6 g (16.00 oz)"),
        (["stock", "show"], "The shelf is empty"),
        (["sums", "alkali", "--cook", "latest"], " oz)"),
    ):
        assert main([*words, *here]) == 0
        out = capsys.readouterr().out
        assert said in out
        assert " °C" not in out.partition("Events:")[0]


def test_an_export_stays_in_si(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shutil.copy(next(Path("recordings").glob("*smooth.cook")), tmp_path)
    assert main(["export", "latest", "--to", str(tmp_path / "metric"), "--recordings", str(tmp_path)]) == 0
    set_kitchen_units(tmp_path, {"mass": "oz", "temperature": "degF"})
    assert main(["export", "latest", "--to", str(tmp_path / "chosen"), "--recordings", str(tmp_path)]) == 0
    capsys.readouterr()
    for name in ("readings.csv", "events.csv", "batch.json"):
        assert (tmp_path / "metric" / name).read_bytes() == (tmp_path / "chosen" / name).read_bytes()
