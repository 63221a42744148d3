"""Alarms, suggestions, the probe page and a whole calibration, tapped through on a phone in a real Chromium."""

import math
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Locator, Page, Response, expect

from monitor.probes import PhCalibration
from monitor.protocol import Pack, SenmlRecord
from monitor.runtime import SystemClock
from monitor.simulator.sensors import ElectrodeTraits, electrode_v
from monitor.storage import CalibrationLog, load
from monitor.storage.calibration_log import FILE
from tests.browser.conftest import Phone, taken_over
from tests.browser.test_phone import SIZES, TARGET_PX, drawn
from tests.cli.processes import until
from tests.dashboard.dash_requests import written
from tests.dashboard.seeded import Maker

pytestmark = pytest.mark.browser

# A half minute of settling passes in one second.
RATE = 30.0
TRAITS = ElectrodeTraits(offset_v=0.008, slope=0.965)
FULL_SIZE = "document.documentElement.scrollWidth"
SMALL = """(least) => [...document.querySelectorAll('button, a, input, select, summary')]
    .filter((target) => target.offsetParent !== null)
    .map((target) => [target.textContent, target.getBoundingClientRect()])
    .filter(([, box]) => box.height < least || box.width < least)
    .map(([text, box]) => `${text}: ${box.width} x ${box.height}`)"""


def typed(page: Page, name: str) -> Locator:
    """The guide's field of this name."""
    return page.locator(f"[id='{written({'field': name, 'row': ''})}']")


class Bench:
    """A running cook at thirty times life with a pH probe that can be dipped and a wall probe that can come loose."""

    def __init__(self, folder: Path) -> None:
        self.maker = Maker(folder, SystemClock(), hours=1.5, rate=RATE)
        self.clock = SystemClock(self.maker.anchor)
        self.name = self.maker.path.stem
        self.sent = self.clock.now()
        self.dipped_at, self.before_v, self.target_v = self.sent, 0.1, 0.1
        self.loose = False

    def goes_on(self) -> None:
        """What has been measured since the last call."""
        now = self.clock.now()
        while self.sent + 1.0 <= now:
            self.sent += 1.0
            settled = self.target_v + (self.before_v - self.target_v) * math.exp(-(self.sent - self.dipped_at) / 6.0)
            records = [
                SenmlRecord("paste", "Cel", 92.0 + (self.sent // 1 % 4) / 4, None, self.sent),
                SenmlRecord("ph", "V", settled, None, self.sent),
                SenmlRecord("wall", "Cel", None, "open circuit", self.sent)
                if self.loose
                else SenmlRecord("wall", "Cel", 97.0 + (self.sent // 1 % 3) / 4, None, self.sent),
            ]
            self.maker.recorder.add_pack(Pack(tuple(records), self.sent, None, None))
        self.maker.recorder.commit()

    def dip(self, volts: float) -> None:
        self.goes_on()
        self.before_v, self.target_v, self.dipped_at = self.target_v, volts, self.clock.now()

    def until_seen(self, page: Page, selector: str, words: str) -> None:
        def seen() -> bool:
            self.goes_on()
            place = page.locator(selector).first
            return place.is_visible() and re.search(words, place.inner_text()) is not None

        until(seen)


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    made = Bench(tmp_path)
    made.goes_on()
    yield made
    made.maker.recorder.close()


def test_an_alarm_is_acknowledged_shelved_and_unshelved(bench: Bench, phone: Phone) -> None:
    page = drawn(phone())
    bench.loose = True
    bench.until_seen(page, "#wrong", "wall probe says “open circuit”")
    page.locator("#wrong [data-seen='wall probe open']").tap()
    bench.until_seen(page, "#known", "open circuit.*seen")
    expect(page.locator("#wrong")).not_to_contain_text("open circuit")
    page.locator("#known [data-aside='wall probe open']").tap()
    bench.until_seen(page, "#aside-words", "Put aside: 1")
    expect(page.locator("#strip-words")).to_have_text("Put aside for 30 min: wall probe open")
    expect(page.locator("#known")).to_be_hidden()
    expect(page.locator("#aside-list")).to_be_hidden()
    page.locator("#aside-words").tap()
    expect(page.locator("#aside-list")).to_contain_text("put aside until")
    page.locator("#aside-list button").tap()
    bench.until_seen(page, "#known", "open circuit")
    events = load(bench.maker.path).events_of("acknowledged", "shelved")
    assert [event.kind for event in events] == ["acknowledged"]


def test_an_unacknowledged_past_alarm_is_shown_in_the_past_tense(bench: Bench, phone: Phone) -> None:
    page = drawn(phone())
    bench.loose = True
    bench.until_seen(page, "#wrong", "Look here: The wall probe says")
    bench.loose = False
    bench.until_seen(page, "#wrong", r"It was: The wall probe said “open circuit” and reads again. .* it is over")
    page.locator("#wrong [data-seen='wall probe open']").tap()
    expect(page.locator("#wrong")).not_to_contain_text("open circuit")


def test_a_suggested_stir_is_accepted_withdrawn_and_dismissed(tmp_path: Path, phone: Phone) -> None:
    # The dips of the seeded cook, of whose stirs nobody logged one.
    made = Maker(tmp_path, SystemClock(), hours=2.6, events=False)
    made.log("lid on", 1700)
    made.went_on(SystemClock().now() - made.started)
    made.recorder.close()
    page = drawn(phone())
    questions = page.locator("#offers .question")
    expect(questions).to_have_count(2)
    expect(questions.first).to_have_text(re.compile(r"^Stirred at \d\d:\d\d\?$"))
    asked = questions.first.inner_text()
    page.locator("#offers [data-deed=keep]").first.tap()
    expect(page.locator("#strip-words")).to_have_text(re.compile(r"Stirred, \d\d:\d\d"))
    expect(page.locator("#earlier")).to_be_hidden()
    expect(questions.first).not_to_have_text(asked)
    assert len(load(made.path).events_of("stirred")) == 1
    page.get_by_role("button", name="Undo").tap()
    expect(questions.first).to_have_text(asked)
    page.locator("#offers [data-deed=drop]").first.tap()
    expect(page.locator("#strip-words")).to_contain_text("Dropped: stirred")
    expect(questions.first).not_to_have_text(asked)
    assert not load(made.path, SystemClock().now() + 1).events_of("stirred")


def test_a_probe_is_calibrated_and_a_sample_read(bench: Bench, phone: Phone, tmp_path: Path) -> None:
    page = phone(refusals=True)
    page.get_by_role("link", name="Probes").tap()
    bench.until_seen(page, "section[aria-label=pH] .health", "Not calibrated")
    page.get_by_role("link", name="Calibrate").tap()
    page.wait_for_url("**/buffers?*")
    taken_over(page)
    bench.until_seen(page, "#signal-now", r"[+−]\d+\.\d mV")
    typed(page, "temperature").fill("85")
    page.get_by_role("button", name="Begin").tap()
    expect(page.locator("#guide-refused")).to_contain_text("too hot to calibrate in")
    typed(page, "temperature").fill("25")
    page.get_by_role("button", name="Begin").tap()
    # Swapped at first, as happens.
    for ph, title in ((10.012, "1 of 2: pH 7.00"), (7.0, "2 of 2: pH 10.01")):
        bench.until_seen(page, "#guide-part h2", title)
        bench.dip(electrode_v(TRAITS, ph, 25.0))
        page.get_by_role("button", name="It is in").tap()
    bench.until_seen(page, "#guide-part .refusal", "look swapped")
    page.get_by_role("button", name="Start over").tap()
    page.get_by_role("button", name="Begin").tap()
    bench.until_seen(page, "#guide-part h2", "1 of 2")
    bench.dip(electrode_v(TRAITS, 7.0, 25.0))
    page.get_by_role("button", name="It is in").tap()
    # A phone that was put away in between goes on where it was.
    bench.until_seen(page, "#guide-settling", "Settling")
    page.reload()
    bench.until_seen(page, "#guide-part h2", "2 of 2")
    bench.dip(electrode_v(TRAITS, 10.012, 25.0))
    page.get_by_role("button", name="It is in").tap()
    bench.until_seen(page, "#guide-part", "The probe is good: slope 9[67]")
    assert not (tmp_path / FILE).exists()
    page.get_by_role("button", name="Keep this calibration").tap()
    bench.until_seen(page, "#guide-part", "Kept. The probe is good")
    assert CalibrationLog(tmp_path).facts().latest(PhCalibration, "cooker", "ph") is not None
    page.get_by_role("link", name="Probes").tap()
    bench.until_seen(page, "section[aria-label=pH] .shown", r"pH \d+\.\d\d")
    expect(page.locator("section[aria-label=pH] .health")).to_have_text("Reads well.")
    page.get_by_role("link", name="Read a sample").tap()
    page.wait_for_url("**/sample?*")
    taken_over(page)
    bench.until_seen(page, "#signal-now", "mV")
    typed(page, "temperature").fill("93")
    page.get_by_role("button", name="Begin").tap()
    expect(page.locator("#guide-refused")).to_contain_text("At 93 °C a glass probe tells little")
    typed(page, "temperature").fill("25")
    page.get_by_role("button", name="Begin").tap()
    bench.until_seen(page, "#guide-part", "cooled sample")
    bench.dip(electrode_v(TRAITS, 10.2, 25.0))
    page.get_by_role("button", name="It is in").tap()
    bench.until_seen(page, "#guide-part", r"pH 10\.\d\d in 1 % at 25 °C")
    page.get_by_role("button", name="Log it with the cook").tap()
    bench.until_seen(page, "#guide-part", "Logged: pH 10")
    (event,) = load(bench.maker.path).events_of("ph read")
    assert event.fields["ph"] == pytest.approx(10.2, abs=0.03)
    page.get_by_role("button", name="Undo").tap()
    expect(page.locator("#guide-part")).to_have_text("Taken back.")


def test_the_probe_page_follows_a_fault(bench: Bench, phone: Phone) -> None:
    page = phone(f"/probes/{bench.name}")
    bench.until_seen(page, "section[aria-label=wall] .shown", r"97\.\d °C")
    page.locator("section[aria-label=wall] summary").tap()
    bench.loose = True
    bench.until_seen(page, "section[aria-label=wall] .health", "It says “open circuit”")
    # What the person had open stays open.
    bench.until_seen(page, "section[aria-label=wall] .faults", "and still: “open circuit”")


def test_the_probe_page_says_when_nobody_answers(bench: Bench, phone: Phone) -> None:
    page = phone(f"/probes/{bench.name}", timers=True)
    heard: list[Response] = []
    page.on(
        "response", lambda answer: heard.append(answer) if "probes-heard" in (answer.request.post_data or "") else None
    )

    def answered() -> bool:
        page.clock.run_for(1000)
        return bool(heard)

    # Only a page that was answered can tell that it is not any more.
    until(answered)
    expect(page.locator("#gone")).to_be_hidden()
    page.route("**/_dash-update-component*", lambda _route: None)

    def told() -> bool:
        # Once more for each answer that was still under way when the line was cut.
        page.clock.run_for(9000)
        return page.locator("#gone").is_visible()

    until(told)
    expect(page.locator("#gone")).to_have_text("No answer from kettleside; what stands here may be old.")


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize(("width", "height"), SIZES)
def test_pages_fit_the_screen_and_have_large_touch_targets(
    bench: Bench, phone: Phone, address: str, width: int, height: int, scheme: str
) -> None:
    bench.loose = True
    page = phone("/", width, height, scheme)
    bench.until_seen(page, "#wrong", "open circuit")
    assert page.evaluate(FULL_SIZE) <= width and page.evaluate(SMALL, TARGET_PX) == []
    for path in ("", "/buffers", "/baths?channel=paste", "/sample"):
        page.goto(f"{address}/probes/{bench.name}{path}")
        taken_over(page)
        for place in page.locator("summary").all():
            place.tap()
        assert page.evaluate(FULL_SIZE) <= width, path
        assert page.evaluate(SMALL, TARGET_PX) == [], path
