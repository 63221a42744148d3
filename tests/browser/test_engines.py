"""A whole cook, tapped through on a narrow phone in Chromium, Firefox ESR and WebKitGTK."""

import shutil
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest

from dashboard.app import make_app
from monitor.runtime import SystemClock
from monitor.session import CookLibrary
from monitor.storage import load
from tests.browser.conftest import KEY
from tests.browser.engines import HEIGHT, WIDTH, ChromiumEngine, Engine, EngineError, firefox, webkit
from tests.browser.every_page import every_page, kitchen
from tests.cli.processes import until
from tests.dashboard.seeded import Maker

pytestmark = pytest.mark.browser

ROOT = Path(__file__).resolve().parents[2]
PAST = "2026-05-02T090000Z-invented-smooth"
TAKEN_OVER = "html[data-by=dash]"
# What the walk leaves in the recording.
WALKED = [
    ("checked", "clear"),
    ("checked", "cloudy"),
    ("finished", None),
    ("heat off", None),
    ("lid on", None),
    ("lye in", None),
    ("stirred", None),
    ("thick trace", None),
]
# The elements in sight that a selector finds and whose words, or whose name where there are none, hold these.
FOUND = """const [selector, words] = arguments, held = new RegExp(words);
  const found = [...document.querySelectorAll(selector)].filter((one) => one.getClientRects().length > 0
    && held.test(one.textContent.trim() || one.getAttribute("aria-label") || ""));"""
# The middle of the first of them, once it is in the viewport and nothing lies over it.
POINT = f"""{FOUND} if (found.length === 0) return null;
  found[0].scrollIntoView({{ block: "center", behavior: "instant" }});
  const box = found[0].getBoundingClientRect(), x = box.left + box.width / 2, y = box.top + box.height / 2;
  return found[0].contains(document.elementFromPoint(x, y)) ? [x, y] : null;"""


@pytest.fixture(params=["chromium", "firefox", "webkit"])
def engine(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Engine]:
    if request.param == "chromium":
        browser = request.getfixturevalue("browser")
        context = browser.new_context(viewport={"width": WIDTH, "height": HEIGHT}, has_touch=True)
        yield ChromiumEngine(context.new_page())
        context.close()
    else:
        with {"firefox": firefox, "webkit": webkit}[request.param](tmp_path_factory.mktemp("home")) as made:
            yield made


# All that the page will fetch by itself stands in it: Dash, where it takes over, and the charts in sight.
SETTLED = """return document.readyState === "complete"
  && (!document.getElementById("taken-over") || document.documentElement.dataset.by === "dash")
  && [...document.querySelectorAll(".chart")].every((one) => one.childElementCount > 0 || one.offsetParent === null);"""
WIDEST = """document.querySelectorAll("details").forEach((each) => { each.open = true; });
  return document.documentElement.scrollWidth;"""


class Walk:
    """A person with a phone beside a cooker whose readings go on."""

    def __init__(self, engine: Engine, maker: Maker) -> None:
        self.engine, self._maker = engine, maker

    def see(self, selector: str, words: str = "") -> None:
        """Waits until something is in sight."""
        self._found(f"{FOUND} return found.length > 0;", selector, words)

    def tap(self, selector: str, words: str = "") -> None:
        """Waits until something can be reached with a finger and stands still, and taps it."""
        before, point = None, self._found(POINT, selector, words)
        while point != before:
            before, point = point, self._found(POINT, selector, words)
        self.engine.tap(*point)

    def _found(self, script: str, selector: str, words: str) -> Any:
        """What the script gives as soon as it gives something; fails with what the page says instead."""
        given: list[Any] = []

        def came() -> bool:
            self._maker.went_on(SystemClock().now() - self._maker.started)
            # A page that goes away under the question is asked again where it led.
            with suppress(EngineError):
                given.append(self.engine.run(script, selector, words))
            return bool(given and given[-1])

        try:
            until(came)
        except AssertionError:
            where, says = self.engine.run("return [location.href, document.body.innerText];")
            raise AssertionError(f"no {selector!r} with {words!r} at {where}: {says}") from None
        return given[-1]


def test_a_whole_cook_is_tapped_through(engine: Engine, address: str, tmp_path: Path) -> None:
    shutil.copy(ROOT / "recordings" / f"{PAST}.cook", tmp_path)
    maker = Maker(tmp_path, SystemClock(), hours=0.5, events=False)
    for kind, at_s in (("lye in", 300), ("thick trace", 900)):
        maker.log(kind, at_s)
    walk = Walk(engine, maker)
    engine.go(address)
    walk.see("h1", "This page needs its key")
    walk.tap("input[name=key]")
    engine.type(KEY)
    walk.tap("button", "^Open$")
    walk.see(TAKEN_OVER)
    lid_on_is_told_late(walk)
    stirred_and_checked(walk)
    clear_and_finished(walk)
    a_past_cook_is_scrubbed(walk)
    logged = load(maker.path).events
    maker.recorder.close()
    told = [(event.kind, event.fields.get("result")) for event in logged]
    assert sorted(told, key=str) == WALKED
    lid_on = next(event for event in logged if event.kind == "lid on")
    # The page is told whole seconds.
    assert lid_on.known - lid_on.measured >= 299
    assert engine.faults() == []
    # The check can fail.
    engine.run("setTimeout(() => { throw new Error('on purpose'); });")
    until(lambda: engine.run("return true;") and "on purpose" in str(engine.faults()))


def test_no_page_scrolls_sideways(engine: Engine, address: str, tmp_path: Path) -> None:
    engine.go(f"{address}/set-up?key={KEY}")
    assert engine.run("return innerWidth;") == WIDTH
    with kitchen(tmp_path):
        pages = every_page(make_app(CookLibrary(tmp_path), KEY))
        wide = {path: width_of(engine, address + path) for path in pages}
    assert {path: width for path, width in wide.items() if width > WIDTH} == {}
    assert engine.faults() == []
    # The check can fail.
    engine.run("const wide = document.createElement('hr'); wide.style.width = '500px'; document.body.append(wide);")
    assert engine.run(WIDEST) > WIDTH


def width_of(engine: Engine, address: str) -> int:
    """How wide a page is once it stands with all that can be unfolded open, CSS pixels."""
    engine.go(address)
    until(lambda: bool(engine.run(SETTLED)))
    return int(engine.run(WIDEST))


def lid_on_is_told_late(walk: Walk) -> None:
    walk.see("#due", "^Put the lid on$")
    walk.tap("#first button", "^Lid on$")
    walk.see("#strip-words", "^Lid on, ")
    walk.tap("#log-list button", "Lid on$")
    walk.tap("dialog button", "^5 min earlier$")
    walk.tap("dialog button", "^Save the correction$")
    walk.see("#due", "^Stir")


def stirred_and_checked(walk: Walk) -> None:
    walk.tap("#first button", "^Stirred$")
    walk.see("#strip-words", "^Stirred, ")
    walk.tap("#first button", "^Checked$")
    walk.tap("dialog .glasses strong", "^Hazy$")
    walk.tap("#log-list button", "Checked: hazy$")
    walk.tap("dialog button", "^Cloudy$")
    walk.tap("dialog button", "^Save the correction$")
    walk.see("#log-list", "Checked: cloudy")


def clear_and_finished(walk: Walk) -> None:
    walk.tap("#first button", "^Checked$")
    walk.tap("dialog .glasses strong", "^Clear$")
    walk.see("#log-list", "Checked: clear")
    walk.see("#due", "^It reads clear$")
    walk.see("#due-when", "turn the heat off")
    walk.tap("#first button", "^Heat off$")
    walk.see("#due", "^Finish the cook$")
    walk.tap("#first button", "^Finished$")
    walk.tap("dialog button", "^Yes, finished$")
    walk.see("#due", "^Finished at")


def a_past_cook_is_scrubbed(walk: Walk) -> None:
    walk.tap(".places a", "^Cooks$")
    walk.tap(f'[data-by=dash] li[data-cook="{PAST}"] a')
    walk.see(".course .js-plotly-plot .main-svg")
    walk.tap("#moment")
    walk.see("#moment-label", "^As it was known at ")
