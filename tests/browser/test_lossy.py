"""The page behind a network that swallows answers, goes silent, or loses a third of the answers."""

import re
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, Page, expect

from monitor.runtime import SystemClock
from monitor.session import CookLibrary
from monitor.storage import load
from tests.browser.conftest import KEY, ZONE, taken_over
from tests.browser.proxy import Proxy, network
from tests.cli.processes import until
from tests.dashboard.seeded import Maker

pytestmark = pytest.mark.browser

# What the page is to need from the network's return on, on the phone; the test's own looks are on top.
RECOVERED_MS = 5000
STRIP = "#strip-words"

Opened = Callable[..., Page]


@pytest.fixture
def maker(tmp_path: Path) -> Iterator[Maker]:
    made = Maker(tmp_path, SystemClock(), hours=0.6)
    yield made
    made.recorder.close()


@pytest.fixture
def between(address: str) -> Iterator[Proxy]:
    port = urlsplit(address).port
    assert port is not None
    with network(port) as proxy:
        yield proxy


@pytest.fixture
def phone(browser: Browser, between: Proxy) -> Iterator[Opened]:
    """Opens a page behind the network; an error of the page fails the test, an error of the network does not."""
    faults: list[str] = []
    contexts = []

    def opened(path: str = "/", *, timers: bool = False) -> Page:
        context = browser.new_context(viewport={"width": 390, "height": 844}, timezone_id=ZONE, has_touch=True)
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: faults.append(str(error)))
        if timers:
            page.clock.install()
        page.goto(f"{between.address}{path}?key={KEY}")
        taken_over(page)
        return page

    yield opened
    for context in contexts:
        context.close()
    assert faults == []


def stirs(maker: Maker) -> list[float]:
    return [event.measured for event in load(maker.path).events_of("stirred")]


def tap(page: Page, name: str) -> None:
    page.locator("#first").get_by_role("button", name=name).tap()


def write_note(page: Page, text: str) -> None:
    page.get_by_role("button", name="More").tap()
    page.get_by_role("dialog").get_by_role("button", name="Note").tap()
    page.get_by_label("What should be remembered?").fill(text)
    page.get_by_role("button", name="Keep the note").tap()


def waits_for_news(page: Page) -> None:
    """Counts the changes that the page takes in, on the page's own clock."""
    page.evaluate(
        """() => {
            window.news = [];
            const draw = window.kettlesideCard.draw;
            let last = null;
            window.kettlesideCard.draw = (look, ...others) => {
                if (look.time !== last) window.news.push(performance.now());
                last = look.time;
                return draw(look, ...others);
            };
        }"""
    )


@pytest.mark.parametrize("lasts_s", [2.0, 6.0, 11.0])
def test_the_page_is_back_within_five_seconds_of_the_networks_return(
    maker: Maker, phone: Opened, between: Proxy, lasts_s: float
) -> None:
    page = phone()
    waits_for_news(page)
    until(lambda: page.evaluate("window.news.length") > 0)
    between.black_hole.set()
    page.wait_for_timeout(1000 * lasts_s)
    told = page.locator("#away").inner_text()
    assert (lasts_s < 9) == (told == "") and "No answer" not in page.locator("main").inner_text()
    before = page.evaluate("window.news.length")
    between.black_hole.clear()
    returned = page.evaluate("performance.now()")
    until(lambda: page.evaluate(f"window.news.length > {before}"))
    assert page.evaluate(f"window.news[{before}]") - returned < RECOVERED_MS
    expect(page.locator("#away")).to_be_hidden()


def test_a_lost_answer_is_requested_again(maker: Maker, phone: Opened, between: Proxy) -> None:
    page = phone()
    waits_for_news(page)
    until(lambda: page.evaluate("window.news.length") > 0)
    before = page.evaluate("window.news.length")
    between.swallow = 1
    until(lambda: between.swallow == 0)
    swallowed = page.evaluate("performance.now()")
    until(lambda: page.evaluate(f"window.news.length > {before}"))
    assert page.evaluate(f"window.news[{before}]") - swallowed < RECOVERED_MS


@pytest.mark.parametrize("event", ["online", "visibilitychange"])
def test_the_page_asks_at_once_when_the_browser_reports_the_network(
    maker: Maker, phone: Opened, between: Proxy, event: str
) -> None:
    page = phone()
    waits_for_news(page)
    between.black_hole.set()
    page.wait_for_timeout(4500)
    before = page.evaluate("window.news.length")
    between.black_hole.clear()
    target = "window" if event == "online" else "document"
    told = page.evaluate(f"() => {{ {target}.dispatchEvent(new Event('{event}')); return performance.now(); }}")
    until(lambda: page.evaluate(f"window.news.length > {before}"))
    # What had begun within the last second is left to its limit.
    assert page.evaluate(f"window.news[{before}]") - told < RECOVERED_MS


def test_there_are_never_two_polls_at_once(maker: Maker, phone: Opened, between: Proxy) -> None:
    page = phone()
    page.evaluate(
        """() => {
            const real = window.fetch;
            window.most = 0;
            let open = 0;
            window.fetch = (...asked) => {
                window.most = Math.max(window.most, ++open);
                return real(...asked).finally(() => { open -= 1; });
            };
        }"""
    )
    between.black_hole.set()
    for _ in range(4):
        page.evaluate("() => { for (let i = 0; i < 20; i++) window.dispatchEvent(new Event('online')); }")
        page.wait_for_timeout(1100)
    between.black_hole.clear()
    until(lambda: page.evaluate("window.most > 0"))
    # One that is given up and the next overlap for as long as the browser takes to say so.
    assert page.evaluate("window.most") <= 2


def test_entries_made_offline_are_sent_in_order_with_the_time_of_their_taps(
    maker: Maker, phone: Opened, between: Proxy
) -> None:
    page = phone()
    before = len(stirs(maker))
    between.away.set()
    tapped = SystemClock().now()
    tap(page, "Stirred")
    write_note(page, "Smelt of wax")
    expect(page.locator("#waiting")).to_have_text("2 entries wait to be sent", timeout=10_000)
    expect(page.locator(STRIP)).to_have_text("Note: Smelt of wax, being sent")
    assert page.locator("#note-text").input_value() == "Smelt of wax"
    # The page that comes in the place of this one has nothing but what was kept.
    between.away.clear()
    page.reload()
    taken_over(page)
    expect(page.locator("#log-list")).to_contain_text("Note: Smelt of wax", timeout=10_000)
    expect(page.locator("#waiting")).to_be_hidden()
    assert len(stirs(maker)) == before + 1
    assert abs(stirs(maker)[-1] - tapped) < 2.0
    assert page.evaluate("Object.keys(localStorage).filter((key) => key.startsWith('kettleside entry')).length") == 0


def test_an_entry_with_a_lost_answer_is_logged_once_before_undo_and_earlier(
    maker: Maker, phone: Opened, between: Proxy
) -> None:
    page = phone()
    before = stirs(maker)
    between.lose = 1.0
    tap(page, "Stirred")
    until(lambda: len(stirs(maker)) == len(before) + 1)
    page.get_by_role("button", name="5 min earlier").tap()
    page.get_by_role("button", name="5 min earlier").tap()
    at = stirs(maker)[-1]
    between.lose = 0.0
    moved = re.compile(r"^Stirred, \d\d:\d\d$")
    expect(page.locator(STRIP)).to_have_text(moved, timeout=10_000)
    assert stirs(maker) == pytest.approx(sorted([*before, at - 600]))
    between.lose = 1.0
    page.get_by_role("button", name="Undo").tap()
    lost = between.lost
    until(lambda: between.lost > lost + 1)
    between.lose = 0.0
    expect(page.locator(STRIP)).to_have_text("Taken back: Stirred", timeout=10_000)
    now = SystemClock().now() + 1
    assert [event.measured for event in load(maker.path, now).events_of("stirred")] == before


def test_a_double_tap_is_one_stir_and_two_stirs_are_two(maker: Maker, phone: Opened) -> None:
    page = phone(timers=True)
    before = len(stirs(maker))
    tap(page, "Stirred")
    tap(page, "Stirred")
    expect(page.locator(STRIP)).to_have_text(re.compile(r"^Stirred, \d\d:\d\d\. Tapped twice, logged once\.$"))
    assert len(stirs(maker)) == before + 1
    page.clock.run_for(2100)
    tap(page, "Stirred")
    expect(page.locator(STRIP)).to_have_text(re.compile(r"^Stirred, \d\d:\d\d$"))
    assert len(stirs(maker)) == before + 2


def test_a_refused_entry_is_shown_and_kept_until_discarded(
    maker: Maker, phone: Opened, between: Proxy, tmp_path: Path
) -> None:
    page = phone()
    between.away.set()
    # Somebody else finishes it meanwhile.
    cook = CookLibrary(tmp_path).cook(maker.path.stem)
    cook.log_event("finished")
    tap(page, "Stirred")
    tap(page, "Checked")
    page.get_by_role("dialog").get_by_role("button", name=re.compile("^Hazy")).tap()
    between.away.clear()
    refused = page.locator("#refused")
    expect(refused).to_contain_text(
        re.compile(r"Not logged: Stirred, \d\d:\d\d\. The cook had been finished"), timeout=10_000
    )
    # One that is refused holds up none.
    until(lambda: bool(load(maker.path).events_of("checked")))
    page.reload()
    taken_over(page)
    expect(refused).to_contain_text("Not logged: Stirred")
    refused.get_by_role("button", name="Send it again").tap()
    expect(refused).to_contain_text("The cook had been finished")
    refused.get_by_role("button", name="Discard it").tap()
    expect(refused).to_be_hidden()
    assert page.evaluate("window.kettlesideEntries.list().length") == 0


def test_waiting_entries_are_bounded_and_a_full_phone_reports_it(maker: Maker, phone: Opened, between: Proxy) -> None:
    page = phone()
    between.black_hole.set()
    kept = page.evaluate(
        """() => {
            const add = (text) => window.kettlesideEntries.add({ path: "/log", body: { cook: "x", kind: "note", fields: { text } }, text: "Note" });
            let count = 0;
            try { for (;;) { add(`${count}`); count += 1; } } catch (error) { return [count, error.message]; }
        }"""
    )
    assert kept == [200, "Not kept: too much waits to be sent already."]
    page.evaluate(
        "() => window.kettlesideEntries.list().forEach((entry) => window.kettlesideEntries.discard(entry.id))"
    )
    write_note(page, "x" * 2000)
    assert page.evaluate(
        """() => {
            const text = "y".repeat(2000);
            let count = 1;
            try {
                for (;;) {
                    window.kettlesideEntries.add({ path: "/log", body: { fields: { text: text + count } }, text: "Note" });
                    count += 1;
                }
            } catch { return count; }
        }"""
    ) in range(25, 33)
    tap(page, "Stirred")
    expect(page.locator(STRIP)).to_have_text(re.compile("Stirred, being sent|Not kept: too much waits"))


def test_a_view_only_phone_keeps_no_entries(maker: Maker, phone: Opened, between: Proxy) -> None:
    page = phone()
    made = page.request.post(
        f"{between.address}/phones/link",
        data={"name": "Guest", "hours": 24},
        headers={"Origin": between.address, "Sec-Fetch-Site": "same-origin"},
    )
    page.context.clear_cookies()
    page.goto(made.json()["link"])
    taken_over(page)
    said = page.evaluate(
        """() => {
            try { window.kettlesideEntries.add({ path: "/log", body: { kind: "stirred" }, text: "Stirred" }); } catch (error) { return error.message; }
        }"""
    )
    assert said == "This link lets look, not change."
    assert page.evaluate("window.kettlesideEntries.list().length") == 0


def test_thirty_taps_are_logged_once_through_a_lossy_network(maker: Maker, phone: Opened, between: Proxy) -> None:
    page = phone()
    between.lose = 1 / 3
    for number in range(30):
        write_note(page, f"tap {number}")
    until(lambda: page.evaluate("window.kettlesideEntries.list().length === 0"))
    counted = Counter(str(event.fields["text"]) for event in load(maker.path).events_of("note"))
    assert between.lost > 5
    assert counted == Counter({f"tap {number}": 1 for number in range(30)})


def test_a_finished_cook_raises_no_alarm_when_the_server_stops(maker: Maker, phone: Opened, between: Proxy) -> None:
    page = phone()
    maker.log("finished", SystemClock().now() - maker.started)
    expect(page.locator("#due")).to_contain_text("Finished at", timeout=10_000)
    between.black_hole.set()
    away = page.locator("#away")
    expect(away).to_have_text(
        re.compile(r"^kettleside has not answered since \d\d:\d\d; trying again\.$"), timeout=20_000
    )
    paper = page.evaluate("getComputedStyle(document.getElementById('away')).backgroundColor")
    assert paper == "rgba(0, 0, 0, 0)"
    expect(page.locator("#wrong")).to_be_hidden()
    expect(page.locator("#due")).to_contain_text("Finished at")
