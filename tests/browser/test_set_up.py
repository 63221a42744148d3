"""Set-up as a person goes through it, in a real Chromium."""

from pathlib import Path

import pytest
from playwright.sync_api import expect

from monitor.runtime import SystemClock
from tests.browser.conftest import Phone, taken_over
from tests.dashboard.seeded import Maker
from tests.notifications.catchers import post_catcher

pytestmark = pytest.mark.browser


def test_a_push_service_is_added_joined_and_tested_in_six_taps(phone: Phone, tmp_path: Path) -> None:
    with post_catcher() as service:
        page = phone("/set-up/push")
        page.get_by_label("Address").fill(f"json://127.0.0.1:{service.port}/TOPIC")
        page.get_by_role("button", name="Add it").tap()
        expect(page.get_by_alt_text("The link as a square code")).to_be_visible()
        taken_over(page)
        page.get_by_role("button", name="Send a test").tap()
        expect(page.locator("#push-told")).to_contain_text("Phone took the test.", timeout=60_000)
        (told,) = service.posts
        assert told["message"] == "kettleside says more." and told["title"].endswith(": test")
        page.get_by_role("button", name="It came").tap()
        expect(page.get_by_text("Noted.")).to_be_visible()
        page.get_by_text("Take it away", exact=True).tap()
        page.get_by_role("button", name="Yes, take it away").tap()
        expect(page.get_by_text("1. Name the service")).to_be_visible()


def test_the_rows_tick_themselves_and_nothing_moves(phone: Phone, tmp_path: Path) -> None:
    maker = Maker(tmp_path, SystemClock(), hours=0.5)
    page = phone("/set-up")
    rows = page.locator("#ready")
    expect(rows.get_by_role("link", name="Probe heard")).to_contain_text("paste: ")
    done = [row.split("Done.")[0].strip() for row in page.locator("#ready .done").all_inner_texts()]
    assert [
        words for words in ("Probe heard", "Batch sheet there", "Phone paired") if not any(words in one for one in done)
    ] == []
    shift = """() => new Promise((tell) => {
        new PerformanceObserver((seen) => tell(seen.getEntries().reduce((sum, one) => sum + one.value, 0)))
            .observe({ type: "layout-shift", buffered: true });
        setTimeout(() => tell(0), 1000);
    })"""
    assert page.evaluate(shift) <= 0.02
    page.get_by_role("button", name="Ring once").tap()
    page.get_by_role("button", name="I heard it").tap()
    expect(rows.get_by_role("link", name="Sound tried")).to_contain_text("Somebody heard it.", timeout=20_000)
    maker.recorder.close()


@pytest.mark.parametrize("path", ["/set-up", "/set-up/push", "/set-up/tls", "/phones"])
def test_nothing_is_wider_than_a_narrow_phone_and_all_can_be_hit_with_a_glove(phone: Phone, path: str) -> None:
    page = phone(path, 360)
    assert page.evaluate("document.documentElement.scrollWidth") == 360
    small = page.locator("main :is(a, button, summary, input):visible").evaluate_all(
        "(all) => all.filter((one) => one.getBoundingClientRect().height < 56).map((one) => one.outerHTML)"
    )
    assert small == []


def test_the_browser_itself_says_whether_a_page_is_secure(phone: Phone) -> None:
    # To a browser the loopback is secure without TLS (W3C, Secure Contexts, section 3.1).
    expect(phone("/set-up/tls").locator("#secure")).to_contain_text("Yes: this page is secure.")
