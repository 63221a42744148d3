"""A batch planned on a phone from nothing to a kept sheet, its day, and the cook that begins with it."""

from pathlib import Path

import pytest
from playwright.sync_api import Locator, Page, expect

from monitor.storage import kept_sheets, recordings, summary
from tests.browser.conftest import Phone, keep_picture, taken_over

pytestmark = pytest.mark.browser

TARGET_PX = 56


class Hand:
    """A person's hand: counts the taps, of which a field that is typed into takes one."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.taps = 0

    def tap(self, target: Locator) -> None:
        target.tap()
        self.taps += 1

    def button(self, words: str) -> None:
        self.tap(self.page.get_by_role("button", name=words, exact=True))

    def types(self, label: str, text: str, row: int = 0) -> None:
        field = self.page.get_by_label(label, exact=True).nth(row)
        self.tap(field)
        field.fill(text)


def out(page: Page, place: str) -> Locator:
    return page.locator(f'#bench-top [data-out="{place}"]')


def fits(page: Page, width: int) -> None:
    """No sideways scroll, and everything to tap is big enough for a glove."""
    page.evaluate("document.querySelectorAll('details').forEach((each) => { each.open = true; })")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    small = page.evaluate(
        """(least) => [...document.querySelectorAll('main button, main a, main input, main summary')]
            .filter((target) => target.offsetParent !== null)
            .map((target) => [target.outerHTML.slice(0, 80), target.getBoundingClientRect()])
            .filter(([, box]) => box.height < least || box.width < least)
            .map(([text, box]) => `${text}: ${box.width} x ${box.height}`)""",
        TARGET_PX,
    )
    assert small == []


def test_from_nothing_to_a_kept_sheet_its_day_and_a_cook(phone: Phone, tmp_path: Path) -> None:
    page = phone("/bench")
    hand = Hand(page)
    hand.tap(page.get_by_role("link", name="Plan a batch"))
    taken_over(page)
    hand.types("Oil", "olive")
    hand.types("Part of all oils", "70")
    hand.button("Another oil")
    hand.types("Oil", "coconut", row=1)
    expect(out(page, "koh")).to_have_text("241 g")
    # What the hand weighs stays in sight while somebody types further down.
    hand.button("the pot")
    hand.types("The pot, to the rim", "3.5")
    expect(out(page, "oil")).to_have_text("1222 g")
    hand.types("Title", "Hand soap")
    box = out(page, "koh").bounding_box()
    assert box and 0 <= box["y"] < 200
    keep_picture(page, "plan-batch")
    hand.button("Keep this batch sheet")
    page.wait_for_url("**/bench/sheets/hand-soap")
    assert hand.taps == 9
    (kept,) = kept_sheets(tmp_path)
    assert kept.batch is not None and kept.batch.cooker_litres == 3.5
    taken_over(page)
    hand.tap(page.get_by_role("link", name="Plan its day"))
    taken_over(page)
    expect(out(page, "clear")).to_contain_text("–")
    hand.tap(page.locator("summary", has_text="Day: "))
    hand.tap(page.get_by_role("button", name="tomorrow"))
    hand.types("At, such as 14.30", "14")
    expect(out(page, "start")).to_contain_text("14:00")
    expect(page.locator("#bench-picture .js-plotly-plot")).to_be_visible()
    keep_picture(page, "plan-day")
    assert hand.taps == 13
    page.get_by_role("link", name="Bench").first.tap()
    taken_over(page)
    hand.tap(page.get_by_role("link", name="Kept sheets"))
    hand.tap(page.get_by_role("link", name="Hand soap"))
    taken_over(page)
    hand.button("Begin a cook with this sheet")
    page.wait_for_url("**/?cook=*")
    (recorded,) = recordings(tmp_path)
    assert summary(recorded).title == "Hand soap"


@pytest.mark.parametrize("path", ["/bench/plan", "/bench/day", "/bench/sheets"])
@pytest.mark.parametrize(("width", "scheme"), [(390, "dark"), (360, "light")])
def test_the_pages_fit_and_their_targets_are_big(phone: Phone, path: str, width: int, scheme: str) -> None:
    fits(phone(path, width, 844, scheme, refusals=True), width)


def test_on_a_wide_screen_inputs_are_left_and_results_right(phone: Phone) -> None:
    page = phone("/bench/plan", 1280, 900)
    page.get_by_label("Oil", exact=True).fill("olive")
    expect(out(page, "koh")).to_have_text("219 g")
    left, right = page.locator("#bench-inputs").bounding_box(), page.locator("#bench-results").bounding_box()
    assert left and right and left["x"] + left["width"] <= right["x"]


def test_what_was_typed_outlasts_a_refusal_and_a_reload(phone: Phone) -> None:
    page = phone("/bench/plan", refusals=True)
    page.get_by_label("Oil", exact=True).fill("olive")
    page.get_by_label("Part of all oils").fill("80")
    refusal = page.locator(".refusal", has_text="The shares of the oils add up to 80 %; 20 % is missing.")
    expect(refusal.first).to_be_visible()
    expect(out(page, "koh")).to_have_text("–")
    page.reload()
    taken_over(page)
    expect(page.get_by_label("Oil", exact=True)).to_have_value("olive")
    expect(page.get_by_label("Part of all oils")).to_have_value("80")
    page.get_by_label("Part of all oils").fill("100")
    expect(out(page, "koh")).to_have_text("219 g")
    page.goto(page.url.replace("/plan", "/day"))
    taken_over(page)
    page.get_by_label("At, such as 14.30").fill("25")
    expect(page.locator(".field .refusal", has_text="write it like 14:00")).to_be_visible()
    page.reload()
    taken_over(page)
    expect(page.get_by_label("At, such as 14.30")).to_have_value("25")
