"""``kettleside stock``: a shelf filled, drawn from and counted on the command line, and mistakes in one sentence."""

import json
from pathlib import Path

import pytest

from monitor.cli import main
from monitor.formulation import read_sheet
from monitor.runtime import SystemClock
from monitor.storage import Recorder, load


@pytest.fixture
def here(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> tuple[str, str]:
    at = ("--recordings", str(tmp_path))
    value = ("--saponification-value", "189.2")
    for words in (
        ("add", "oil", "olive", "2000", "--lot", "R-11", "--price", "24.50 EUR", *value, "--opened"),
        ("add", "oil", "coconut", "500", "--price", "5,25eur"),
        ("add", "alkali", "KOH", "1000", "--lot", "K55", "--price", "12 EUR", "--assay", "88.5%"),
        ("add", "bottle", "250", "20", "--price", "14 EUR"),
    ):
        assert main(["stock", *words, *at]) == 0
    oils = ("--oil", "olive=700", "--oil", "coconut=300", "--title", "Hand soap", "--keep")
    assert main(["plan", "batch", *oils, *at]) == 0
    capsys.readouterr()
    return at


def told(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    assert main(["stock", *words]) == 0
    out = capsys.readouterr()
    assert out.err == ""
    return out.out


def test_the_shelf_is_told_lot_by_lot(here: tuple[str, str], capsys: pytest.CaptureFixture[str]) -> None:
    said = told(capsys, "show", *here).splitlines()
    assert said[0].startswith("      2000 g  olive, lot R-11, open since 20")
    assert said[0].endswith("saponification value 189.2, 12.25 EUR per kg")
    assert said[2:] == [
        "      1000 g  KOH, lot K55, assay 88.5%, 12.00 EUR per kg",
        "          20  bottles of 250 mL, 0.70 EUR each",
    ]
    assert told(capsys, "show", "coco", *here) == "       500 g  coconut, 10.50 EUR per kg\n"


def test_a_batch_takes_pays_and_takes_over_certificates(
    here: tuple[str, str], capsys: pytest.CaptureFixture[str]
) -> None:
    look = told(capsys, "take", "--batch", "hand-soap", "--bottles", "10", "--look", *here)
    assert "would take:" in look and "olive, lot R-11: 8.58 EUR" in look
    # By hand: 8.575 + 3.15 + 12 * 0.243 + 7.00; KOH 700 g at 189.2 and 300 g of the table's coconut, flakes of 88.5 %.
    taken = json.loads(
        told(capsys, "take", "--batch", "hand-soap", "--bottles", "10", "--for", "Lot 7", "--json", *here)
    )
    flakes = next(one["draws"][0]["amount"] for one in taken["draws"] if one["need"]["kind"] == "alkali")
    assert taken["cost"]["total"] == f"{8.575 + 3.15 + 0.012 * float(flakes) + 7.0:.2f}"
    assert taken["cost"]["per_bottle"] == f"{float(taken['cost']['total']) / 10:.2f}"
    sheet = read_sheet((Path(here[1]) / "sheets" / "hand-soap.toml").read_text(encoding="utf-8"))
    assert (sheet.oils[0].lot, sheet.oils[0].saponification_value, sheet.alkali.assay) == ("R-11", 189.2, 0.885)
    assert "1300 g  olive" in told(capsys, "show", "olive", *here)
    assert "Back on the shelf: 10 bottles of 250 mL." in told(capsys, "give-back", "lot 7", *here)
    assert "2000 g  olive" in told(capsys, "show", "olive", *here)


def test_a_plan_says_what_it_costs_and_takes_over_the_shelf(
    here: tuple[str, str], capsys: pytest.CaptureFixture[str]
) -> None:
    oils = ("--oil", "olive=70%", "--oil", "coconut=30%", "--bottles", "12", "--from-shelf")
    assert main(["plan", "batch", *oils, *here]) == 0
    said = capsys.readouterr().out
    assert "Olive of lot R-11: saponification value 189.2 of its certificate, was" in said
    assert "12  bottles of 250 mL" in said and " EUR a bottle." in said


def test_an_oil_on_the_shelf_is_used_up(here: tuple[str, str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["plan", "batch", "--from", "hand-soap", "--use-up", "Coconut oil", *here]) == 0
    assert "     500.0 g  coconut   30.0%" in capsys.readouterr().out
    assert main(["plan", "batch", "--from", "hand-soap", "--use-up", "castor", *here]) == 2
    assert "there is no castor on the shelf; say how much there is, such as castor=455" in capsys.readouterr().err


def test_a_past_cook_takes_what_it_weighed(capsys: pytest.CaptureFixture[str]) -> None:
    said = told(capsys, "take", "--cook", "invented-smooth", "--look", "--recordings", "recordings")
    assert said.startswith("2026-05-02T090000Z-invented-smooth would take:\n")
    assert "none on the shelf" in said


def test_a_cooks_sheet_takes_over_the_certificates(
    here: tuple[str, str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sheet = (tmp_path / "sheets" / "hand-soap.toml").read_text(encoding="utf-8")
    made = Recorder.create(tmp_path, SystemClock().anchor(), rig="cooker", source="rig:", sheet=sheet)
    made.close()
    name = made.path.stem
    assert "would take" in told(capsys, "take", "--cook", "latest", "--look", *here)
    before = load(made.path).batch
    assert before is not None and before.oils[0].lot == ""
    said = told(capsys, "take", "--cook", "latest", *here)
    assert f"The sheet has them now: the cook {name}" in said and "assay 88.5% of its certificate" in said
    batch = load(made.path).batch
    assert batch is not None
    assert (batch.oils[0].lot, batch.oils[0].certified, batch.alkali.assay, batch.alkali.lot) == (
        *("R-11", True),
        *(0.885, "K55"),
    )


def test_the_latest_entry_is_taken_back(here: tuple[str, str], capsys: pytest.CaptureFixture[str]) -> None:
    assert told(capsys, "undo", *here) == "Taken back: bought 20 bottles of 250 mL.\n"
    assert "bottles" not in told(capsys, "show", *here)


def test_a_lot_is_counted_discarded_and_opened(here: tuple[str, str], capsys: pytest.CaptureFixture[str]) -> None:
    assert told(capsys, "discard", "olive", "300", *here).startswith("      1700 g  olive")
    assert told(capsys, "count", "KOH", "990", *here).startswith("       990 g  KOH")
    assert "open since" in told(capsys, "open", "Coconut oil", *here)
    assert told(capsys, "count", "250", "18", *here).startswith("          18  bottles")


def test_the_stock_goes_out_and_comes_in_as_csv(
    here: tuple[str, str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file, other = tmp_path / "out.csv", tmp_path / "other"
    other.mkdir()
    assert told(capsys, "export", str(file), *here).startswith("5 movements in ")
    assert told(capsys, "import", str(file), "--recordings", str(other)) == "5 new movements.\n"
    assert told(capsys, "import", str(file), "--recordings", str(other)) == "0 new movements.\n"
    assert (other / "stock.csv").read_bytes() == file.read_bytes() == (tmp_path / "stock.csv").read_bytes()


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("add", "oil", "castor", "500", "--price", "5 USD"), "a price is in USD, and this stock counts in EUR"),
        (("add", "oil", "castor", "0"), "0 g of castor is nothing to be bought"),
        (("add", "oil", "castor", "-5"), "the amount is '-5'"),
        (("add", "bottle", "0", "3"), "the bottle's size in mL is 0; it must be from 5 to 20000"),
        (("add", "bottle", "250", "0"), "0 pieces of bottles are nothing to be bought"),
        (("discard", "coconut", "1000"), "there are 500 g of coconut, less than 1000"),
        (("open", "palm"), "there is no palm on the shelf"),
        (("count", "olive", "5", "--lot", "x"), "there is no lot x of olive; there are: R-11"),
        (("take", "--batch", "nothing"), "there is no kept sheet and no sheet's file called 'nothing'"),
        (("take", "--batch", "hand-soap", "--bottles", "0"), "the number of bottles is 0; it must be from 1 to 10000"),
        (("take", "--batch", "hand-soap", "--bottles", "30"), "short of bottles of 250 mL: 30 wanted, 20 on the shelf"),
        (("give-back", "nothing"), "nothing has taken nothing from the shelf"),
        (("import", "none.csv"), "none.csv: no such file or directory"),
    ],
)
def test_a_mistake_is_one_sentence(
    here: tuple[str, str], capsys: pytest.CaptureFixture[str], words: tuple[str, ...], why: str
) -> None:
    before = (Path(here[1]) / "stock.csv").read_bytes()
    assert main(["stock", *words, *here]) == 2
    out = capsys.readouterr()
    assert out.out == "" and why in out.err and out.err.count("\n") == 1
    assert (Path(here[1]) / "stock.csv").read_bytes() == before


def test_an_empty_shelf_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "The shelf is empty" in told(capsys, "show", "--recordings", str(tmp_path))
    assert main(["plan", "batch", "--oil", "olive=500", "--from-shelf", "--recordings", str(tmp_path)]) == 2
    assert "the shelf is empty" in capsys.readouterr().err
