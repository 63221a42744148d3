"""The bar of places, and what is due or wrong in sight on every page, in a real Chromium."""

from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from monitor.runtime import SystemClock
from monitor.storage import load
from tests.browser.conftest import Phone, taken_over
from tests.dashboard.seeded import Maker

pytestmark = pytest.mark.browser

# So long after the start a stir is due.
STIR_DUE_HOURS = 2.805
PAGES = ["/bench", "/cooks", "/set-up", "/phones", "/set-up/push", "/set-up/tls", "/bench/charge"]


def at_the_bottom(page: Page) -> bool:
    """Whether the line stands right on the bar of places, at whatever the page was scrolled to."""
    line, bar = (page.locator(part).bounding_box() for part in ("#alert-line", ".places"))
    assert line is not None and bar is not None
    return abs(line["y"] + line["height"] - bar["y"]) < 1.5


@pytest.mark.parametrize("path", PAGES)
def test_a_stir_that_is_due_is_in_sight_on_every_page_and_one_tap_leads_to_it(
    tmp_path: Path, phone: Phone, path: str
) -> None:
    maker = Maker(tmp_path, SystemClock(), hours=STIR_DUE_HOURS)
    page = phone(path, dash=path.startswith(("/set-up", "/phones")))
    line = page.locator("#alert-line")
    expect(line).to_have_text("Stir now")
    page.evaluate("scrollTo(0, document.body.scrollHeight)")
    assert at_the_bottom(page)
    line.tap()
    taken_over(page)
    expect(page.locator("#next")).to_have_class("due-now stir")
    maker.recorder.close()


def test_the_due_action_takes_most_of_the_dock_and_is_the_only_filled_one(tmp_path: Path, phone: Phone) -> None:
    maker = Maker(tmp_path, SystemClock(), hours=STIR_DUE_HOURS)
    page = phone()
    due, other, more = (
        page.locator("#first").get_by_role("button", name=name) for name in ("Stirred", "Checked", "More")
    )
    widths = [box["width"] for box in (one.bounding_box() for one in (due, other, more)) if box is not None]
    dock = page.locator("#first").bounding_box()
    assert dock is not None and widths[0] >= 0.66 * dock["width"] and max(widths[1:]) < widths[0] / 2
    grounds = [one.evaluate("(one) => getComputedStyle(one).backgroundColor") for one in (due, other, more)]
    page_ground = page.evaluate("getComputedStyle(document.documentElement).backgroundColor")
    assert grounds[0] != page_ground and grounds[1:] == [page_ground] * 2
    maker.recorder.close()


def test_a_danger_takes_the_line_and_the_headline_from_a_stir(tmp_path: Path, phone: Phone) -> None:
    maker = Maker(tmp_path, SystemClock(), hours=3.0, power_cut_s=3 * 3600 - 2200)
    page = phone()
    expect(page.locator("#next")).to_have_class("danger")
    expect(page.locator("#alert-line")).to_have_class("danger")
    expect(page.locator("#alert-line")).to_contain_text("Paste cold since")
    maker.recorder.close()


def test_the_bar_stands_at_the_left_of_a_wide_screen_and_marks_the_place(tmp_path: Path, phone: Phone) -> None:
    page = phone("/bench", 1280, 900)
    bar, main = (page.locator(part).bounding_box() for part in (".places", "main"))
    assert bar is not None and main is not None
    assert bar["x"] == 0 and bar["height"] == 900 and main["x"] >= bar["width"]
    expect(page.locator(".places [aria-current]")).to_have_text("Bench")


def test_why_and_what_comes_next_are_told_on_demand(tmp_path: Path, phone: Phone) -> None:
    maker = Maker(tmp_path, SystemClock(), hours=STIR_DUE_HOURS)
    page = phone()
    expect(page.locator("#caution")).to_be_hidden()
    page.get_by_text("Why?").tap()
    expect(page.locator("#due-why")).to_contain_text("after the last stir")
    expect(page.locator("#after")).to_contain_text("Then: check clarity")
    maker.recorder.close()


def test_an_entry_of_an_hour_ago_is_corrected_from_its_row_after_a_reload(tmp_path: Path, phone: Phone) -> None:
    maker = Maker(tmp_path, SystemClock(), hours=3.0)
    page = phone()
    (before,) = load(maker.path).events_of("checked")
    page.reload()
    taken_over(page)
    page.get_by_role("button", name="Checked: hazy").tap()
    slip = page.get_by_role("dialog")
    slip.get_by_role("button", name="5 min earlier").tap()
    slip.get_by_role("button", name="Cloudy").tap()
    slip.get_by_role("button", name="Save the correction").tap()
    expect(page.locator("#log-list")).to_contain_text("Checked: cloudy")
    (event,) = load(maker.path).events_of("checked")
    assert round(event.measured) == round(before.measured) - 300 and event.fields == {"result": "cloudy"}
    page.locator("#log-list").get_by_role("button", name="Stirred").last.tap()
    stirs = len(load(maker.path).events_of("stirred"))
    page.get_by_role("dialog").get_by_role("button", name="Take it back").tap()
    expect(page.locator("#log-list").get_by_role("button", name="Stirred")).to_have_count(stirs - 1)
    assert len(load(maker.path).events_of("stirred")) == stirs - 1
    maker.recorder.close()


def test_undo_is_offered_for_twenty_seconds_and_leaves(tmp_path: Path, phone: Phone) -> None:
    maker = Maker(tmp_path, SystemClock(), hours=STIR_DUE_HOURS)
    page = phone(timers=True)
    page.locator("#first").get_by_role("button", name="Stirred").tap()
    expect(page.locator("#undo")).to_be_visible()
    page.clock.run_for(21_000)
    expect(page.locator("#strip")).to_be_hidden()
    maker.recorder.close()


def test_the_check_tells_its_steps_and_draws_four_different_glasses(tmp_path: Path, phone: Phone) -> None:
    maker = Maker(tmp_path, SystemClock(), hours=STIR_DUE_HOURS)
    page = phone()
    page.locator("#first").get_by_role("button", name="Checked").tap()
    slip = page.get_by_role("dialog")
    expect(slip.get_by_role("listitem")).to_have_count(3)
    expect(slip).to_contain_text("A spoon of paste, 5 g")
    expect(slip).to_contain_text("boiling water, 10 g")
    drawings = slip.locator(".glass").evaluate_all("(all) => all.map((one) => getComputedStyle(one).background)")
    assert len(drawings) == len(set(drawings)) == 4
    maker.recorder.close()


def test_the_end_of_an_invented_cook_is_one_calm_line(tmp_path: Path, phone: Phone) -> None:
    maker = Maker(tmp_path, SystemClock(), hours=STIR_DUE_HOURS, rate=60.0)
    page = phone()
    page.evaluate("() => { window.fetch = () => Promise.reject(new TypeError('gone')); }")
    away = page.locator("#away")
    expect(away).to_have_text("This invented cook is over: its kettleside no longer runs.", timeout=20_000)
    expect(away).not_to_have_class("loud")
    maker.recorder.close()
