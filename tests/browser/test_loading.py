"""How the live page loads in a real Chromium: nothing moves, and plotly comes after the first paint."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, Route

from monitor.runtime import SystemClock
from tests.browser.conftest import KEY, ZONE, taken_over
from tests.dashboard.seeded import Maker

pytestmark = pytest.mark.browser

LINE = ".chart .scatterlayer path.js-line"
# Each shift of the layout, with the time and the score that the browser gives it (W3C draft, Layout Instability API).
WATCH = """window.shifts = [];
new PerformanceObserver((list) => list.getEntries().forEach((entry) => window.shifts.push(entry.value)))
    .observe({ type: "layout-shift", buffered: true });"""
MOST_SHIFT = 0.02
# A promise, because the page's own policy forbids the evaluation of text that a waiting function needs.
PAINTED = """() => new Promise((done) => {
  const look = () => (performance.getEntriesByName("first-contentful-paint").length ? done() : requestAnimationFrame(look));
  look();
})"""


@pytest.fixture
def maker(tmp_path: Path) -> Iterator[Maker]:
    made = Maker(tmp_path, SystemClock(), hours=2.6)
    yield made
    made.recorder.close()


@pytest.fixture
def page(maker: Maker, browser: Browser) -> Iterator[Page]:
    context = browser.new_context(viewport={"width": 390, "height": 844}, timezone_id=ZONE, has_touch=True)
    opened = context.new_page()
    opened.add_init_script(WATCH)
    yield opened
    context.close()


def loaded(page: Page) -> None:
    page.locator(LINE).first.wait_for(state="attached")
    taken_over(page)


def shift(page: Page) -> float:
    return float(page.evaluate("window.shifts.reduce((sum, value) => sum + value, 0)"))


def test_nothing_moves_while_the_page_loads(page: Page, address: str) -> None:
    page.goto(f"{address}/?key={KEY}")
    loaded(page)
    assert shift(page) <= MOST_SHIFT


def test_nothing_moves_where_the_script_that_fills_the_page_comes_late(page: Page, address: str) -> None:
    held: list[Route] = []
    page.route(re.compile("50-pages"), lambda route: held.append(route))
    page.goto(f"{address}/?key={KEY}", wait_until="commit")
    # The head of the page is painted, and what would be filled in later is not.
    page.get_by_role("heading", name="Kitchen batch").wait_for()
    page.evaluate(PAINTED)
    assert not page.locator("#due").is_visible()
    assert len(held) == 1
    held[0].continue_()
    loaded(page)
    assert page.locator("#due").is_visible()
    assert shift(page) <= MOST_SHIFT


def test_plotly_is_fetched_after_the_first_paint(page: Page, address: str) -> None:
    page.goto(f"{address}/?key={KEY}")
    loaded(page)
    painted_ms, asked_ms = page.evaluate(
        """() => [performance.getEntriesByName("first-contentful-paint")[0].startTime,
            performance.getEntriesByType("resource").find((one) => one.name.includes("plotly")).startTime]"""
    )
    assert 0 < painted_ms <= asked_ms


def test_the_course_takes_no_more_room_than_was_kept_for_it(page: Page, address: str) -> None:
    held: list[Route] = []
    page.route(re.compile("plotly"), lambda route: held.append(route))
    with page.expect_request(re.compile("plotly")):
        page.goto(f"{address}/?key={KEY}", wait_until="commit")
    taken_over(page)
    before = page.locator(".chart").bounding_box()
    assert len(held) == 1
    held[0].continue_()
    page.locator(LINE).first.wait_for(state="attached")
    assert before is not None and page.locator(".chart").bounding_box() == before
