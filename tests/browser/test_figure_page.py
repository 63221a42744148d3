"""A figure as a page, in a real browser: it asks nobody for anything, and its texts do not cover each other."""

from pathlib import Path

import pytest
from playwright.sync_api import Browser

from monitor.plots.style import HEIGHT_PX, WIDTH_PX
from tests.plots.test_image_file import drawn

# The pairs of visible texts of a figure whose boxes share more than two pixels both ways.
OVERLAPS = """() => {
  const boxes = [...document.querySelectorAll(".main-svg text")]
    .map(text => [text.textContent, text.getBoundingClientRect()])
    .filter(([text, box]) => text && box.width > 0);
  const clash = (a, b) => Math.min(a.right, b.right) - Math.max(a.left, b.left) > 2
    && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 2;
  return boxes.flatMap(([text, box], i) =>
    boxes.slice(i + 1).filter(([, other]) => clash(box, other)).map(([other]) => `${text} / ${other}`));
}"""


@pytest.mark.browser
def test_a_figure_page_makes_no_request(browser: Browser, tmp_path: Path) -> None:
    path = tmp_path / "cook.html"
    assert drawn(path) == 0
    asked: list[str] = []
    errors: list[str] = []
    page = browser.new_page(viewport={"width": WIDTH_PX, "height": HEIGHT_PX})
    page.on("request", lambda request: asked.append(request.url))
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.goto(path.as_uri())
    page.locator(".legendtext", has_text="checked: hazy").wait_for()
    assert page.locator(".scatterlayer .trace").count() >= 10
    assert page.evaluate(OVERLAPS) == []
    page.close()
    assert asked == [path.as_uri()] and not errors
