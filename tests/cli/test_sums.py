"""``kettleside sums``: the numbers with their cautions, as lines and as JSON, and mistakes in one sentence."""

import json
from pathlib import Path

import pytest

from monitor.cli import main
from monitor.formulation import read_sheet
from monitor.model import make_event
from monitor.runtime import Anchor
from monitor.storage import Recorder, load, log_event

START = 1_773_484_800.0
SHEET = """title = "Brush soap"
lot = "2026-07"
[[oil]]
name = "rapeseed"
grams = 600
[water]
grams = 540
"""


@pytest.fixture
def sheet(tmp_path: Path) -> str:
    path = tmp_path / "batch.toml"
    path.write_text(SHEET, encoding="utf-8")
    return str(path)


@pytest.fixture
def cooks(tmp_path: Path) -> str:
    recorder = Recorder.create(tmp_path, Anchor(START, START, "", 0.0), rig="cooker", source="test", sheet=SHEET)
    recorder.close()
    log: list[tuple[str, dict[str, object]]] = [
        ("checked", {"result": "clear", "sample_g": 8.0}),
        ("water added", {"grams": 700.0}),
        ("finished", {}),
    ]
    for n, (kind, fields) in enumerate(log):
        moment = START + 60.0 * n
        log_event(recorder.path, make_event(f"event {n}", kind, moment, moment, fields))
    return str(tmp_path)


def named(value: object) -> str:
    return " ".join(value) if isinstance(value, tuple) else ""


def told(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    assert main(["sums", *words]) == 0
    out = capsys.readouterr()
    assert out.err == ""
    return out.out


def as_json(capsys: pytest.CaptureFixture[str], *words: str) -> object:
    return json.loads(told(capsys, *words, "--json"), parse_constant=lambda name: pytest.fail(name))


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("oils",), "shea butter"),
        (("oils", "babassu"), "outside the range"),
        (("alkali",), "128.8 g  KOH flakes of 90.0%"),
        (("alkali", "--ounces"), "(4.54 oz)"),
        (("alkali", "--cooker", "1.5"), "Too full"),
        (("alkali", "--weighed-koh", "140"), "g more of the same oils would bring it back to +3.0%"),
        (("alkali", "--weighed-oil", "rapeseed=660"), "141.6 g  KOH"),
        (("alkali", "--excess", "-0.1"), "Will leave"),
        (("heat",), "if all the flakes go in at once"),
        (("sample", "12"), "24.0 g  boiling water"),
        (("dilution", "--soap-percent", "25"), "25.0% real soap"),
        (("dilution", "--water", "1268.75", "--ounces"), "50% paste"),
        (("titration", "2.30"), "0.129 %  KOH free"),
        (("neutralise", "--acid-ml", "2.3", "--stock-percent", "50"), "of the stock"),
        (("neutralise",), "by the known excess"),
        (("neutralise", "--ph", "10.4"), "act"),
        (("neutralise", "--reagent", "borax", "--borate-warning-read"), "toxic for reproduction"),
        (("stock", "borax", "25", "70"), "does not stay dissolved"),
        (("settle",), "Look at it on"),
        (("bottles", "1300", "--add", "scent=1/2"), "5  bottles of 250 mL"),
        (("label",), "Potassium Rapeseedate"),
        (("label", "--as-put-in", "--made", "May 2026"), "Made May 2026"),
    ],
    ids=named,
)
def test_each_sum_is_printed(sheet: str, capsys: pytest.CaptureFixture[str], words: tuple[str, ...], said: str) -> None:
    of_batch = ("alkali", "heat", "dilution", "neutralise", "settle", "label")
    words = (*words, "--batch", sheet) if words[0] in of_batch else words
    lines = told(capsys, *words)
    # Read on a phone or at the stove: no line that wraps in the middle of a number.
    assert max(map(len, lines.splitlines())) <= 130
    assert said in " ".join(lines.split()) or said in lines
    assert as_json(capsys, *words)


def test_the_caution_is_printed_right_under_the_flakes(sheet: str, capsys: pytest.CaptureFixture[str]) -> None:
    lines = told(capsys, "alkali", "--batch", sheet).splitlines()
    flakes = next(n for n, line in enumerate(lines) if "KOH flakes" in line)
    assert lines[flakes + 1].startswith("   ! Potassium hydroxide burns")


def test_oils_on_the_command_line_need_no_sheet(capsys: pytest.CaptureFixture[str]) -> None:
    found = as_json(capsys, "alkali", "--oil", "olive=380@190", "--oil", "oleic acid=20@198.63", "--assay", "0.85",
                    "--excess", "0", "--lye-strength", "0.3")  # fmt: skip
    assert isinstance(found, dict)
    # USP 28 Green Soap: 89.6 g of 85 % flakes are needed.
    assert abs(found["charge"]["koh_g"] - 89.6) < 0.05


def test_a_cook_s_log_is_in_the_figures(cooks: str, capsys: pytest.CaptureFixture[str]) -> None:
    found = as_json(capsys, "dilution", "--water", "0", "--cook", "latest", "--recordings", cooks)
    assert isinstance(found, dict)
    assert (found["now"]["water_added_g"], found["now"]["sampled_g"]) == (700.0, 8.0)
    assert abs(found["dilution"]["product_g"] - (600 + 128.75 + 540 - 8 + 700)) < 1e-6
    calendar = Path(cooks) / "look.ics"
    settled = as_json(capsys, "settle", "--cook", "latest", "--recordings", cooks, "--calendar", str(calendar))
    assert isinstance(settled, dict) and settled["began"] == START + 120.0
    assert calendar.read_bytes().startswith(b"BEGIN:VCALENDAR\r\n")


def test_what_was_weighed_is_written_back_to_the_sheet(sheet: str, capsys: pytest.CaptureFixture[str]) -> None:
    told(capsys, "alkali", "--batch", sheet, "--weighed-koh", "131", "--weighed-oil", "rapeseed=604", "--write", sheet)
    batch = read_sheet(Path(sheet).read_text(encoding="utf-8"))
    assert (batch.alkali.grams, batch.oils[0].grams, batch.lot) == (131.0, 604.0, "2026-07")
    assert "131.0 g  KOH flakes of 90.0% (weighed)" in told(capsys, "alkali", "--batch", sheet)


def test_logged_additions_count_in_later_sums(cooks: str, capsys: pytest.CaptureFixture[str]) -> None:
    of_cook = ("--cook", "latest", "--recordings", cooks)
    assert "Logged: water added, 100 g." in told(capsys, "dilution", "--water", "100", "--log", *of_cook)
    assert "Logged: neutraliser added" in told(capsys, "neutralise", "--give", "1.5", "--log", *of_cook)
    now = as_json(capsys, "dilution", "--water", "0", *of_cook)
    assert isinstance(now, dict)
    assert now["now"]["water_added_g"] == 800.0
    assert now["now"]["pot"]["reagents"] == [{"what": "citric acid anhydrous", "grams": 1.5}]


def test_paste_titration_and_bottles_are_logged(cooks: str, capsys: pytest.CaptureFixture[str]) -> None:
    of_cook = ("--cook", "latest", "--recordings", cooks)
    said = told(capsys, "dilution", "--soap-percent", "25", "--paste-weighed", "1230", "--log", *of_cook)
    assert "Logged: paste weighed, 1230 g." in said
    assert "The paste weighed 1230.0 g" in told(capsys, "dilution", "--soap-percent", "25", *of_cook)
    assert "Logged: titrated, 2.3 mL." in told(capsys, "titration", "2.3", "--log", *of_cook)
    assert "by the titration" in told(capsys, "neutralise", *of_cook)
    assert "Logged: bottled, 7 of 250 mL." in told(capsys, "bottles", "1900", "--filled", "7", "--log", *of_cook)
    kinds = [event.kind for event in load(next(Path(cooks).glob("*.cook"))).events]
    assert kinds[-3:] == ["paste weighed", "titrated", "bottled"]


def test_the_oils_are_searched_by_name_or_words(capsys: pytest.CaptureFixture[str]) -> None:
    assert "from memory of CXS 210" in told(capsys, "oils", "palm", "kernel")
    by_source = told(capsys, "oils", "codex", "spec-babassu")
    assert "outside the range" in by_source and "coconut" not in by_source
    assert len(told(capsys, "oils", "palm", "memory").splitlines()) > 3


def test_the_decision_uses_a_logged_ph(cooks: str, capsys: pytest.CaptureFixture[str]) -> None:
    path = next(Path(cooks).glob("*.cook"))
    log_event(path, make_event("ph", "ph read", START + 200.0, START + 200.0, {"ph": 9.5, "sample_percent": 1.0}))
    assert "pH 9.50  optional" in told(capsys, "neutralise", "--cook", "latest", "--recordings", cooks)


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("dilution", "--water", "9", "--log", "--batch", "SHEET"), "--log wants a recording"),
        (("titration", "2.3", "--log"), "--log wants a recording"),
        (("bottles", "1000", "--log"), "with --filled"),
        (("oils", "rapsed"), "nearest: rapeseed"),
        (("alkali", "--oil", "castor=9", "--water", "9", "--write", "x.toml"), "--write wants a batch sheet"),
        (("alkali",), "name a batch sheet with --batch, or a recording with --cook"),
        (("alkali", "--batch", "/nowhere.toml"), "no such file"),
        (("alkali", "--oil", "rapsed=600", "--water", "500"), "nearest: rapeseed"),
        (("alkali", "--oil", "rapeseed=-6", "--water", "500"), "must be from 0.1 to 100000"),
        (("alkali", "--oil", "rapeseed=600", "--water", "500", "--assay", "1.4"), "must be from 0.5 to 1"),
        (("alkali", "--oil", "rapeseed=600", "--lye-strength", "0.7"), "from 0.05 to 0.528"),
        (("alkali", "--oil", "rapeseed=600"), "how much water"),
        (("alkali", "--batch", "SHEET", "--weighed-oil", "coconut=3"), "not in this batch; there are: rapeseed"),
        (("dilution", "--soap-percent", "90", "--batch", "SHEET"), "soap_share is 0.9; it must be from 0.02 to"),
        (("neutralise", "--give", "100", "--batch", "SHEET"), "would overshoot"),
        (("neutralise", "--reagent", "vinegar", "--batch", "SHEET"), "not in the table; nearest"),
        (("neutralise", "--reagent", "borax", "--batch", "SHEET"), "--borate-warning-read"),
        (("stock", "borax", "-1", "70"), "must be from 0.1"),
        (("bottles", "1000", "--add", "scent=3/2"), "must be from 0 to 2 %"),
        (("label", "--cook", "none", "--recordings", "."), "none.cook"),
    ],
    ids=named,
)
def test_a_mistake_is_reported_on_standard_error(
    sheet: str, capsys: pytest.CaptureFixture[str], words: tuple[str, ...], why: str
) -> None:
    assert main(["sums", *(sheet if word == "SHEET" else word for word in words)]) in (1, 2)
    out = capsys.readouterr()
    assert why in out.err and out.err.count("\n") == 1 and out.out == ""


@pytest.mark.parametrize(
    ("words", "why"),
    [
        ((), "SUM"),
        (("alkaly",), "alkaly"),
        (("alkali", "--oil", "rapeseed"), "it must be like rapeseed=600@189"),
        (("alkali", "--oil", "rapeseed=600@x"), "it must be like rapeseed=600@189"),
        (("alkali", "--weighed-oil", "=6"), "it must be like rapeseed=600"),
        (("bottles", "1000", "--add", "scent"), "it must be like scent=1/2"),
        (("sample", "much"), "much"),
        (("dilution",), "--soap-percent"),
    ],
    ids=named,
)
def test_wrong_usage_ends_with_status_2(capsys: pytest.CaptureFixture[str], words: tuple[str, ...], why: str) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["sums", *words])
    assert ended.value.code == 2
    assert why in capsys.readouterr().err
