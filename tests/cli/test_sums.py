"""``kettleside sums``: the numbers with their cautions, as lines and as JSON, and mistakes in one sentence."""

import json
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from monitor.cli import main
from monitor.formulation import read_sheet
from monitor.model import make_event
from monitor.runtime import Anchor
from monitor.storage import Recorder, load, log_event
from tests.formulation.batches import FLAKES_G

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


JAR = ("jar", "--pot", "2500", "--reading", "0=10.2", "--reading", "1=9.8", "--reading", "2=9.4", "--end-ph", "9.6")
HUMP = ("thickening", "--pot", "2500", "--reading", "0=8", "--reading", "2=14")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("oils",), "shea butter"),
        (("oils", "babassu"), "inside the range"),
        (("alkali",), "129.5 g  KOH flakes of 90.0%"),
        (("alkali",), "Iodine value about 114, from 105 to 126"),
        (("oils", "MCT"), "Typical: computed from its fatty acids"),
        (("oils", "avocado"), "oleic, linoleic and linolenic acid"),
        (("alkali", "--ounces"), "(4.57 oz)"),
        (("alkali", "--cooker", "1.5"), "Too full"),
        (("alkali", "--weighed-koh", "140"), "g more of the same oils would bring it back to +3.0\u2009%"),
        (("alkali", "--weighed-oil", "rapeseed=660"), "142.5 g  KOH"),
        (("alkali", "--excess", "-0.1"), "Will leave"),
        (("alkali", "--excess", "-10%"), "Excess \N{MINUS SIGN}10.0\u2009%"),
        (("heat",), "if all the flakes go in at once"),
        (("sample", "12"), "24.0 g  boiling water"),
        (("dilution", "--soap-percent", "25"), "25.0% real soap"),
        (("dilution", "--water", "1268.75", "--ounces"), "50% paste"),
        (("titration", "2.30"), "0.129 %  KOH free"),
        (("titration", "2.30", "--acid", "0.1N"), "0.129 %  KOH free"),
        (("titration", "2.30"), "sulfuric acid of 0.05 mol/L, which gives two"),
        (("paste",), "0.95 mL  acid to expect at 97%"),
        (("paste", "0.95", "--acid", "0.1 N"), "97%  of the oils is soap, by the weights"),
        (("neutralise", "--acid-ml", "2.3", "--stock-percent", "50"), "of the stock"),
        (("neutralise",), "by the known excess"),
        (("neutralise", "--ph", "10.4"), "act"),
        (("neutralise", "--ph", "10.4", "--end-ph", "9.6", "--stock-percent", "50"), "a tenth of a pH takes"),
        (("neutralise", "--ph", "9.6"), "nothing to add"),
        (("neutralise", "--reagent", "borax", "--borate-warning-read"), "toxic for reproduction"),
        ((*JAR, "--stock-percent", "50"), "37.5 g  in all to pH 9.6, likely 34.1 to 41.3 g"),
        ((*JAR, "--reading", "3=9.0@cloudy"), "never more than 2 g to such a jar"),
        ((*HUMP, "--reading", "4=30", "--reading", "6=21"), "100.0 g  of it in all, never more"),
        (HUMP, "Peak not yet found: 2 g still thickened it"),
        ((*HUMP, "--thickener", "borax", "--borate-warning-read"), "toxic for reproduction"),
        (("jar", "--pot", "100", "--reading", "0=10"), "add a portion and read again"),
        (("stock", "borax", "25", "70"), "does not stay dissolved"),
        (("settle",), "Look at it on"),
        (("bottles", "1300", "--add", "scent=1/2"), "5  bottles of 250 mL"),
        (("label",), "Potassium Rapeseedate"),
        (("label", "--as-put-in", "--made", "May 2026"), "Made May 2026"),
    ],
    ids=named,
)
def test_each_sum_is_printed(sheet: str, capsys: pytest.CaptureFixture[str], words: tuple[str, ...], said: str) -> None:
    of_batch = ("alkali", "heat", "dilution", "paste", "neutralise", "settle", "label")
    words = (*words, "--batch", sheet) if words[0] in of_batch else words
    lines = told(capsys, *words)
    # Read on a phone or at the stove: no line that wraps in the middle of a number.
    assert max(map(len, lines.splitlines())) <= 130
    assert said in " ".join(lines.split()) or said in lines
    assert as_json(capsys, *words)


# 600 g of rapeseed at 188.6 mg/g take 113.16 g of KOH; 3 % more, in flakes of 90 %, and 540 g of water.
PASTE_G = 600.0 + 540.0 + 113.16 * 1.03 / 0.9
UNITS = ("_g", "_ml", "_l", "_c", "_mol", "_mol_l", "_percent", "_per_g", "_min", "_share")
WORDS = ("title", "lot", "made", "name")


def leaves(value: object, key: str = "") -> Iterator[tuple[str, object]]:
    if isinstance(value, dict):
        for name, each in value.items():
            yield from leaves(each, name)
    elif isinstance(value, list):
        for each in value:
            yield from leaves(each, key)
    else:
        yield key, value


@pytest.mark.parametrize(
    "words",
    [
        ("oils",),
        ("alkali", "--cooker", "3"),
        ("heat",),
        ("sample", "12"),
        ("dilution", "--soap-percent", "25"),
        ("titration", "2.30"),
        ("paste", "1.2"),
        ("neutralise", "--ph", "10.4"),
        ("stock", "borax", "25", "70"),
        ("settle",),
        ("bottles", "1300", "--add", "scent=1/2"),
        ("label",),
    ],
    ids=named,
)
def test_json_is_one_object_of_numbers_with_their_units(
    sheet: str, capsys: pytest.CaptureFixture[str], words: tuple[str, ...]
) -> None:
    of_batch = ("alkali", "heat", "dilution", "paste", "neutralise", "settle", "label")
    found = as_json(capsys, *words, *(("--batch", sheet) if words[0] in of_batch else ()))
    assert isinstance(found, dict)
    for key, value in leaves(found):
        assert not key.endswith(UNITS) or value is None or isinstance(value, int | float), key
        # What is a number is not wrapped in text.
        assert key in WORDS or not isinstance(value, str) or not re.fullmatch(r"[-+ ]?[\d.]+ *%?", value), key


def test_json_has_what_the_lines_tell_of_the_pot(sheet: str, capsys: pytest.CaptureFixture[str]) -> None:
    found = as_json(capsys, "dilution", "--soap-percent", "25", "--batch", sheet)
    assert isinstance(found, dict)
    pot = found["now"]["pot"]
    assert pot["total_g"] == pytest.approx(PASTE_G) and pot["soap_share"] == pytest.approx(pot["soap_g"] / PASTE_G)
    made = as_json(capsys, "alkali", "--batch", sheet)
    assert isinstance(made, dict) and made["charge"]["total_g"] == pytest.approx(PASTE_G)


def test_the_caution_is_printed_right_under_the_flakes(sheet: str, capsys: pytest.CaptureFixture[str]) -> None:
    lines = told(capsys, "alkali", "--batch", sheet).splitlines()
    flakes = next(n for n, line in enumerate(lines) if "KOH flakes" in line)
    assert lines[flakes + 1].startswith("   ! Potassium hydroxide burns")


@pytest.mark.parametrize(
    "words", [("alkali",), ("heat",), ("sample", "12"), ("dilution", "--soap-percent", "25"), ("titration", "2.3"),
              ("neutralise", "--ph", "10.4"), ("bottles", "1000", "--add", "scent=1/2")], ids=named,
)  # fmt: skip
def test_each_caution_is_said_once(sheet: str, capsys: pytest.CaptureFixture[str], words: tuple[str, ...]) -> None:
    of_batch = words[0] in ("alkali", "heat", "dilution", "neutralise")
    lines = told(capsys, *words, *(("--batch", sheet) if of_batch else ()))
    # The first lines of two cautions differ.
    said = [line for line in lines.splitlines() if line.startswith("   ! ")]
    assert said and len(said) == len(set(said))


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
    assert abs(found["dilution"]["product_g"] - (600 + FLAKES_G + 540 - 8 + 700)) < 1e-6
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


def test_a_paste_sample_is_logged_with_the_time_it_was_taken(cooks: str, capsys: pytest.CaptureFixture[str]) -> None:
    of_cook = ("--cook", "latest", "--recordings", cooks)
    assert "Logged: titrated, 1.2 mL." in told(capsys, "paste", "1.2", "--log", *of_cook)
    event = load(next(Path(cooks).glob("*.cook"))).events[-1]
    assert event.fields == {"acid_ml": 1.2, "acid_mol_l": 0.1, "sample_g": 1.0}
    assert main(["sums", "paste", "1.2", "--log", "--ago", "999", *of_cook]) == 2
    assert "--ago is 999 min; it must be from 0 to 240 min." in capsys.readouterr().err


def test_a_jar_is_logged_portion_by_portion(cooks: str, capsys: pytest.CaptureFixture[str]) -> None:
    of_cook = ("--cook", "latest", "--recordings", cooks)
    first = ("--reading", "0=10.2", "--jar", "120", "--stock-percent", "50")
    assert "add a portion" in told(capsys, "jar", *first, "--log", *of_cook)
    told(capsys, "jar", "--reading", "1=9.9", "--log", *of_cook)
    said = told(capsys, "jar", "--reading", "2=9.6", "--reading", "3=9.2@cloudy", "--log", *of_cook)
    assert "120 g of product" in said and "Logged: jar neutralised, 2 readings." in said
    found = as_json(capsys, "jar", *of_cook)
    assert isinstance(found, dict) and len(found["jar"]["readings"]) == 4
    # By the log, less the 120 g of the jar.
    assert abs(found["dose"]["most_stock_g"] - 2.0 * (PASTE_G - 8 + 700 - 120) / 120) < 1e-6
    told(capsys, "thickening", "--reading", "0=9", "--log", *of_cook)
    fresh = told(capsys, "jar", "--new-jar", "--reading", "0=10.3", *of_cook)
    assert "add a portion" in fresh and "9.90" not in fresh
    kinds = [event.kind for event in load(next(Path(cooks).glob("*.cook"))).events]
    assert kinds[-5:] == ["jar neutralised"] * 4 + ["jar thickened"]


@pytest.mark.parametrize("text", ["five", "2=", "2=9.8@pink"])
def test_a_jar_reading_has_its_form(capsys: pytest.CaptureFixture[str], text: str) -> None:
    with pytest.raises(SystemExit):
        main(["sums", "jar", "--pot", "100", "--reading", text])
    assert "it must be like 2=9.8 or 2=9.8@cloudy" in capsys.readouterr().err


def test_the_oils_are_searched_by_name_or_words(capsys: pytest.CaptureFixture[str]) -> None:
    assert "from memory of CXS 210" in told(capsys, "oils", "palm", "kernel")
    by_source = told(capsys, "oils", "codex", "spec-babassu")
    assert "babassu (triglyceride)" in by_source and "coconut (triglyceride)" not in by_source
    assert len(told(capsys, "oils", "palm", "memory").splitlines()) > 3


def test_the_decision_uses_a_logged_ph(cooks: str, capsys: pytest.CaptureFixture[str]) -> None:
    path = next(Path(cooks).glob("*.cook"))
    log_event(path, make_event("ph", "ph read", START + 200.0, START + 200.0, {"ph": 9.5, "sample_percent": 1.0}))
    assert "pH 9.50  leave" in told(capsys, "neutralise", "--cook", "latest", "--recordings", cooks)


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
        (("alkali", "--batch", "SHEET", "--assay", "150%"), "--assay is 150 %; it must be from 50 to 100 %."),
        (("alkali", "--batch", "SHEET", "--assay", "150"), "--assay is 150; it must be from 0.5 to 1 (a fraction; 3%"),
        (("alkali", "--batch", "SHEET", "--excess", "80%"), "--excess is 80 %; it must be from -20 to 50 %."),
        (("alkali", "--batch", "SHEET", "--carbonate", "15%"), "must be from 0 to 10 %."),
        (("alkali", "--batch", "SHEET", "--cooker", "0"), "--cooker is 0 L; it must be from 0.5 to 200 L."),
        (("alkali", "--batch", "SHEET", "--water", "10"), "--water is 10 g, which makes a lye of 83.5%"),
        (("alkali", "--batch", "SHEET", "--weighed-water", "-4"), "--weighed-water is -4 g; it must be from 0 to"),
        (("alkali", "--batch", "SHEET", "--weighed-koh", "nan"), "--weighed-koh is nan; it must be a number from 0"),
        (("heat", "--batch", "SHEET", "--limit", "20"), "--limit is 20 °C; it must be from 30 to 100 °C."),
        (("sample", "900"), "the paste in the sample is 900 g; it must be from 1 to 200 g."),
        (("dilution", "--soap-percent", "90", "--batch", "SHEET"), "--soap-percent is 90 %; it must be from 2 to 50.8"),
        (("dilution", "--water", "9", "--paste-weighed", "9", "--batch", "SHEET"), "--paste-weighed is 9 g; it must"),
        (("paste", "1", "--log", "--batch", "SHEET"), "--log wants a recording with --cook"),
        (("paste", "--log", "--batch", "SHEET"), "--log wants the millilitres of acid that were run in"),
        (("paste", "101", "--batch", "SHEET"), "the acid run in is 101 mL; it must be from 0 to 100 mL."),
        (("titration", "5", "--acid", "9N"), "--acid is 9 mol/L; it must be from 0.001 to 2 mol/L."),
        (("titration", "500"), "the acid run in is 500 mL; it must be from 0 to 100 mL."),
        (("neutralise", "--ph", "99", "--batch", "SHEET"), "--ph is 99; it must be from 4 to 14."),
        (("neutralise", "--stock-percent", "99", "--batch", "SHEET"), "99 %; it must be from 0.5 to 90 %."),
        (("settle", "--days", "90"), "--days is 90; it must be from 1 to 60."),
        (
            ("bottles", "1000", "--add", "a=30/40", "--add", "b=30/40"),
            "the sum of all --add is 60 %; it must be from 0",
        ),
        (("bottles", "1000", "--filled", "-3", "--log"), "--filled is -3; it must be from 0 to 10000."),
        (("label", "--contents", "0", "--batch", "SHEET"), "--contents is 0 mL; it must be from 5 to 20000 mL."),
        (("neutralise", "--give", "100", "--batch", "SHEET"), "would overshoot"),
        (("neutralise", "--reagent", "vinegar", "--batch", "SHEET"), "not in the table; nearest"),
        (("neutralise", "--ph", "9.6", "--end-ph", "10", "--batch", "SHEET"), "the soap reads 9.6 already"),
        (("neutralise", "--ph", "9.6", "--end-ph", "8.2", "--batch", "SHEET"), "may turn cloudy or part"),
        (("neutralise", "--reagent", "borax", "--batch", "SHEET"), "--borate-warning-read"),
        (("stock", "borax", "-1", "70"), "must be from 0.1"),
        (("jar", "--pot", "100", "--reading=-1=9.8"), "--reading is -1 g; it must be from 0 to 500 g"),
        (("jar", "--pot", "100", "--reading", "2=9.8", "--reading", "1=9.9"), "--reading is 1 g after 2 g"),
        (("jar", "--pot", "100", "--reading", "0=9.8", "--jar", "0"), "--jar is 0 g; it must be from 10 to"),
        ((*JAR[:-2], "--end-ph", "11"), "--end-ph is 11; the jar read 10.2 at first"),
        (
            ("jar", "--pot", "90", "--reading", "0=9.8@cloudy", "--reading", "1=9", "--end-ph", "9"),
            "--reading is cloudy",
        ),
        (("jar", "--pot", "100"), "the jar has no reading"),
        (("jar", "--reading", "0=9.8"), "or grams of product with --pot"),
        (("jar", "--pot", "100", "--reading", "0=9.8", "--reading", "1=9.5"), "name the pH to stop at"),
        (("jar", "--pot", "100", "--reading", "0=9.8", "--log"), "--log wants a recording"),
        ((*HUMP, "--thickener", "borax"), "--borate-warning-read"),
        ((*HUMP, "--thickener", "sugar"), "--thickener is 'sugar'; it must be one of sodium chloride"),
        ((*HUMP, "--wanted", "60"), "--wanted is 60 s; it must be from 8 to 14 s"),
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
    # No name out of the program, such as koh_assay.
    assert not re.search(r"[a-z]_[a-z]", out.err)


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
        (("titration", "2", "--acid", "0.1M"), "write mol of H+ per litre, such as 0.1 or 0.1N"),
        (("alkali", "--excess", "much"), "it must be like 0.03 or 3%"),
        (("dilution",), "--soap-percent"),
    ],
    ids=named,
)
def test_wrong_usage_ends_with_status_2(capsys: pytest.CaptureFixture[str], words: tuple[str, ...], why: str) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["sums", *words])
    assert ended.value.code == 2
    assert why in capsys.readouterr().err


def test_a_number_out_of_the_sheet_is_refused_as_it_stands_there(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "batch.toml"
    path.write_text(SHEET + "[alkali]\nassay = 0.9\ncarbonate = 0.15\n", encoding="utf-8")
    assert main(["sums", "alkali", "--batch", str(path), "--json"]) == 2
    out = capsys.readouterr()
    assert "KOH carbonate is 0.15, which leaves no room" in out.err and "from 0 to 0.1." in out.err and out.out == ""


def test_a_hazy_batch_is_told_step_by_step(sheet: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["sums", "haze", "--batch", sheet, "--hardness", "20", "--warmed", "stays hazy"]) == 0
    said = capsys.readouterr().out
    assert "lime soap" in said and "1. Try a sample first" in said and "! Hot glass breaks" in said
    assert main(["sums", "haze", "--batch", sheet, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["haze"]["steps"][0]["what"] == "Try a sample first"
    assert main(["sums", "haze", "--batch", sheet, "--hardness", "99"]) != 0
    assert "99 degrees; it must be from 0 to 60 degrees" in capsys.readouterr().err
