"""Cooks compared in a real browser: ticked with a thumb, drawn at once, kept in the address and as a file."""

import re
import shutil
from pathlib import Path

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import Phone

pytestmark = pytest.mark.browser

INVENTED = Path(__file__).resolve().parents[2] / "recordings"


@pytest.fixture(autouse=True)
def names(tmp_path: Path) -> list[str]:
    for path in INVENTED.glob("*.cook"):
        shutil.copy(path, tmp_path)
    return sorted(path.stem for path in tmp_path.glob("*.cook"))


def test_a_tick_draws_a_cook_and_stays_after_a_reload(phone: Phone, names: list[str]) -> None:
    page = phone("/compare", 360, 740)
    expect(page.locator("#compared-cooks dt")).to_have_count(2)
    page.get_by_text("Choose cooks").tap()
    page.get_by_role("checkbox", name="Invented: a smooth cook").tap()
    expect(page.locator("#compared-cooks dt")).to_have_text(["A", "B", "C"])
    page.get_by_role("button", name="equivalent time").tap()
    expect(page.locator(".chart .xtitle")).to_have_text("equivalent hours at 95 °C")
    assert re.search(rf"cook={names[0]}.*by=equivalent\+time", page.url)
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    page.reload()
    expect(page.locator("#compared-cooks dt")).to_have_text(["A", "B", "C"])
    assert page.get_by_role("button", name="equivalent time").get_attribute("aria-pressed") == "true"


@pytest.mark.parametrize("kind", ["svg", "png"])
def test_the_comparison_can_be_saved(phone: Phone, kind: str, tmp_path: Path) -> None:
    page = phone("/compare", scheme="dark")
    page.locator(".js-plotly-plot").wait_for()
    with page.expect_download() as caught:
        page.get_by_role("button", name=f"As {kind.upper()}").tap()
    assert caught.value.suggested_filename == f"compared.{kind}"
    kept = tmp_path / f"kept.{kind}"
    caught.value.save_as(kept)
    if kind == "png":
        # The signature of the PNG specification.
        assert kept.read_bytes()[:8] == b"\x89PNG\r\n\x1a\n"
    else:
        # In the colours of a dark page.
        assert "hours since lid on" in kept.read_text() and "#1c2321" in kept.read_text().replace(
            "rgb(28, 35, 33)", "#1c2321"
        )
