"""The pages of past cooks in a real Chromium, at the size of a phone."""

import re
import shutil
from collections.abc import Callable, Iterator
from itertools import combinations
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from monitor.storage import load
from tests.browser.conftest import KEY, keep_picture

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
            page.locator("#time .ledger").wait_for()
            if (width, scheme) == (390, "light"):
                keep_picture(page, "replay")
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        small = page.evaluate(
            """(least) => [...document.querySelectorAll('button, a, input, select, textarea')]
                .filter((target) => target.offsetParent !== null)
                .map((target) => [target.textContent || target.id, target.getBoundingClientRect()])
                .filter(([, box]) => box.height < least || box.width < least)
                .map(([text, box]) => `${text}: ${box.width} x ${box.height}`)""",
            TARGET_PX,
        )
        assert small == []


def test_stepping_shows_each_event_when_it_became_known(phone: Opened, names: list[str]) -> None:
    page = phone(f"/cooks/{names[1]}")
    expect(page.locator("#log-list")).to_contain_text("Checked: clear")
    label = page.locator("#moment-label")
    for _ in range(4):
        before = label.inner_text()
        page.get_by_role("button", name="Event before").tap()
        expect(label).not_to_have_text(before)
    expect(page.locator("#log-list")).not_to_contain_text("Checked: clear")
    expect(page.locator("#said")).to_contain_text("not yet at")
    before = label.inner_text()
    page.get_by_role("button", name="Event after").tap()
    expect(label).not_to_have_text(before)


def test_scrubbing_draws_only_what_was_known(phone: Opened, names: list[str], tmp_path: Path) -> None:
    page = phone(f"/cooks/{names[1]}")
    ends = "document.getElementById('curve').querySelector('.paste').getBBox()"
    whole = page.evaluate(f"{ends}.x + {ends}.width")
    started = load(tmp_path / f"{names[1]}.cook").started
    page.locator("#moment").evaluate(
        "(slider, v) => { slider.value = v; slider.dispatchEvent(new Event('input', { bubbles: true })); }",
        started + 3600,
    )
    expect(page.locator("#as-of")).to_contain_text("12:00")
    expect(page.locator("#moment")).to_have_attribute("aria-valuetext", "12:00")
    cut = page.evaluate(f"{ends}.x + {ends}.width")
    cursor = page.evaluate("Number(document.querySelector('#curve .cursor').getAttribute('x1'))")
    assert cut < whole * 0.4 and cut <= cursor + 2
    assert page.locator("#curve .band").get_attribute("d")
    expect(page.locator("#log-list")).not_to_contain_text("Checked")


def test_every_check_of_a_cook_can_be_read_on_its_curve(phone: Opened, names: list[str]) -> None:
    words = phone(f"/cooks/{names[1]}").locator("#curve .marks text")
    assert words.all_text_contents() == ["hazy"] * 5 + ["clear"]
    boxes = [box for word in words.all() if (box := word.bounding_box())]
    assert len(boxes) == 6 and not any(
        one["x"] < other["x"] + other["width"]
        and other["x"] < one["x"] + one["width"]
        and one["y"] < other["y"] + other["height"]
        and other["y"] < one["y"] + one["height"]
        for one, other in combinations(boxes, 2)
    )


def test_the_replay_plays_and_stops(phone: Opened, names: list[str]) -> None:
    page = phone(f"/cooks/{names[0]}")
    page.get_by_role("button", name="1 min a second").tap()
    page.get_by_role("button", name="5 min a second").tap()
    expect(page.locator("#speed")).to_have_text("20 min a second")
    page.get_by_role("button", name="Play").tap()
    label = page.locator("#moment-label")
    first = label.inner_text()
    expect(label).not_to_have_text(first)
    page.get_by_role("button", name="Stop").tap()
    expect(page.get_by_role("button", name="Play")).to_be_visible()


def test_a_time_loss_is_shaded_on_the_curve_and_the_reference_can_be_changed(phone: Opened, names: list[str]) -> None:
    page = phone(f"/cooks/{names[1]}")
    entry = page.locator("#time .ledger button", has_text="heat lost")
    entry.tap()
    assert page.locator("#curve .stretch").get_attribute("visibility") == "visible"
    page.locator("#against").select_option(names[0])
    expect(page.locator("#time")).to_contain_text(f"against the cook {names[0]}")


@pytest.mark.parametrize("kind", ["svg", "png"])
def test_the_drawing_can_be_saved(phone: Opened, names: list[str], kind: str, tmp_path: Path) -> None:
    page = phone(f"/cooks/{names[1]}", scheme="dark")
    page.locator("#time .ledger").wait_for()
    with page.expect_download() as caught:
        page.get_by_role("button", name=f"As {kind.upper()}").tap()
    assert caught.value.suggested_filename == f"{names[1]}.{kind}"
    kept = tmp_path / f"kept.{kind}"
    caught.value.save_as(kept)
    if kind == "png":
        # Signature and IHDR as the PNG specification has them: width and height in big-endian.
        head = kept.read_bytes()[:24]
        assert head[:8] == b"\x89PNG\r\n\x1a\n" and int.from_bytes(head[20:24], "big") == 520
    else:
        text = kept.read_text()
        assert 'xmlns="http://www.w3.org/2000/svg"' in text and "stroke: rgb(" in text and "var(" not in text


def test_deleting_asks_once_and_can_be_undone(phone: Opened, names: list[str], tmp_path: Path) -> None:
    page = phone("/cooks")
    row = page.locator(f'li[data-cook="{names[1]}"]')
    row.get_by_role("button", name="Delete").tap()
    page.get_by_role("button", name="Back").tap()
    assert (tmp_path / f"{names[1]}.cook").exists()
    row.get_by_role("button", name="Delete").tap()
    page.get_by_role("button", name="Yes, delete it").tap()
    expect(row).to_have_count(0)
    assert not (tmp_path / f"{names[1]}.cook").exists()
    page.get_by_role("button", name="Put it back").tap()
    expect(row).to_have_count(1)
    assert (tmp_path / f"{names[1]}.cook").exists()


def test_a_note_with_a_photograph_is_found(phone: Opened, names: list[str], tmp_path: Path) -> None:
    page = phone(f"/cooks/{names[0]}")
    page.locator("#note-text").fill("came out like amber")
    photo = tmp_path / "amber jar.jpg"
    photo.write_bytes(b"not read")
    page.locator("#note-photo").set_input_files(photo)
    page.get_by_role("button", name="Keep the note").tap()
    expect(page.locator("#log-list")).to_contain_text(re.compile("amber, amber jar.jpg"))
    page.goto(page.url.rsplit("/", 1)[0] + "?words=amber")
    expect(page.locator("li[data-cook]")).to_have_count(1)
