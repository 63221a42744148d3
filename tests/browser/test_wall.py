"""The wall view, and the screen that stays on, in a real Chromium."""

import re
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from monitor.model import make_event
from monitor.runtime import SystemClock
from monitor.storage import log_event
from tests.browser.conftest import KEY, Phone, taken_over
from tests.dashboard.seeded import Maker

pytestmark = pytest.mark.browser

STIR_DUE_HOURS = 2.805
# Chromium without a screen has none to keep on; what the page asks of it is what counts here.
LOCKS = """window.asked = [];
Object.defineProperty(navigator, "wakeLock", { configurable: true, value: { request: async (kind) => {
  window.asked.push(kind);
  const lock = new EventTarget();
  lock.release = () => window.asked.push("released");
  return lock;
} } });"""


@pytest.mark.parametrize(("width", "height"), [(1280, 800), (800, 1280)])
def test_the_wall_view_fills_the_screen_and_has_nothing_to_press(
    tmp_path: Path, phone: Phone, width: int, height: int
) -> None:
    maker = Maker(tmp_path, SystemClock(), hours=STIR_DUE_HOURS)
    page = phone("/wall", width, height)
    page.locator(".chart .scatterlayer path.js-line").first.wait_for(state="attached")
    expect(page.locator("#due")).to_contain_text("now")
    size = page.locator("#due .amount").evaluate("(one) => parseFloat(getComputedStyle(one).fontSize)")
    assert size >= 0.1 * min(width, height)
    expect(page.locator("#done")).to_contain_text("%")
    pressable = "a, button, input, summary, [tabindex]:not(.chart *)"
    seen = page.evaluate(
        "(all) => [...document.querySelectorAll(all)].filter((one) => one.offsetParent !== null).length", pressable
    )
    assert seen == 0
    assert page.evaluate("[document.documentElement.scrollWidth, document.documentElement.scrollHeight]") == [
        width,
        height,
    ]
    maker.recorder.close()


def test_the_wall_view_goes_on_to_the_next_cook_by_itself(tmp_path: Path, phone: Phone) -> None:
    clock = SystemClock()
    maker = Maker(tmp_path, clock, hours=1.0)
    page = phone("/wall")
    log_event(maker.path, make_event("the-end-00", "finished", clock.now(), clock.now()))
    expect(page.locator("#due")).to_contain_text("Finished", timeout=10_000)
    maker.recorder.close()
    following = Maker(tmp_path, clock, hours=1.0, title="The next one", seed=8)
    expect(page.locator("#title")).to_have_text("The next one", timeout=15_000)
    following.recorder.close()


def test_the_screen_stays_on_after_one_tap_and_is_asked_for_again_by_the_next_page(
    tmp_path: Path, browser: Browser, address: str
) -> None:
    maker = Maker(tmp_path, SystemClock(), hours=1.0)
    context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True)
    context.add_init_script(LOCKS)
    page = context.new_page()
    page.goto(f"{address}/?key={KEY}")
    taken_over(page)
    assert page.evaluate("window.asked") == []
    expect(page.locator("#awake-words")).to_be_hidden()
    page.locator("#awake").tap()
    expect(page.locator("#awake")).to_have_text("Screen stays on: yes")
    assert page.evaluate("window.asked") == ["screen"]
    page.reload()
    taken_over(page)
    expect(page.locator("#awake")).to_have_text("Screen stays on: yes")
    assert page.evaluate("window.asked") == ["screen"]
    page.locator("#awake").tap()
    assert page.evaluate("window.asked") == ["screen", "released"]
    page.goto(f"{address}/wall")
    taken_over(page)
    assert page.evaluate("window.asked") == ["screen"]
    context.close()
    maker.recorder.close()


def test_a_page_that_is_not_secure_says_so_and_leads_to_what_helps(
    tmp_path: Path, browser: Browser, address: str
) -> None:
    maker = Maker(tmp_path, SystemClock(), hours=1.0)
    context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True)
    # As a browser shows it to a page by plain HTTP (W3C, Screen Wake Lock API: SecureContext).
    context.add_init_script(
        "delete Navigator.prototype.wakeLock; Object.defineProperty(window, 'isSecureContext', { value: false });"
    )
    page = context.new_page()
    page.goto(f"{address}/?key={KEY}")
    taken_over(page)
    expect(page.locator("#awake")).to_be_hidden()
    expect(page.locator("#awake-words")).to_contain_text(re.compile("goes dark.*TLS"))
    expect(page.locator("#awake-words a")).to_have_attribute("href", "/set-up/tls")
    context.close()
    maker.recorder.close()
