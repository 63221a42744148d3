"""The pages of past cooks in a real Chromium, at the size of a phone."""

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Request, expect

from dashboard.live.replay import frame_of
from monitor.session import Cook
from tests.browser.conftest import KEY, keep_picture, taken_over

pytestmark = pytest.mark.browser

INVENTED = Path(__file__).resolve().parents[2] / "recordings"
TARGET_PX = 56
Opened = Callable[..., Page]


@pytest.fixture
def names(tmp_path: Path) -> list[str]:
    for path in INVENTED.glob("*.cook"):
        shutil.copy(path, tmp_path)
    return sorted(path.stem for path in tmp_path.glob("*.cook"))


@pytest.fixture
def phone(browser: Browser, address: str, names: list[str]) -> Iterator[Opened]:
    contexts: list[BrowserContext] = []
    complaints: list[str] = []

    def opened(path: str, width: int = 390, height: int = 844, scheme: str = "light") -> Page:
        context = browser.new_context(
            viewport={"width": width, "height": height},
            color_scheme="dark" if scheme == "dark" else "light",
            timezone_id="Europe/Berlin",
            has_touch=True,
        )
        contexts.append(context)
        page = context.new_page()
        page.on("console", lambda message: complaints.append(message.text) if message.type == "error" else None)
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.goto(f"{address}/cooks?key={KEY}")
        page.goto(f"{address}{path}")
        if path.startswith("/cooks"):
            taken_over(page)
        return page

    yield opened
    for context in contexts:
        context.close()
    assert complaints == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize(("width", "height"), [(390, 844), (360, 740), (1280, 900)])
def test_pages_fit_the_screen_and_have_large_touch_targets(
    phone: Opened, names: list[str], width: int, height: int, scheme: str
) -> None:
    compare = "/compare?" + "&".join(f"cook={name}" for name in names)
    for path in ("/cooks", f"/cooks/{names[1]}", compare, "/kitchen"):
        page = phone(path, width, height, scheme)
        if path == f"/cooks/{names[1]}":
            ready(page)
            if (width, scheme) == (390, "light"):
                keep_picture(page, "replay")
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        small = page.evaluate(
            """(least) => [...document.querySelectorAll('button, a, input, select, textarea, summary')]
                .filter((target) => target.offsetParent !== null)
                .map((target) => [target.textContent || target.id, target.getBoundingClientRect()])
                .filter(([, box]) => box.height < least || box.width < least)
                .map(([text, box]) => `${text}: ${box.width} x ${box.height}`)""",
            TARGET_PX,
        )
        assert small == []


def ready(page: Page) -> None:
    """Waits until the losses are counted and the course is drawn."""
    page.locator("#time .ledger button").first.wait_for()
    page.locator(".course .js-plotly-plot .main-svg").first.wait_for()


def dragged(page: Page, share: float) -> None:
    """Puts the slider at a part of its axis, as a finger does."""
    page.locator("#moment").evaluate(
        "(slider, value) => { slider.value = value; slider.dispatchEvent(new Event('input', { bubbles: true })); }",
        1000 * share,
    )


def test_stepping_shows_each_event_when_it_became_known(phone: Opened, names: list[str]) -> None:
    page = phone(f"/cooks/{names[1]}")
    ready(page)
    page.locator("#known-then summary").tap()
    expect(page.locator("#log-list")).to_contain_text("Checked: clear")
    label = page.locator("#moment-label")
    for _ in range(4):
        before = label.inner_text()
        page.get_by_role("button", name="Event before").tap()
        expect(label).not_to_have_text(before)
    expect(page.locator("#log-list")).not_to_contain_text("Checked: clear")
    expect(page.locator("#clear-came")).to_contain_text("not yet at")
    before = label.inner_text()
    page.get_by_role("button", name="Event after").tap()
    expect(label).not_to_have_text(before)


def test_scrubbing_draws_only_what_was_known(phone: Opened, names: list[str]) -> None:
    page = phone(f"/cooks/{names[1]}")
    ready(page)
    dragged(page, 0.35)
    # The line has moved and says so before anybody was asked.
    assert page.locator("#moment-label").inner_text().startswith("As it was known at 13:")
    line = page.locator("#moment-line").bounding_box()
    axis = page.locator(".course .js-plotly-plot .nsewdrag").first.bounding_box()
    slider = page.locator("#moment").bounding_box()
    assert line and axis and slider
    # The slider is as wide as the axis, so that its thumb, 56 px wide, stands under the line.
    assert abs(slider["x"] + 28 - axis["x"]) < 2 and abs(slider["width"] - 56 - axis["width"]) < 2
    assert abs(line["x"] + line["width"] / 2 - axis["x"] - 0.35 * axis["width"]) < 2
    expect(page.locator("#wrong-then")).to_contain_text("The paste is cold")
    spoken = page.locator("#moment").get_attribute("aria-valuetext")
    assert spoken and spoken in page.locator("#moment-label").inner_text()
    # The course of that moment comes where the finger rests.
    expect(page.locator(".course .annotation-text", has_text="now 13:")).to_have_count(1)
    page.locator("#known-then summary").tap()
    expect(page.locator("#log-list")).not_to_contain_text("Checked")
    dragged(page, 1.0)
    expect(page.locator(".course .annotation-text", has_text="now")).to_have_count(0)
    expect(page.locator("#log-list")).to_contain_text("Checked: clear")


def test_a_drag_asks_for_one_moment_at_a_time(phone: Opened, names: list[str], tmp_path: Path) -> None:
    page = phone(f"/cooks/{names[1]}")
    ready(page)
    open_at_once = [0, 0, 0]

    def began(request: Request) -> None:
        if "/then?t=" in request.url:
            open_at_once[0] += 1
            open_at_once[1] = max(open_at_once[:2])
            open_at_once[2] += 1

    def ended(request: Request) -> None:
        if "/then?t=" in request.url:
            open_at_once[0] -= 1

    page.on("request", began)
    page.on("requestfinished", ended)
    for step in range(40):
        dragged(page, 0.2 + step / 100)
    told = page.locator("#clear-said")
    expect(told).to_contain_text("likely")
    asked = open_at_once[2]
    dragged(page, 0.1)
    dragged(page, 0.59)
    frame: Any = frame_of(Cook(tmp_path / f"{names[1]}.cook"))
    moment = round((frame["begin"] + 0.59 * (frame["end"] - frame["begin"])) / 30) * 30
    expect(page.locator("html")).to_have_attribute("data-at", str(moment))
    # One at a time, and not every one on the way.
    assert open_at_once[1] == 1 and asked < 40


def test_the_replay_plays_and_stops(phone: Opened, names: list[str]) -> None:
    page = phone(f"/cooks/{names[0]}")
    ready(page)
    page.get_by_role("button", name="1 min a second").tap()
    page.get_by_role("button", name="5 min a second").tap()
    expect(page.locator("#speed")).to_have_text("20 min a second")
    page.get_by_role("button", name="Play").tap()
    label = page.locator("#moment-label")
    first = label.inner_text()
    expect(label).not_to_have_text(first)
    page.get_by_role("button", name="Stop").tap()
    expect(page.get_by_role("button", name="Play")).to_be_visible()


@pytest.mark.parametrize("way", ["bar", "entry"])
def test_a_time_loss_is_shaded_on_the_course(phone: Opened, names: list[str], way: str) -> None:
    page = phone(f"/cooks/{names[1]}")
    ready(page)
    if way == "bar":
        bar = page.locator("#time .js-plotly-plot .point path").first
        bar.scroll_into_view_if_needed()
        box = bar.bounding_box()
        assert box
        page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    else:
        page.locator("#time .ledger button", has_text="heat lost").tap()
    expect(page.locator(".course .annotation-text", has_text="heat lost")).to_have_count(1)


def test_what_the_time_is_measured_against_can_be_changed(phone: Opened, names: list[str]) -> None:
    page = phone(f"/cooks/{names[1]}")
    ready(page)
    page.locator(".against summary").tap()
    page.locator("#against-words").fill("smooth")
    page.locator("#against-list button", has_text="a smooth cook").tap()
    expect(page.locator("#lost-total")).to_contain_text(f"against the cook {names[0]}")


@pytest.mark.parametrize("kind", ["svg", "png"])
def test_the_course_can_be_saved(phone: Opened, names: list[str], kind: str, tmp_path: Path) -> None:
    page = phone(f"/cooks/{names[1]}", scheme="dark")
    ready(page)
    with page.expect_download() as caught:
        page.get_by_role("button", name=f"As {kind.upper()}").tap()
    assert caught.value.suggested_filename == f"{names[1]}.{kind}"
    kept = tmp_path / f"kept.{kind}"
    caught.value.save_as(kept)
    if kind == "png":
        # Signature and IHDR as the PNG specification has them: width and height in big-endian.
        head = kept.read_bytes()[:24]
        assert head[:8] == b"\x89PNG\r\n\x1a\n" and int.from_bytes(head[20:24], "big") == 640
    else:
        text = kept.read_text()
        assert 'xmlns="http://www.w3.org/2000/svg"' in text and "rgb(28, 35, 33)" in text and "var(" not in text


def test_deleting_asks_once_and_can_be_undone(phone: Opened, names: list[str], tmp_path: Path) -> None:
    page = phone(f"/cooks/{names[1]}")
    page.locator(".delete summary").tap()
    assert (tmp_path / f"{names[1]}.cook").exists()
    page.get_by_role("button", name="Yes, delete it").tap()
    page.wait_for_url("**/cooks")
    taken_over(page)
    row = page.locator(f'li[data-cook="{names[1]}"]')
    expect(row).to_have_count(0)
    assert not (tmp_path / f"{names[1]}.cook").exists()
    page.get_by_role("button", name="Put it back").tap()
    expect(row).to_have_count(1)
    assert (tmp_path / f"{names[1]}.cook").exists()


def test_a_note_is_kept_and_found_as_one_types(phone: Opened, names: list[str]) -> None:
    page = phone(f"/cooks/{names[0]}")
    page.locator("#note-text").fill("came out like amber")
    page.get_by_role("button", name="Keep the note").tap()
    expect(page.locator(".notes")).to_contain_text("came out like amber")
    page.goto(page.url.rsplit("/", 1)[0])
    taken_over(page)
    page.locator("#cook-words").press_sequentially("amber")
    expect(page.locator("li[data-cook]")).to_have_count(1)


def test_rows_are_judged_and_those_ticked_are_compared(phone: Opened, names: list[str]) -> None:
    page = phone("/cooks")
    expect(page.locator(f'li[data-cook="{names[1]}"] .verdict')).to_have_text("98 min heat lost")
    page.get_by_role("button", name="Tick Invented: a power cut and late stirs, to compare it").tap()
    # What the words do not find stays ticked.
    page.locator("#cook-words").fill("smooth")
    expect(page.locator("li[data-cook]")).to_have_count(1)
    page.get_by_role("button", name="Tick Invented: a smooth cook, to compare it").tap()
    page.get_by_role("link", name="Compare 2 cooks").tap()
    page.wait_for_url(f"**/compare?cook={names[1]}&cook={names[0]}")
