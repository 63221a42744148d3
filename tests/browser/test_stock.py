"""The stock on a phone in a real Chromium: a shelf filled, a batch that takes from it, a file out and in, taps counted."""

from collections.abc import Iterator
from pathlib import Path

import pandas as pd
import pytest
from playwright.sync_api import Page, expect

from monitor.runtime import SystemClock
from monitor.stock import read_stock
from monitor.storage import load
from tests.browser.conftest import Phone, taken_over
from tests.dashboard.seeded import Maker

pytestmark = pytest.mark.browser


@pytest.fixture
def maker(tmp_path: Path) -> Iterator[Maker]:
    made = Maker(tmp_path, SystemClock(), hours=0.2)
    yield made
    made.recorder.close()


class Thumb:
    """Taps on a page, counted; a field that is tapped is typed into."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.taps = 0

    def open(self, words: str) -> None:
        self.page.locator("summary", has_text=words).first.tap()
        self.taps += 1

    def types(self, label: str, text: str) -> None:
        field = self.page.locator("[open]").get_by_label(label, exact=True)
        field.tap()
        field.fill(text)
        self.taps += 1

    def presses(self, words: str) -> None:
        """Taps a button after which the page comes anew."""
        self.page.evaluate("document.documentElement.dataset.before = 'yes'")
        self.page.locator("[open]").get_by_role("button", name=words, exact=True).tap()
        self.page.locator("html:not([data-before])").wait_for(state="attached")
        taken_over(self.page)
        self.taps += 1


def test_a_shelf_is_filled_and_a_batch_takes_from_it(maker: Maker, phone: Phone, tmp_path: Path) -> None:
    page = phone("/bench/stock", refusals=True)
    thumb = Thumb(page)
    expect(page.get_by_text("The shelf is empty.")).to_be_visible()
    thumb.open("An oil")
    for label, text in (("Oil", "rapeseed"), ("Bought, g", "1000"), ("Lot", "R7"), ("Paid for it all", "8,50")):
        thumb.types(label, text)
    thumb.types("Saponification value of its certificate, mg KOH/g", "189.2")
    thumb.presses("Put it on the shelf")
    assert thumb.taps == 7
    thumb.open("Potassium or sodium hydroxide")
    for label, text in (("Bought, g", "500"), ("Paid for it all", "6"), ("Assay of its certificate, %", "88.5")):
        thumb.types(label, text)
    thumb.presses("On the shelf, already open")
    assert thumb.taps == 12
    expect(page.get_by_text("assay 88.5% of its certificate, was 90.0%")).to_be_visible()
    expect(page.get_by_text("EUR a bottle")).to_have_count(0)
    page.get_by_role("button", name="Take it for this batch").tap()
    expect(page.get_by_text("It has taken from the shelf.")).to_be_visible()
    batch = load(maker.path).batch
    assert batch is not None
    assert (batch.oils[0].lot, batch.oils[0].certified, batch.alkali.assay) == ("R7", True, 0.885)


def test_a_price_in_another_currency_is_one_sentence_and_what_was_typed_stays(maker: Maker, phone: Phone) -> None:
    page = phone("/bench/stock", refusals=True)
    thumb = Thumb(page)
    thumb.open("Anything else")
    for label, text in (("What, such as distilled water", "scent"), ("Bought, g", "50"), ("Paid for it all", "4")):
        thumb.types(label, text)
    thumb.presses("Put it on the shelf")
    thumb.open("An oil")
    for label, text in (("Oil", "olive"), ("Bought, g", "500"), ("Paid for it all", "9"), ("Currency", "SEK")):
        thumb.types(label, text)
    page.locator("[open]").get_by_role("button", name="Put it on the shelf", exact=True).tap()
    expect(page.get_by_text("A price is in SEK, and this stock counts in EUR; say what it is in EUR.")).to_be_visible()
    expect(page.locator("[open]").get_by_label("Oil", exact=True)).to_have_value("olive")


def test_the_file_is_kept_and_read_in(maker: Maker, phone: Phone, tmp_path: Path) -> None:
    rows = "movement,kind,name,amount,price,currency\nbought,oil,rapeseed,1000,8.50,EUR\n"
    table = tmp_path / "mine.csv"
    table.write_text(rows, encoding="utf-8")
    page = phone("/bench/stock")
    with page.expect_file_chooser() as chooser:
        page.get_by_role("button", name="Choose a CSV file").tap()
    chooser.value.set_files(table)
    expect(page.get_by_text("mine.csv is chosen.")).to_be_visible()
    page.get_by_role("button", name="Read it in").tap()
    expect(page.get_by_text("1000 g left")).to_be_visible()
    taken_over(page)
    with page.expect_download() as download:
        page.get_by_role("link", name="Keep it as CSV").tap()
    assert pd.read_csv(download.value.path())["name"].tolist() == ["rapeseed"]
    assert len(read_stock(tmp_path).movements) == 1
