"""A batch on a phone, from the oils to the labelled bottles, with its timers, by a clock that jumps."""

import re
import socket
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from dashboard.app import make_app
from dashboard.server.http_server import Server
from monitor.runtime import SystemClock
from monitor.runtime.clock import JumpClock
from monitor.session import CookLibrary
from monitor.storage import load
from tests.browser.conftest import KEY, ZONE, taken_over
from tests.dashboard.seeded import Maker
from tests.dashboard.serving import running

pytestmark = pytest.mark.browser

HOUR, DAY = 3600.0, 86_400.0
# What a batch costs in taps, beside what is typed.
TAPS = {
    "before the lid": 7,
    "the cook's end": 5,
    "dilute": 8,
    "neutralise": 11,
    "thicken, colour and scent": 6,
    "settle and bottle": 7,
}


@dataclass
class Walk:
    """A phone, the cook before its lid, and how often the phone was tapped in each stretch."""

    page: Page
    maker: Maker
    clock: JumpClock
    address: str
    taps: dict[str, int] = field(default_factory=dict)
    stretch: str = ""

    def begin(self, stretch: str) -> None:
        """From here on the taps are counted for this stretch."""
        self.stretch = stretch
        self.taps[stretch] = 0

    def tap(self, what: Locator) -> None:
        """Taps, and counts it."""
        what.tap()
        self.taps[self.stretch] += 1

    def press(self, name: str) -> None:
        """Taps what stands under the thumb, some seconds after what was done before."""
        self.jump(5.0)
        button = self.page.locator("#first").get_by_text(name, exact=True)
        is_entry = bool(button.evaluate("(pressed) => pressed.matches('[data-log], #first-timer')"))
        self.tap(button)
        if is_entry:
            # The strip tells the time at which the entry was logged.
            expect(self.page.locator("#strip-words")).to_have_text(re.compile(r", \d\d:\d\d$"), timeout=15_000)

    def fill(self, label: str, value: str) -> None:
        """Types into a field of the bench."""
        self.page.get_by_label(label, exact=True).fill(value)

    def jump(self, seconds: float) -> None:
        """Lets so much time pass; while the cook runs, with its readings."""
        later = self.clock.moment + seconds
        if self.finished is None:
            self.maker.went_on(later - self.maker.started)
        self.clock.moment = later

    @property
    def finished(self) -> float | None:
        """When the cook was finished, or None."""
        return load(self.maker.path).finished()

    def shows(self, headline: str) -> None:
        """Waits for the headline."""
        expect(self.page.locator("#due")).to_have_text(headline, timeout=15_000)

    def rings(self, words: str) -> None:
        """Waits until the timer rings on the page, and for the one line that every page has."""
        expect(self.page.locator("#wrong")).to_contain_text(words, timeout=15_000)
        expect(self.page.locator("#alert-line")).to_be_visible()

    def keep(self, name: str) -> None:
        """Logs by this button of a bench page, and goes back to the batch."""
        self.tap(self.page.get_by_role("button", name=name, exact=True))
        expect(self.page.locator("#form-kept")).to_contain_text("Logged", timeout=15_000)
        self.tap(self.page.get_by_role("link", name="Next step"))
        taken_over(self.page)

    def on_bench(self, name: str) -> None:
        """Taps the link to a page of the bench."""
        self.press(name)
        taken_over(self.page)
        # The form is drawn anew with what this phone kept of it.
        self.page.wait_for_load_state("networkidle")


@pytest.fixture
def walk(browser: Browser, tmp_path: Path) -> Iterator[Walk]:
    clock = JumpClock(SystemClock().now())
    maker = Maker(tmp_path, clock, hours=1 / 6, events=False, title="Olive and coconut", power_cut_s=0)
    app = make_app(CookLibrary(tmp_path, lambda _anchor: clock), KEY)
    with running(Server(app, socket.create_server(("127.0.0.1", 0)), None)) as server:
        address = f"http://127.0.0.1:{server.effective_port}"
        context = browser.new_context(viewport={"width": 390, "height": 844}, timezone_id=ZONE, has_touch=True)
        page = context.new_page()
        errors: list[str] = []
        page.on("pageerror", lambda error: errors.append(str(error)))
        page.goto(f"{address}/?key={KEY}")
        taken_over(page)
        yield Walk(page, maker, clock, address)
        context.close()
        assert errors == []
    maker.recorder.close()


def test_a_batch_is_walked_from_the_oils_to_the_label(walk: Walk) -> None:
    before_the_lid(walk)
    cook_until_clear(walk)
    dilute_and_rest(walk)
    neutralise(walk)
    thicken_and_colour(walk)
    settle_and_bottle(walk)
    kinds = [event.kind for event in load(walk.maker.path).events]
    wanted: tuple[str, ...] = (
        "oils melted",
        "lye cooled",
        "lye in",
        "thick trace",
        "lid on",
        "heat off",
        "finished",
        "paste weighed",
    )
    wanted += ("water added", "ph read", "jar neutralised", "neutraliser added", "jar thickened", "added", "settled")
    assert {*wanted, "bottled", "labelled", "timer set"} <= set(kinds)
    assert walk.taps == TAPS


def before_the_lid(walk: Walk) -> None:
    walk.begin("before the lid")
    walk.shows("Melt the oils")
    walk.press("Timer 10\u00a0min")
    walk.jump(601)
    walk.rings("heat off once nothing solid is left")
    walk.shows("Melt the oils")
    walk.press("Oils melted")
    walk.shows("Let the lye cool")
    expect(walk.page.locator("#wrong")).to_be_hidden()
    walk.press("Timer 15\u00a0min")
    walk.jump(901)
    walk.rings("its jug is no more than warm")
    walk.press("Lye cooled")
    walk.shows("Pour the lye in")
    walk.press("Lye in")
    walk.shows("Blend to thick trace")
    walk.press("Thick trace")
    # The probe is heard, and ticks itself.
    walk.shows("Put the lid on")
    walk.press("Lid on")
    walk.maker.power_back()


def cook_until_clear(walk: Walk) -> None:
    walk.begin("the cook's end")
    walk.jump(3 * HOUR)
    # Nobody logged a stir; this cook is of no interest here.
    expect(walk.page.locator("#due")).to_contain_text("Stir now", timeout=15_000)
    walk.tap(walk.page.locator("#first-checked"))
    walk.tap(walk.page.get_by_role("button", name="Clear No veil"))
    walk.shows("It reads clear")
    walk.press("Heat off")
    walk.shows("Finish the cook")
    walk.press("Finished")
    walk.tap(walk.page.get_by_role("button", name="Yes, finished"))
    expect(walk.page.locator("#due")).to_contain_text("Finished at")
    expect(walk.page.locator("#due-when")).to_have_text("Next: weigh the paste.")


def dilute_and_rest(walk: Walk) -> None:
    walk.begin("dilute")
    walk.jump(1800)
    walk.on_bench("Weigh the paste")
    walk.fill("Undiluted paste, I weighed", "1200")
    walk.keep("Log this weight")
    walk.shows("Add boiling distilled water")
    walk.on_bench("Dilute")
    walk.fill("I weighed", "900")
    walk.keep("It went in: log it")
    walk.shows("Lumps? Let it rest, covered")
    walk.press("Remind me in the morning")
    expect(walk.page.locator("#due-when")).to_contain_text("Until 09:00.")
    walk.jump(20 * HOUR)
    walk.rings("give what lumps are left a little more boiling water")
    walk.shows("Read the pH of a sample")
    walk.tap(walk.page.locator("#wrong [data-seen]"))
    expect(walk.page.locator("#wrong")).to_be_hidden()


def neutralise(walk: Walk) -> None:
    walk.begin("neutralise")
    walk.on_bench("Read its pH")
    walk.fill("pH", "10.6")
    walk.keep("Log this pH")
    walk.shows("Try the dose in a jar")
    walk.on_bench("Jar test")
    walk.fill("Product in the jar, I weighed", "200")
    walk.fill("pH, read as for the pot", "10.4")
    walk.keep("Log this portion")
    walk.shows("Dose the soap")
    walk.on_bench("Neutralise")
    walk.fill("I weighed, dry", "1")
    walk.keep("It went in: log it")
    walk.shows("Wait a quarter of an hour")
    walk.press("Timer 15\u00a0min")
    walk.jump(901)
    walk.rings("read its pH")
    walk.shows("Try the thickening in a jar")
    walk.tap(walk.page.locator("#wrong [data-seen]"))
    expect(walk.page.locator("#wrong")).to_be_hidden()


def thicken_and_colour(walk: Walk) -> None:
    walk.begin("thicken, colour and scent")
    walk.on_bench("Thicken")
    walk.fill("Product in the jar, I weighed", "200")
    walk.fill("It ran out in", "14")
    walk.keep("Log this portion")
    walk.shows("Add colour and scent")
    walk.on_bench("Colour and scent")
    walk.fill("What", "lavender oil")
    walk.fill("Of the whole", "0.5")
    walk.fill("Supplier's limit", "1")
    walk.fill("I weighed", "10")
    walk.keep("It went in: log it")
    walk.shows("Let it rest for a week")


def settle_and_bottle(walk: Walk) -> None:
    walk.begin("settle and bottle")
    walk.press("Remind me in a week")
    expect(walk.page.locator("#due-when")).to_contain_text("Until ")
    listed(walk, "resting until")
    walk.jump(7 * DAY + 1)
    walk.rings("The soap has had its rest")
    walk.press("Clear or filtered")
    walk.tap(walk.page.get_by_role("button", name="Filtered Haze"))
    walk.shows("Bottle it")
    expect(walk.page.locator("#wrong")).to_be_hidden()
    walk.on_bench("Bottle")
    walk.fill("Bottles I filled", "8")
    walk.keep("They are filled: log it")
    walk.shows("Label the bottles")
    walk.press("Labelled")
    walk.shows("In 8 bottles")
    listed(walk, "in 8 bottles")


def listed(walk: Walk, words: str) -> None:
    """Looks where the batch stands in the list of cooks, and comes back."""
    walk.page.goto(f"{walk.address}/cooks")
    expect(walk.page.locator(".cooks.past li")).to_contain_text(words)
    walk.page.goto(f"{walk.address}/?cook={walk.maker.path.stem}")
    taken_over(walk.page)
