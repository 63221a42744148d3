"""A figure as a page, in a real browser: it asks nobody for anything, and its texts do not cover each other."""

import json
from pathlib import Path

import pytest
from playwright.sync_api import Browser

import monitor
from monitor.plots.style import HEIGHT_PX, WIDTH_PX
from tests.plots.test_figures import ROOT, SAMPLES
from tests.plots.test_image_file import drawn

# The pages' own.
SCRIPT = ROOT / "dashboard" / "assets" / "60-plotly-lean.min.js"

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
    page.locator(".annotation-text", has_text="6 checks").wait_for()
    # Six glasses: five hazy ones of three strokes, and a clear one of two.
    assert page.locator(".shapelayer path").count() == 17
    assert page.evaluate(OVERLAPS) == []
    page.close()
    assert asked == [path.as_uri()] and not errors


# From the lid, with a gap, in the cold of a power cut, near clear, between the last check and its answer, and after it.
MOMENTS = [
    ("power-cut", "2026-05-09T09:25Z"),
    ("loose-probe", "2026-05-16T11:00Z"),
    ("power-cut", "2026-05-09T11:30Z"),
    ("power-cut", "2026-05-09T13:10Z"),
    ("power-cut", "2026-05-09T15:00Z"),
    ("power-cut", None),
]
# Texts that reach beyond the edge of the window.
CUT = """() => [...document.querySelectorAll(".main-svg text")]
    .map(text => [text.textContent, text.getBoundingClientRect()])
    .filter(([text, box]) => text && (box.left < 0 || box.right > innerWidth || box.top < 0))
    .map(([text]) => text)"""


@pytest.mark.browser
@pytest.mark.parametrize("width", [360, 390, 860])
def test_no_word_of_a_course_is_cut_or_covered(browser: Browser, width: int) -> None:
    page = browser.new_page(viewport={"width": width, "height": 360})
    page.set_content("<body style='margin:0'><div id=course></div>")
    page.add_script_tag(path=SCRIPT)
    for name, at in MOMENTS:
        cook = monitor.open_cook(SAMPLES[name])
        # Heat lost, late stirs and a late check share their stretch.
        loss = cook.time_loss("ideal").head(3) if at is None else None
        figure = monitor.plots.course(cook.readings(at), cook.events(at), cook.outlook(at).estimate, troubles=loss)
        page.evaluate("figure => Plotly.newPlot('course', figure.data, figure.layout)", json.loads(figure.to_json()))
        assert page.evaluate(OVERLAPS) == [], (name, at)
        assert page.evaluate(CUT) == [], (name, at)
    page.close()
