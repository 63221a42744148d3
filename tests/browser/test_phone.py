"""The pages in a real Chromium, at the sizes of phones and of a desk."""

import re
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from playwright.sync_api import Browser, Page, Route, expect

from monitor.runtime import SystemClock
from monitor.session import CookLibrary
from monitor.session.live_cook import LOOK_AGAIN_S
from monitor.storage import load
from tests.browser.conftest import KEY, ZONE, Phone, keep_picture, taken_over
from tests.cli.processes import until
from tests.dashboard.seeded import Maker

pytestmark = pytest.mark.browser

SIZES = [(390, 844), (360, 740), (1280, 800)]
LINE = ".chart .scatterlayer path.js-line"
# WCAG 2.2 asks for 24 px; a wet glove needs more.
TARGET_PX = 56


@pytest.fixture
def maker(tmp_path: Path) -> Iterator[Maker]:
    made = Maker(tmp_path, SystemClock(), hours=2.6)
    yield made
    made.recorder.close()


def goes_on(maker: Maker) -> None:
    maker.went_on(SystemClock().now() - maker.started)


def drawn(page: Page) -> Page:
    page.locator(LINE).first.wait_for(state="attached")
    return page


def viewers_clock(unix: float) -> str:
    return datetime.fromtimestamp(unix, ZoneInfo(ZONE)).strftime("%H:%M")


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize(("width", "height"), SIZES)
def test_the_page_fits_the_screen_and_has_large_touch_targets(
    maker: Maker, phone: Phone, address: str, width: int, height: int, scheme: str
) -> None:
    goes_on(maker)
    page = drawn(phone("/", width, height, scheme))
    expect(page.locator("#due .amount")).to_be_visible()
    if (width, scheme) == (390, "light"):
        keep_picture(page, "phone")
    for path in ("/", "/cooks", f"/cooks/{maker.path.stem}", f"/compare?cook={maker.path.stem}", "/kitchen"):
        page.goto(address + path)
        if path == "/":
            taken_over(page)
            drawn(page)
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        small = page.evaluate(
            """(least) => [...document.querySelectorAll('button, a, input')]
                .filter((target) => target.offsetParent !== null)
                .map((target) => [target.textContent, target.getBoundingClientRect()])
                .filter(([, box]) => box.height < least || box.width < least)
                .map(([text, box]) => `${text}: ${box.width} x ${box.height}`)""",
            TARGET_PX,
        )
        assert small == []


def test_a_danger_is_the_headline_until_it_is_over(tmp_path: Path, phone: Phone) -> None:
    cut = Maker(tmp_path, SystemClock(), hours=3.0, power_cut_s=3 * 3600 - 2200)
    page = phone("/")
    expect(page.locator("#due")).to_have_text("Paste cold")
    expect(page.locator("#after")).to_have_text("Stirring and checking wait until the paste is hot again.")
    expect(page.locator("#wrong")).to_contain_text("look at the cooker's switch and lid")
    expect(page).to_have_title("Paste cold · Kitchen batch")
    assert page.locator("#due").bounding_box()["y"] < page.locator("#wrong").bounding_box()["y"] < 500  # type: ignore[index]
    page.get_by_role("button", name="Put aside").first.tap()
    expect(page.locator("#due")).to_contain_text("Stir")
    cut.recorder.close()


def test_the_main_buttons_are_within_reach_of_the_thumb(maker: Maker, phone: Phone) -> None:
    page = drawn(phone())
    for name in ("Stirred", "Checked", "More"):
        box = page.locator("#first").get_by_role("button", name=name).bounding_box()
        assert box is not None and box["y"] > 844 * 2 / 3 and box["y"] + box["height"] <= 844


def test_times_are_shown_in_the_viewers_zone(maker: Maker, phone: Phone) -> None:
    page = drawn(phone())
    # The page is told whole seconds, which may round into the next minute.
    lid_on = viewers_clock(round(maker.started + 1700))
    expect(page.locator("#log-list li", has_text="Lid on")).to_contain_text(lid_on)
    ticks = [text.strip() for text in page.locator(".chart .xtick text").all_text_contents()]
    hours = {viewers_clock(maker.started + offset)[:2] for offset in range(0, 8 * 3600, 600)}
    assert ticks and all(tick[:2] in hours for tick in ticks)


def test_the_axis_label_of_100_degrees_fits(maker: Maker, phone: Phone) -> None:
    goes_on(maker)
    cut = """() => {
        const label = document.querySelector('.chart .ytick text');
        label.textContent = '100 °C';
        return label.closest('svg').getBoundingClientRect().left - label.getBoundingClientRect().left;
    }"""
    assert drawn(phone()).evaluate(cut) <= 0


def test_new_readings_appear_on_the_open_page(maker: Maker, phone: Phone) -> None:
    goes_on(maker)
    page = drawn(phone())
    path = page.locator(f"{LINE}").last.get_attribute("d")
    before = page.locator("#paste").inner_text()
    assert re.fullmatch(r"\d+\.\d °C", before)
    with page.expect_response(re.compile("/live")) as caught:
        goes_on(maker)
    assert caught.value.ok
    goes_on(maker)
    maker.log("added", 9300, {"what": "glycerol", "grams": 40})
    expect(page.locator("#log-list")).to_contain_text("Added glycerol, 40 g", timeout=10_000)
    expect(page.locator(f"{LINE}").last).not_to_have_attribute("d", path or "", timeout=10_000)


def test_a_stir_is_logged_moved_and_undone(maker: Maker, phone: Phone) -> None:
    goes_on(maker)
    page = drawn(phone())
    page.locator("#first").get_by_role("button", name="Stirred").tap()
    expect(page.locator("#strip-words")).to_have_text(re.compile(r"Stirred, \d\d:\d\d"))
    stirs = load(maker.path).events_of("stirred")
    assert viewers_clock(stirs[-1].measured) in page.locator("#strip-words").inner_text()
    expect(page.locator("#due")).to_have_text(re.compile("Stir in 3[45] min|Check clarity.*"))
    page.get_by_role("button", name="5 min earlier").tap()
    earlier = viewers_clock(stirs[-1].measured - 300)
    expect(page.locator("#strip-words")).to_contain_text(earlier)
    page.get_by_role("button", name="Undo").tap()
    # Until the server has it, the strip says that it is being sent.
    expect(page.locator("#strip-words")).to_have_text("Taken back: Stirred")
    now = SystemClock().now()
    assert len(load(maker.path, now + 1).events_of("stirred")) == len(stirs) - 1


def test_a_check_takes_two_taps_and_explains_its_results(maker: Maker, phone: Phone) -> None:
    page = drawn(phone())
    page.locator("#first").get_by_role("button", name="Checked").tap()
    slip = page.get_by_role("dialog")
    expect(slip).to_contain_text("No veil")
    expect(slip).to_contain_text("Gloves and goggles")
    boxes = [button.bounding_box() for button in slip.get_by_role("button").all()]
    assert all(box is not None and box["height"] >= TARGET_PX for box in boxes)
    slip.get_by_role("button", name=re.compile("^Cloudy")).tap()
    expect(page.locator("#strip-words")).to_have_text(re.compile(r"Checked: cloudy, \d\d:\d\d"))
    assert load(maker.path).events_of("checked")[-1].fields["result"] == "cloudy"


def test_a_note_and_the_end_are_logged_from_the_page(maker: Maker, phone: Phone, tmp_path: Path) -> None:
    page = drawn(phone())
    page.get_by_role("button", name="More").tap()
    page.get_by_role("dialog").get_by_role("button", name="Note").tap()
    page.get_by_label("What should be remembered?").fill("Smelt <b>of</b> wax & was pale")
    page.get_by_role("button", name="Keep the note").tap()
    expect(page.locator("#log-list")).to_contain_text("Note: Smelt <b>of</b> wax & was pale")
    page.get_by_role("button", name="More").tap()
    page.get_by_role("dialog").get_by_role("button", name="Finished").tap()
    assert not load(maker.path).events_of("finished")
    page.get_by_role("button", name="Yes, finished").tap()
    expect(page.locator("#due")).to_contain_text("Finished at")
    assert CookLibrary(tmp_path).running() is None
    page.reload()
    taken_over(page)
    expect(page.locator("#due")).to_have_text("No cook is running.")
    page.get_by_role("button", name="Start a new cook").tap()
    page.wait_for_url(re.compile(r"\?cook="))
    taken_over(page)
    expect(page.get_by_role("button", name="Oils melted").first).to_be_visible()
    begun = CookLibrary(tmp_path).running()
    assert begun is not None and begun.path != maker.path


def test_a_phone_catches_up_with_one_request_after_sleep(maker: Maker, phone: Phone) -> None:
    goes_on(maker)
    page = drawn(phone(timers=True))
    with page.expect_response(re.compile("/live")):
        page.clock.run_for(3000)
    asked: list[str] = []
    page.evaluate(
        """() => {
            window.asleep = true;
            Object.defineProperty(document, 'hidden', { get: () => window.asleep });
            document.dispatchEvent(new Event('visibilitychange'));
        }"""
    )
    page.on("request", lambda request: asked.append(request.url) if "/live" in request.url else None)
    goes_on(maker)
    # A page which went on asking would ask thirty times.
    fell_asleep_s = SystemClock().real_s()
    page.clock.run_for(60_000)
    # The server's own clock is not run ahead, and it looks at the file anew only after this long.
    until(lambda: SystemClock().real_s() - fell_asleep_s > LOOK_AGAIN_S)
    assert asked == []
    maker.log("added", 9300, {"what": "glycerol", "grams": 40})
    page.evaluate(
        "() => { window.asleep = false; for (let i = 0; i < 5; i++) document.dispatchEvent(new Event('visibilitychange')); }"
    )
    expect(page.locator("#log-list")).to_contain_text("Added glycerol, 40 g", timeout=1500)
    assert len(asked) == 1


def test_everything_can_be_reached_and_seen_by_keyboard(maker: Maker, phone: Phone) -> None:
    page = drawn(phone())
    page.locator("#first-stirred").focus()
    page.keyboard.press("Tab")
    focused = page.evaluate("getComputedStyle(document.activeElement).outlineWidth")
    assert page.evaluate("document.activeElement.textContent") == "Checked"
    assert focused == "4px"
    page.keyboard.press("Enter")
    expect(page.get_by_role("dialog")).to_be_visible()
    page.keyboard.press("Escape")
    expect(page.get_by_role("dialog")).to_be_hidden()
    assert page.locator("#due").get_attribute("aria-live") == "polite"
    assert page.locator("h1").count() == 1


def test_a_key_can_be_typed(maker: Maker, browser: Browser, address: str) -> None:
    context = browser.new_context(viewport={"width": 390, "height": 844})
    page = context.new_page()
    page.goto(address)
    assert "Kitchen batch" not in page.content()
    page.get_by_label("Key").fill(KEY)
    page.get_by_role("button", name="Open").click()
    page.locator("#title", has_text="Kitchen batch").first.wait_for()
    taken_over(page)
    drawn(page)
    expect(page.locator("#title")).to_have_text("Kitchen batch")
    assert KEY not in page.url
    context.close()


def test_the_page_is_complete_before_dash_has_started(maker: Maker, browser: Browser, address: str) -> None:
    goes_on(maker)
    context = browser.new_context(viewport={"width": 390, "height": 844}, timezone_id=ZONE, has_touch=True)
    page = context.new_page()
    page.route(re.compile("/_dash-component-suites/"), lambda route: route.abort())
    page.goto(f"{address}/?key={KEY}")
    expect(page.locator("#due .amount").first).to_be_visible()
    page.locator("#first").first.get_by_role("button", name="Stirred").tap()
    expect(page.locator("#strip-words").first).to_have_text(re.compile(r"Stirred, \d\d:\d\d"))
    maker.log("added", 9300, {"what": "glycerol", "grams": 40})
    expect(page.locator("#log-list").first).to_contain_text("Added glycerol, 40 g", timeout=10_000)
    assert page.evaluate("document.documentElement.dataset.by") is None
    context.close()


def test_dash_takes_over_without_a_layout_shift(maker: Maker, browser: Browser, address: str) -> None:
    context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True)
    page = context.new_page()
    held: list[Route] = []
    page.route(re.compile("dash_renderer"), lambda route: held.append(route))
    page.goto(f"{address}/?key={KEY}", wait_until="commit")
    page.locator("#first").first.get_by_role("button", name="Checked").tap()
    for route in held:
        route.continue_()
    page.locator("#taken-over main").wait_for(state="attached")
    # Nobody is disturbed in the middle of a choice.
    expect(page.locator("#first-paint dialog[open]")).to_be_visible()
    page.locator("#first-paint dialog[open]").get_by_role("button", name="Back").tap()
    taken_over(page)
    assert page.locator("main").count() == 1
    expect(page.locator("#due .amount")).to_be_visible()
    expect(page.locator(LINE).last).to_be_visible()
    context.close()
