"""How a batch looks after its week, said on a phone in a real Chromium, taps counted, and compared."""

from pathlib import Path

import pytest
from playwright.sync_api import expect

from monitor.runtime.clock import JumpClock
from monitor.storage import load
from tests.browser.conftest import Phone, taken_over
from tests.dashboard.seeded import Maker

pytestmark = pytest.mark.browser


def made(folder: Path, number: int, look: str = "") -> Path:
    maker = Maker(folder, JumpClock(), hours=0.6 + 0.1 * number, title=f"Batch {number}", seed=number)
    maker.log("finished", 2100)
    if look:
        maker.log("outcome", 9e5, {"look": look})
    maker.recorder.close()
    return maker.path


def test_four_taps_from_the_cook_say_how_it_looks(phone: Phone, address: str, tmp_path: Path) -> None:
    path = made(tmp_path, 0)
    page = phone(f"/cooks/{path.stem}")
    page.get_by_role("link", name="Say how it looks").tap()
    taken_over(page)
    page.get_by_role("button", name="Hazy").tap()
    expect(page.get_by_text("Bench, Haze")).to_be_visible()
    page.get_by_role("button", name="Some").tap()
    expect(page.get_by_role("button", name="Some")).to_have_attribute("aria-pressed", "true")
    page.get_by_role("button", name="Log how it is").tap()
    expect(page.get_by_text("Logged: after the week, hazy.")).to_be_visible()
    (event,) = [one for one in load(path).events if one.kind == "outcome"]
    assert event.fields == {"look": "hazy", "lather": "some"}
    page.goto(f"{address}/cooks/{path.stem}")
    expect(page.locator("#week")).to_contain_text("hazy; lather some")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_three_of_each_are_drawn_and_fit(phone: Phone, tmp_path: Path, scheme: str) -> None:
    for number in range(6):
        made(tmp_path, number, "hazy" if number > 2 else "clear")
    page = phone("/outcomes", 360, 740, scheme)
    expect(page.locator("#outcomes-said")).to_contain_text("Nothing is told yet by 3 clear and 3 hazy or cloudy.")
    page.locator(".js-plotly-plot .main-svg").first.wait_for()
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    expect(page.get_by_role("link", name="Batch 4")).to_be_visible()
