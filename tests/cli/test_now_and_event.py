"""``kettleside now`` and ``kettleside event``: what a script asks of the running cook and logs into it."""

import json
from datetime import UTC, datetime
from pathlib import Path

import pytest

from monitor.cli import main
from monitor.cli.moment import moment
from monitor.model import local, make_event
from monitor.runtime import SystemClock
from monitor.session import CookLibrary
from monitor.storage import load, log_event
from tests.dashboard.seeded import Maker

UID = "7f0c9a52-1f7e-4d57-9d5e-0c7c2f1d3a11"


def cook(folder: Path, rig: str = "cooker") -> Path:
    """A cook that began an hour ago and runs."""
    maker = Maker(folder, SystemClock(), hours=1.0, rig=rig)
    maker.recorder.close()
    return maker.path


def event(folder: Path, *words: str) -> int:
    return main(["event", *words, "--recordings", str(folder)])


def test_now_prints_the_outlook_of_the_running_cook_in_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = cook(tmp_path)
    assert main(["now", "--recordings", str(tmp_path)]) == 0
    out, err = capsys.readouterr()
    assert out.count("\n") == 1 and err == ""
    told, expected = json.loads(out), CookLibrary(tmp_path).cook(path.stem).outlook().as_json()
    assert told.keys() == expected.keys()
    assert told["elapsed_s"] == pytest.approx(expected["elapsed_s"], abs=60.0)
    assert told["temperature_c"] == expected["temperature_c"]


@pytest.mark.parametrize("command", [["now"], ["event", "stirred"]])
def test_without_a_running_cook_the_error_is_one_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], command: list[str]
) -> None:
    where = ["--recordings", str(tmp_path)]
    for _ in range(2):
        assert main([*command, *where]) == 1
        assert capsys.readouterr() == ("", f"kettleside: No cook is running in {tmp_path}.\n")
        path = cook(tmp_path)
        now = SystemClock().now()
        log_event(path, make_event("the-end", "finished", now, now))
    cook(tmp_path)
    assert main([*command, "--rig", "other", *where]) == 1
    assert capsys.readouterr().err == f"kettleside: No cook of the cooker other is running in {tmp_path}.\n"


def test_with_several_running_cooks_the_rig_selects_one(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    paths = {rig: cook(tmp_path, rig) for rig in ("right", "left")}
    assert main(["now", "--recordings", str(tmp_path)]) == 1
    assert capsys.readouterr().err == "kettleside: Several cooks run (left, right); say which by --rig NAME.\n"
    assert event(tmp_path, "lid", "off", "--rig", "left") == 0
    kinds = {rig: [one.kind for one in load(path).events] for rig, path in paths.items()}
    assert "lid off" in kinds["left"] and "lid off" not in kinds["right"]


def test_an_event_is_logged_with_its_time_and_numbers(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = cook(tmp_path)
    before = SystemClock().now()
    assert (
        event(tmp_path, "ph read", "--at", "-5m", "--field", "ph=10.1", "--field", "sample_percent=1", "--id", UID) == 0
    )
    (logged,) = [one for one in load(path).events if one.kind == "ph read"]
    assert logged.fields == {"ph": 10.1, "sample_percent": 1.0} and logged.uid == UID
    assert logged.measured == pytest.approx(before - 300.0, abs=30.0)
    uid, told, kind = capsys.readouterr().out.strip().split("  ")
    assert (uid, kind) == (UID, "ph read") and datetime.fromisoformat(told).timestamp() == int(logged.measured)


def test_an_event_that_is_sent_again_is_logged_once(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = cook(tmp_path)
    stirs = sum(one.kind == "stirred" for one in load(path).events)
    output = []
    for at in ("-10m", "-1m"):
        assert event(tmp_path, "stirred", f"--at={at}", "--id", UID) == 0
        output.append(capsys.readouterr().out)
    assert output[0] == output[1]
    assert sum(one.kind == "stirred" for one in load(path).events) == stirs + 1


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("stired",), "the nearest is 'stirred'"),
        (("checked", "--field", "result=brown"), "it must be one of clear, nearly clear, hazy, cloudy"),
        (("water added", "--field", "grams=much"), "grams of event 'water added' is 'much'; it must be a number"),
        (("water added", "--field", "grams=nan"), "it must be a number"),
        (("water added", "--field", "grams"), "write NAME=VALUE"),
        (("water added", "--field", "grams=1", "--field", "grams=2"), "the field 'grams' is given twice"),
        (("stirred", "--at", "soon"), "the time is 'soon'"),
        (("stirred", "--at", "-2d"), "the time is '-2d'"),
        (("stirred", "--at", "2026-03-14T10:20:00"), "it lacks its zone"),
        (("stirred", "--at", "25:00"), "it must be from 00:00 to 23:59"),
        (("stirred", "--at", "1000000000"), "it must be from a day before the cook began to now"),
        (("stirred", "--id", "x"), "id is 'x'"),
    ],
)
def test_an_invalid_event_is_reported_in_one_sentence_with_status_2(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...], why: str
) -> None:
    path = cook(tmp_path)
    before = load(path).events
    assert event(tmp_path, *words) == 2
    out, err = capsys.readouterr()
    assert out == "" and why in err and err.startswith("kettleside: Nothing was logged: ") and err.count("\n") == 1
    assert load(path).events == before


def test_a_time_of_day_is_today_unless_the_cook_passed_midnight() -> None:
    now = datetime(2026, 3, 14, 0, 20).astimezone(UTC).timestamp()
    assert f"{local(moment('00:10', now, now - 7200.0)):%d %H:%M}" == "14 00:10"
    assert f"{local(moment('23:50', now, now - 7200.0)):%d %H:%M}" == "13 23:50"
    # Before the cook there is no such moment, so this one is still to come, and is refused as that.
    assert f"{local(moment('22:00', now, now - 7200.0)):%d %H:%M}" == "14 22:00"


@pytest.mark.parametrize(
    ("text", "seconds"), [("-90s", 90.0), ("-1.5h", 5400.0), ("-5min", 300.0), ("-0m", 0.0), (" -2 m ", 120.0)]
)
def test_a_negative_duration_is_before_now(text: str, seconds: float) -> None:
    assert moment(text, 1_773_480_000.0, 0.0) == 1_773_480_000.0 - seconds


@pytest.mark.parametrize(
    ("words", "fields"),
    [
        (("checked", "--field", "result=nearly clear"), {"result": "nearly clear"}),
        (("looked", "--field", "paste=stiff"), {"paste": "stiff"}),
        (("heat", "--field", "setting=low"), {"setting": "low"}),
        (
            ("costs", "set", "--field", "check_min=10", "--field", "stir_every_min=40"),
            {"check_min": 10.0, "stir_every_min": 40.0},
        ),
    ],
)
def test_what_the_page_can_log_the_command_can(
    tmp_path: Path, words: tuple[str, ...], fields: dict[str, object]
) -> None:
    path = cook(tmp_path)
    assert event(tmp_path, *words) == 0
    assert load(path).events[-1].fields == fields


def test_a_step_after_the_cook_is_logged_into_the_named_cook_and_told_where_it_stands(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = cook(tmp_path)
    for words in (("lid on", "--at", "-30m"), ("checked", "--field", "result=clear", "--at", "-5m"), ("finished",)):
        assert event(tmp_path, *words) == 0
    into = ("--cook", path.stem)
    assert event(tmp_path, "water added", "--field", "grams=900", *into) == 0
    assert event(tmp_path, "timer set", "--field", "step=settling", "--field", "minutes=10080", *into) == 0
    capsys.readouterr()
    assert main(["list", "--recordings", str(tmp_path)]) == 0
    assert ", resting until " in capsys.readouterr().out
    assert main(["show", path.stem, "--recordings", str(tmp_path)]) == 0
    shown = capsys.readouterr().out
    assert "timer set: settling, 10080 min" in shown and "The batch: resting until " in shown
    assert event(tmp_path, "bottled", "--field", "bottles=6", "--field", "bottle_ml=250", *into) == 0
    capsys.readouterr()
    assert main(["list", "--recordings", str(tmp_path)]) == 0
    assert "in 6 bottles" in capsys.readouterr().out


def test_a_timer_of_no_step_is_refused_by_name(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    cook(tmp_path)
    assert event(tmp_path, "timer set", "--field", "step=tea", "--field", "minutes=3") == 2
    assert "it must be one of oils, lye, rest, dose, settling" in capsys.readouterr().err
