"""The stock's page and addresses: a shelf filled, drawn from and corrected, as CSV, and mistakes in one sentence."""

import io
from collections.abc import Iterator, Mapping
from pathlib import Path

import pandas as pd
import pytest
from flask.testing import FlaskClient

from dashboard.app import make_app
from dashboard.routes.stock import MOST_IMPORT_BYTES
from monitor.runtime.clock import JumpClock
from monitor.session import CookLibrary
from monitor.stock import COLUMNS, read_stock
from monitor.storage import keep_sheet, load
from tests.dashboard.dash_requests import answer_of, page_of
from tests.dashboard.seeded import Maker

KEY = "a-key-for-tests"
OURS = {"Sec-Fetch-Site": "same-origin"}
OIL = {"kind": "oil", "name": "rapeseed", "lot": "R 7", "amount": "1000", "price": "8,50", "currency": "eur"}
KOH = {"kind": "alkali", "name": "KOH", "lot": "K1", "amount": "500", "price": "6", "currency": "EUR", "assay": "88,5"}
BOTTLES = {"kind": "bottle", "bottle_ml": "250", "amount": "12", "price": "6", "currency": "EUR"}


@pytest.fixture
def maker(tmp_path: Path) -> Iterator[Maker]:
    made = Maker(tmp_path, JumpClock(), hours=0.2)
    yield made
    made.recorder.close()


@pytest.fixture
def client(maker: Maker, tmp_path: Path) -> FlaskClient:
    client = make_app(CookLibrary(tmp_path), KEY).test_client()
    client.get(f"/?key={KEY}")
    return client


def sent(client: FlaskClient, path: str, body: Mapping[str, object], uid: str = "") -> str:
    """The sentence of a refusal, else where the answer leads."""
    answer = client.post(path, json={**body, "id": uid or f"{path}-{len(str(body))}".replace("/", "-")}, headers=OURS)
    assert answer.status_code in (200, 400), answer.text
    return str(answer.get_json()["to"]) if answer.status_code == 200 else str(answer.text)


@pytest.fixture
def filled(client: FlaskClient) -> FlaskClient:
    for n, one in enumerate((OIL, KOH, BOTTLES)):
        assert sent(client, "/stock/add", one, f"bought-{n}") == "/bench/stock"
    return client


def test_a_purchase_is_on_the_shelf_once_with_its_certificate(filled: FlaskClient, tmp_path: Path) -> None:
    sent(filled, "/stock/add", {**KOH, "back": "cook=x"}, "bought-1")
    oil, koh, bottles = read_stock(tmp_path).shelf.lots
    assert [f"{one:f}" for one in (oil.price or 0, koh.assay or 0, bottles.left)] == ["8.50", "0.885", "12"]
    page = page_of(filled, "/bench/stock")
    assert "1000 g left" in page and "assay 88.5%" in page and "8.50 EUR per kg" in page and "0.50 EUR each" in page


def test_an_opened_purchase_is_two_entries(client: FlaskClient, tmp_path: Path) -> None:
    sent(client, "/stock/add", {**OIL, "opened": "yes"}, "bought-open")
    sent(client, "/stock/add", {**OIL, "opened": "yes"}, "bought-open")
    assert [one.movement for one in read_stock(tmp_path).movements] == ["bought", "opened"]


def test_a_cook_takes_over_certificates_and_gives_back(filled: FlaskClient, maker: Maker, tmp_path: Path) -> None:
    name = maker.path.stem
    page = page_of(filled, "/bench/stock", f"?cook={name}")
    assert "assay 88.5% of its certificate, was 90.0%" in page and "Take it for this batch" in page
    body = {"cook": name, "bottles": "10", "bottle_ml": "250", "back": f"cook={name}"}
    for _ in range(2):
        assert sent(filled, "/stock/take", body, "taken-once") == f"/bench/stock?cook={name}"
    batch = load(maker.path).batch
    assert batch is not None
    assert (batch.oils[0].lot, batch.alkali.lot, batch.alkali.assay) == ("R 7", "K1", 0.885)
    assert [f"{lot.left:f}" for lot in read_stock(tmp_path).shelf.lots][::2] == ["400.0", "2"]
    assert sent(filled, "/stock/take", body, "taken-twice").startswith(f"{name[:1]}{name[1:]} has taken from the shelf")
    assert "It has taken from the shelf." in page_of(filled, "/bench/stock", f"?cook={name}")
    for _ in range(2):
        sent(filled, "/stock/give-back", {"batch": name}, "given-back")
    assert f"{read_stock(tmp_path).shelf.lots[0].left:f}" == "1000.0"


def test_the_cost_of_a_bottle_follows_what_is_typed(filled: FlaskClient, maker: Maker) -> None:
    def said(bottles: str) -> str:
        asked = {("stock-bottles", "value"): bottles, ("stock-bottle-ml", "value"): "250"}
        batch = {"cook": maker.path.stem, "sheet": ""}
        return answer_of(filled, ("stock-takes", "children"), asked, states={("stock-batch", "data"): batch})

    # By hand: 600 g of 8.50 a kg are 5.10, 129.5 g of flakes at 12 a kg 1.55, ten bottles of 0.50 are 5.00.
    assert "Cost: 11.65 EUR" in said("10") and ", 1.17 EUR a bottle." in said("10")
    assert "Short of bottles of 250 mL: 20 wanted, 12 on the shelf." in said("20")
    for nothing in ("0", "-1"):
        assert f"The number of bottles is {nothing}; it must be from 1 to 10000." in said(nothing)
    assert "2.5 bottles are no whole number" in said("2.5")


def test_a_kept_sheet_takes_over_the_shelf(filled: FlaskClient, maker: Maker, tmp_path: Path) -> None:
    batch = load(maker.path).batch
    assert batch is not None
    keep_sheet(tmp_path, batch, "next one")
    assert "Kept sheets" in page_of(filled, "/bench/stock")
    assert sent(filled, "/stock/take", {"sheet": "next-one", "back": "sheet=next-one"}) == "/bench/stock?sheet=next-one"
    assert 'lot = "R 7"' in (tmp_path / "sheets" / "next-one.toml").read_text(encoding="utf-8")


def test_a_lot_is_counted_thrown_away_and_opened_and_a_mistake_taken_back(filled: FlaskClient, tmp_path: Path) -> None:
    lot = {"kind": "oil", "name": "rapeseed", "lot": "R 7", "bottle_ml": ""}
    sent(filled, "/stock/lot", {**lot, "movement": "counted", "amount": "950,5"}, "counted-1")
    sent(filled, "/stock/lot", {**lot, "movement": "opened"}, "opened-1")
    for _ in range(2):
        sent(filled, "/stock/lot", {**lot, "movement": "discarded", "amount": "900"}, "spilt-1")
    (oil, *_) = read_stock(tmp_path).shelf.lots
    assert (f"{oil.left:f}", oil.opened_at is not None) == ("50.5", True)
    assert "less than 60" in sent(filled, "/stock/lot", {**lot, "movement": "discarded", "amount": "60"}, "spilt-2")
    for _ in range(2):
        sent(filled, "/stock/take-back", {"entry": "spilt-1"})
    assert f"{read_stock(tmp_path).shelf.lots[0].left:f}" == "950.5"


@pytest.mark.parametrize(
    ("body", "why"),
    [
        ({**OIL, "currency": "SEK"}, "A price is in SEK, and this stock counts in EUR; say what it is in EUR."),
        ({**OIL, "amount": "1,500"}, "The amount is '1,500'; it must be a plain number such as 12.50."),
        ({**OIL, "name": " "}, "The thing has no name."),
        ({**KOH, "assay": "20"}, "The assay is '20'; it must be from 50 to 100 %."),
        ({**KOH, "assay": "snan"}, "The assay is 'snan'; it must be from 50 to 100 %."),
        ({**BOTTLES, "bottle_ml": "0"}, "The bottle's size in mL is 0; it must be from 5 to 20000."),
        ({**BOTTLES, "amount": "0"}, "0 pieces of bottles are nothing to be bought."),
        ({**OIL, "kind": "oli"}, "The kind is 'oli'; the nearest is 'oil'."),
    ],
)
def test_a_mistake_is_one_sentence_and_nothing_is_lost(
    filled: FlaskClient, tmp_path: Path, body: dict[str, object], why: str
) -> None:
    before = (tmp_path / "stock.csv").read_bytes()
    assert sent(filled, "/stock/add", body, "a-mistake") == why
    assert (tmp_path / "stock.csv").read_bytes() == before


def test_an_empty_shelf_is_said(client: FlaskClient, maker: Maker) -> None:
    assert "The shelf is empty. Add what you bought" in page_of(client, "/bench/stock")
    said = sent(client, "/stock/take", {"cook": maker.path.stem})
    assert said == "The shelf is empty, so nothing can be taken from it."


def test_the_file_goes_out_and_comes_in_once(filled: FlaskClient, tmp_path: Path) -> None:
    answer = filled.get("/stock.csv")
    assert "attachment" in answer.headers["Content-Disposition"]
    assert list(pd.read_csv(io.StringIO(answer.text)).columns) == list(COLUMNS)
    more = "movement,kind,name,amount\nbought,other,distilled water,5000\n"
    for text in (answer.text, more, more):
        sent(filled, "/stock/import", {"text": text}, f"file-{len(text)}")
    assert len(read_stock(tmp_path).movements) == 4
    wrong = more + "bought,oil,olive,-1\n"
    assert sent(filled, "/stock/import", {"text": wrong}, "file-wrong").startswith("Line 3: the amount is '-1'")
    assert len(read_stock(tmp_path).movements) == 4
    assert sent(filled, "/stock/import", {"text": ""}, "file-empty") == "Choose a CSV file first."


def test_a_file_may_be_larger_than_other_requests_and_is_bounded(client: FlaskClient, tmp_path: Path) -> None:
    row = "bought,other,water,5,{}\n"
    rows = "movement,kind,name,amount,id\n" + "".join(row.format(f"row-{n}") for n in range(1100))
    assert 24_000 < len(rows) < MOST_IMPORT_BYTES
    sent(client, "/stock/import", {"text": rows}, "file-long")
    assert len(read_stock(tmp_path).movements) == 1100
    told = sent(client, "/stock/import", {"text": rows + "x" * 30_000}, "file-longer")
    assert told == "The file has more than 48 kB; import it with kettleside stock import."
    long = {"text": "x" * 70_000, "id": "file-longest"}
    assert client.post("/stock/import", json=long, headers=OURS).status_code == 413
    assert client.post("/stock/add", json={**OIL, "note": "x" * 20_000}, headers=OURS).status_code == 413


def test_hostile_names_are_escaped(client: FlaskClient) -> None:
    sent(client, "/stock/add", {**OIL, "name": "<script>alert(1)</script>", "lot": '"><b>'})
    page = client.get("/bench/stock").text
    assert "<script>alert(1)" not in page and '"><b>' not in page and "&lt;script&gt;" in page
