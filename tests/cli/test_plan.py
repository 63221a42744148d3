"""``kettleside plan``: a whole plan in lines and as JSON, kept sheets, and mistakes in one sentence."""

import json
from pathlib import Path

import pytest

from monitor.cli import main
from monitor.cli.moment import coming_moment
from monitor.formulation import read_sheet
from monitor.model import local

OILS = ("--oil", "olive=70%", "--oil", "coconut=30%")


def told(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    assert main(["plan", *words]) == 0
    out = capsys.readouterr()
    assert out.err == ""
    return out.out


def refused(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    assert main(["plan", *words]) == 2
    out = capsys.readouterr()
    assert out.out == "" and out.err.count("\n") == 1
    return out.err


def test_a_plan_is_told_kept_and_started_from(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    here = ("--recordings", str(tmp_path))
    first = told(capsys, "batch", *OILS, "--title", "Hand soap", "--pot", "3.5", "--fill-pot", "--keep", *here)
    assert "2.33 L in 3.5 L to the rim, 67% full" in first and "bottles of 250 mL" in first
    kept = tmp_path / "sheets" / "hand-soap.toml"
    assert f"--batch {kept.stem}" in first
    batch = read_sheet(kept.read_text(encoding="utf-8"))
    assert [oil.name for oil in batch.oils] == ["olive", "coconut"] and batch.cooker_litres == 3.5
    second = told(capsys, "batch", "--from", "hand-soap", "--excess", "2%", "--bottles", "6", *here)
    assert "Excess +2 % instead of +3 %." in second
    assert "6  bottles of 250 mL" in second
    assert told(capsys, "sheets", *here).startswith("hand-soap  Hand soap: olive")


def test_a_plan_starts_from_a_past_cook(capsys: pytest.CaptureFixture[str]) -> None:
    said = told(capsys, "batch", "--from", "invented-smooth", "--use-up", "sunflower=200")
    assert "Beside the batch it started from:" in said and "times as large" in said


def test_a_plan_as_json_has_the_same_numbers(capsys: pytest.CaptureFixture[str]) -> None:
    plan = json.loads(told(capsys, "batch", *OILS, "--json"))["plan"]
    assert plan["batch"]["oils"][0]["grams"] == 700.0
    assert plan["bottles"]["full"] > 0 and plan["charge"]["koh_g"] > 200.0


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("--oil", "olive=60%", "--oil", "coconut=30%"), "the shares of the oils add up to 90 %; 10 % is missing"),
        (("--oil", "olive=70%", "--oil", "coconut=300"), "write all of them in one way"),
        (("--oil", "olive=700", "--pot", "1"), "and the pot holds 1 L to the rim"),
        (("--oil", "olive=700", "--fill-pot", "--pot", "0.1"), "the pot is 0.1 L; it must be from 0.5 to 200 L"),
        (("--oil", "olive=700", "--fill-pot"), "say what the pot holds"),
        (("--oil", "olive=700", "--bottle", "0"), "the bottle is 0 mL; it must be from 5 to 20000 mL"),
        (("--oil", "olive=700", "--bottles", "0"), "the number of bottles is 0; it must be from 1 to 10000"),
        (("--oil", "olive=700", "--strength", "60%"), "the strength is 60 %; it must be from 2 to"),
        (("--oil", "oliv=700"), "nearest: olive"),
        (("--from", "nothing"), "no kept sheet, no sheet's file and no cook called 'nothing'"),
        ((), "there is no oil"),
    ],
)
def test_a_mistake_is_one_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...], why: str
) -> None:
    assert why in refused(capsys, "batch", *words, "--recordings", str(tmp_path))


def test_a_kept_sheet_is_not_written_over(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    here = ("--recordings", str(tmp_path), "--keep", "mine")
    told(capsys, "batch", *OILS, *here)
    assert "one of that name is kept already" in refused(capsys, "batch", *OILS, *here)
    told(capsys, "batch", *OILS, *here, "--replace")
    told(capsys, "sheets", "--remove", "mine", "--recordings", str(tmp_path))
    assert not list((tmp_path / "sheets").glob("*.toml"))


def test_a_day_is_told_drawn_and_written_for_a_calendar(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    here = ("--recordings", str(tmp_path))
    told(capsys, "batch", *OILS, "--title", "Hand soap", "--keep", *here)
    calendar, picture = tmp_path / "day.ics", tmp_path / "day.html"
    words = (
        "--start",
        "tomorrow 14:00",
        "--batch",
        "hand-soap",
        "--calendar",
        str(calendar),
        "--picture",
        str(picture),
    )
    said = told(capsys, "day", *words, *here)
    assert said.startswith("Hand soap: start at 14:00 on ")
    for part in (
        "  14:45  Probe in, lid on.",
        "Stir: 15:20, 15:55",
        "First clarity check",
        "Heat off",
        "in 8 cooks of 10",
    ):
        assert part in said
    assert "No finished cook of this kitchen has taught anything yet" in said
    assert b"SUMMARY:Hand soap: Probe in\\, lid on\r\n" in calendar.read_bytes()
    assert "clarity check" in picture.read_text(encoding="utf-8")


def test_a_day_as_json_has_its_steps(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    day = json.loads(told(capsys, "day", "--start", "tomorrow 14:00", "--json", "--recordings", str(tmp_path)))["day"]
    assert day["steps"][0]["kind"] == "prepare" and len(day["clear_at"]) == 3
    assert day["clear_at"][2] <= day["steps"][-1]["at"]


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("--start", "2026-01-01T10:00"), "the start, Thursday 1 January, 10:00, has passed"),
        (("--clear-by", "2026-01-01T10:00"), "in nine cooks of ten it has to start at"),
        (("--bottled-by", "2026-01-10"), "to be in bottles on Saturday 10 January"),
        (("--start", "9999-12-31 10:00"), "9999-12-31 is more than two years ahead"),
        (("--start", "soon"), "--start is 'soon'; write it like 14:00"),
        (("--bottled-by", "someday"), "--bottled-by is 'someday'; write it like saturday"),
        (("--start", "2099-01-01 25:00"), "--start is '2099-01-01 25:00'"),
        (("--start", "tomorrow 10:00", "--prepare-min", "1"), "--prepare-min is 1 min; it must be from 5 to 480 min"),
        (("--bottled-by", "tomorrow", "--rest-days", "90"), "--rest-days is 90 days; it must be from 0 to 60 days"),
    ],
)
def test_a_day_that_cannot_be_is_one_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...], why: str
) -> None:
    assert why in refused(capsys, "day", *words, "--recordings", str(tmp_path))


@pytest.mark.parametrize("words", [("batch",), ("day",), ("sheets",)])
def test_each_plan_explains_itself(capsys: pytest.CaptureFixture[str], words: tuple[str, ...]) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["plan", *words, "--help"])
    assert ended.value.code == 0 and "usage: kettleside plan" in capsys.readouterr().out


# Saturday, 14 March 2026, 09:20 in UTC.
NOW = 1_773_480_000.0


@pytest.mark.parametrize(
    ("text", "at", "said"),
    [
        ("14:00", "", "2026-03-14 14:00"),
        ("tomorrow 9:30", "", "2026-03-15 09:30"),
        ("Sunday 9:30", "", "2026-03-15 09:30"),
        ("saturday 14:00", "", "2026-03-21 14:00"),
        ("wed", "23:59", "2026-03-18 23:59"),
        ("2026-04-05", "23:59", "2026-04-05 23:59"),
        ("2026-04-05 08:00", "", "2026-04-05 08:00"),
        ("2026-04-05T08:00", "", "2026-04-05 08:00"),
    ],
)
def test_a_moment_to_come_is_read_as_people_say_it(text: str, at: str, said: str) -> None:
    assert f"{local(coming_moment(text, NOW, at)):%Y-%m-%d %H:%M}" == said


def test_a_moment_with_its_zone_is_the_same_everywhere() -> None:
    assert coming_moment("2026-04-05T08:00+02:00", NOW) == coming_moment("2026-04-05T06:00Z", NOW) == 1_775_368_800.0
