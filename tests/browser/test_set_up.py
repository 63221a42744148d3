"""Set-up as a person goes through it, in a real Chromium."""

from pathlib import Path

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import Phone, taken_over
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
