"""The manual on a phone."""

from pathlib import Path

import pytest
from playwright.sync_api import expect

from dashboard.components.manual_text import INDEX, page_names
from monitor.runtime import SystemClock
from tests.browser.conftest import Phone, taken_over
from tests.dashboard.seeded import Maker

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


def test_an_alarm_leads_to_what_to_do(phone: Phone, tmp_path: Path) -> None:
    maker = Maker(tmp_path, SystemClock(), hours=3.0, power_cut_s=3 * 3600 - 2200)
    page = phone()
    taken_over(page)
    way = page.locator("#wrong").get_by_role("link", name="What to do").first
    box = way.bounding_box()
    assert box is not None and box["height"] >= 56
    way.tap()
    page.wait_for_url("**/manual/alarms#paste-cold")
    expect(page.locator("#paste-cold").last).to_be_in_viewport()
    maker.recorder.close()


def test_a_refused_button_leads_to_what_the_manual_says_of_it(phone: Phone) -> None:
    page = phone("/set-up/push", refusals=True)
    taken_over(page)
    page.get_by_label("Address").fill("nothing")
    page.get_by_role("button", name="Add it").tap()
    page.locator(".sends").get_by_role("link", name="What to do").tap()
    page.wait_for_url("**/manual?words=*")
    expect(page.locator("#manual-found section").first).to_contain_text("notices.toml")
