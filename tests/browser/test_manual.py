"""The manual on a phone."""

import pytest
from playwright.sync_api import expect

from dashboard.manual_text import INDEX, page_names
from tests.browser.conftest import Phone, taken_over

pytestmark = pytest.mark.browser


def test_a_word_is_found_as_it_is_typed_and_leads_to_its_passage(phone: Phone) -> None:
    page = phone("/manual")
    taken_over(page)
    page.get_by_label("An alarm, a refusal, any word").fill("paste cooling")
    page.get_by_role("link", name="paste cooling").tap()
    page.wait_for_url("**/manual/alarms#paste-cooling")
    expect(page.locator("#paste-cooling").last).to_be_in_viewport()
    taken_over(page)
    expect(page.locator("#paste-cooling").last).to_be_in_viewport()


def test_no_page_is_wider_than_a_narrow_phone_and_ways_can_be_hit_with_a_glove(phone: Phone) -> None:
    page = phone("/manual", 360)
    for name in page_names():
        page.goto(page.url.split("/manual")[0] + ("/manual" if name == INDEX else f"/manual/{name}"))
        taken_over(page)
        assert page.evaluate("document.documentElement.scrollWidth") == 360, name
        # A link within a sentence is as large as its line (WCAG 2.2, 2.5.8, inline).
        small = page.locator("main :is(.ways a, .contents a, header a, summary, input):visible").evaluate_all(
            "(all) => all.filter((one) => one.getBoundingClientRect().height < 56).map((one) => one.outerHTML)"
        )
        assert small == [], name
