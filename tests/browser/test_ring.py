"""The open page rings for what is due, answers it at a tap, and tries the notices."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from monitor.runtime import SystemClock
from monitor.storage import load
from tests.browser.conftest import Phone
from tests.cli.processes import until
from tests.dashboard.seeded import Maker
from tests.notifications.catchers import post_catcher
from tests.notifications.test_settings import settings_file

pytestmark = pytest.mark.browser

# Counts the tones that the page has a browser play, and the shakes.
COUNT = """
window.tones = 0;
const start = OscillatorNode.prototype.start;
OscillatorNode.prototype.start = function (...at) { window.tones += 1; return start.apply(this, at); };
Object.defineProperty(navigator, "vibrate", { value: () => { window.shakes = (window.shakes || 0) + 1; return true; } });
"""


@pytest.fixture
def maker(tmp_path: Path) -> Iterator[Maker]:
    made = Maker(tmp_path, SystemClock(), hours=2.6)
    made.went_on(SystemClock().now() - made.started)
    yield made
    made.recorder.close()


def tones(page: Page) -> int:
    return int(page.evaluate("window.tones"))


def test_the_page_rings_once_for_each_alert_and_one_tap_answers_all(maker: Maker, phone: Phone, tmp_path: Path) -> None:
    page = phone()
    page.evaluate(COUNT)
    expect(page.locator("#sound")).to_have_text("Sound here: off")
    page.locator("#sound").tap()
    expect(page.locator("#sound")).to_have_text("Sound here: on")
    assert tones(page) == 3 and page.evaluate("window.shakes") == 1
    maker.log("lid off", SystemClock().now() - maker.started - 1200)
    until(lambda: tones(page) == 6)
    expect(page.locator("#wrong")).to_contain_text("The lid has been off")
    expect(page.locator("#seen")).to_have_text("Stop the ringing")
    # One thing that is wrong is answered by another word.
    expect(page.locator("#wrong [data-seen]").first).to_have_text("Seen")
    page.locator("#seen").tap()
    expect(page.locator("#seen")).to_be_hidden()
    until(lambda: "lid left off" in [e.fields["condition"] for e in load(maker.path).events_of("acknowledged")])
    assert tones(page) == 6


def test_without_a_first_tap_the_page_is_silent(maker: Maker, phone: Phone) -> None:
    page = phone()
    page.evaluate(COUNT)
    maker.log("lid off", SystemClock().now() - maker.started - 1200)
    expect(page.locator("#wrong")).to_contain_text("The lid has been off", timeout=10_000)
    assert tones(page) == 0


def test_the_test_button_shows_whether_each_channel_worked(maker: Maker, phone: Phone, tmp_path: Path) -> None:
    with post_catcher() as catcher:
        settings_file(tmp_path, f'[[service]]\nname = "Post"\nurl = "json://127.0.0.1:{catcher.port}/"\n')
        page = phone()
        page.locator("#try").tap()
        expect(page.locator("#try-list")).to_contain_text("Post took the test.", timeout=30_000)
        expect(page.locator("#try-list")).to_contain_text("are not running: “kettleside start” runs them.")
        expect(page.locator("#try-list")).to_contain_text("This page did not ring: its sound is off.")
        assert [re.sub(r".*: ", "", title) for title in catcher.titles()] == ["test"]
