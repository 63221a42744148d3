"""The course on the live page: asked for when something was logged and once a minute, one request at a time."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, Request, Route, expect

from monitor.runtime import SystemClock
from tests.browser.conftest import Phone
from tests.cli.processes import until
from tests.dashboard.seeded import Maker

pytestmark = pytest.mark.browser

LINE = ".chart .scatterlayer path.js-line"


@pytest.fixture
def maker(tmp_path: Path) -> Iterator[Maker]:
    made = Maker(tmp_path, SystemClock(), hours=2.6)
    yield made
    made.recorder.close()


def drawn(page: Page) -> Page:
    page.locator(LINE).first.wait_for(state="attached")
    return page


def asked_by(page: Page) -> list[str]:
    """The pictures that the page asks for from now on."""
    asked: list[str] = []

    def heard(request: Request) -> None:
        if "course-wanted" in (request.post_data or ""):
            asked.append(request.url)

    page.on("request", heard)
    return asked


def test_a_stir_brings_one_new_picture_and_its_row_of_the_table(maker: Maker, phone: Phone) -> None:
    page = drawn(phone())
    asked = asked_by(page)
    rows = page.locator(".course table tbody tr")
    before = rows.count()
    page.locator("#first").get_by_role("button", name="Stirred").tap()
    expect(rows).to_have_count(before + 1)
    assert len(asked) == 1
    expect(page.locator(".course .unseen")).to_contain_text("4 stirs")


def test_a_page_that_is_watched_asks_once_a_minute_and_one_that_is_not_never(maker: Maker, phone: Phone) -> None:
    page = drawn(phone(timers=True))
    asked = asked_by(page)
    for _ in range(25):
        with page.expect_response(re.compile("/live")):
            page.clock.run_for(2000)
    assert asked == []
    for _ in range(10):
        with page.expect_response(re.compile("/live")):
            page.clock.run_for(2000)
    until(lambda: len(asked) == 1)
    page.evaluate(
        """() => {
            Object.defineProperty(document, 'hidden', { get: () => true });
            document.dispatchEvent(new Event('visibilitychange'));
        }"""
    )
    page.clock.run_for(300_000)
    assert len(asked) == 1


def test_no_second_picture_is_asked_for_while_one_is_under_way(maker: Maker, phone: Phone) -> None:
    page = drawn(phone())
    asked = asked_by(page)
    held: list[Route] = []

    def hold(route: Route) -> None:
        if "course-wanted" in (route.request.post_data or ""):
            held.append(route)
        else:
            route.continue_()

    page.route(re.compile("_dash-update-component"), hold)
    page.locator("#first").get_by_role("button", name="Stirred").tap()
    until(lambda: page.evaluate("1") == 1 and len(held) == 1)
    page.get_by_role("button", name="5 min earlier").tap()
    for _ in range(3):
        with page.expect_response(re.compile("/live")):
            pass
    assert len(asked) == 1
    held[0].continue_()
    until(lambda: page.evaluate("1") == 1 and len(held) == 2)
    held[1].continue_()
    expect(page.locator(".course .unseen")).to_contain_text("4 stirs")
