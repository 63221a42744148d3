"""The whole way in a real browser: a pseudo-terminal, the logger, the recording, the dashboard, the phone."""

import re
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from monitor.storage import load, recordings
from tests.browser.conftest import taken_over
from tests.cli.processes import PATIENCE_S, until
from tests.sources.mosquitto import free_port
from tests.sources.polling import Terminal, line

pytestmark = pytest.mark.browser

ROOT = Path(__file__).resolve().parents[2]
SPEED = 600
A_COOK_MS = 90_000


@contextmanager
def house(said: Path, *words: str) -> Iterator[Callable[[], str]]:
    """A command of kettleside that serves pages, ended at the end; gives the address that it prints."""
    with said.open("w") as out:
        process = subprocess.Popen([sys.executable, "-m", "monitor.cli", *words], stdout=out, stderr=out, cwd=ROOT)

        def address() -> str:
            def found() -> re.Match[str] | None:
                return re.search(r"http://[^:\s]+(:\d+/\?key=\S+)", said.read_text())

            until(lambda: found() is not None)
            match = found()
            assert match is not None
            return f"http://127.0.0.1{match[1]}"

        try:
            yield address
        finally:
            process.send_signal(signal.SIGINT)
            process.wait(PATIENCE_S)


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True)
    page = context.new_page()
    # The server of a test that takes it away is missed by the browser's console too, as it should be.
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    yield page
    context.close()
    assert faults == []


def test_a_demo_is_shown_live_from_start_to_end(page: Page, tmp_path: Path) -> None:
    demo = ["demo", "--speed", str(SPEED), "--recordings", str(tmp_path / "cooks"), "--port", str(free_port())]
    with house(tmp_path / "said", *demo) as address:
        until(lambda: bool(recordings(tmp_path / "cooks")))
        page.goto(address())
        taken_over(page)
        expect(page.locator("#pace")).to_contain_text(
            f"An invented cook, {SPEED} times faster than life. Its own clock"
        )
        expect(page.locator("#paste")).to_have_text(re.compile(r"^\d+\.\d °C$"), timeout=A_COOK_MS)
        first = page.locator("#paste").inner_text()
        expect(page.locator("#paste")).not_to_have_text(first, timeout=A_COOK_MS)
        expect(page.locator("#due")).to_have_text(re.compile("Stir in|Stir now"), timeout=A_COOK_MS)
        expect(page.locator("#wrong")).not_to_contain_text("No data")
        due = page.locator("#due").inner_text()
        expect(page.locator("#due")).not_to_have_text(due, timeout=A_COOK_MS)
        expect(page.locator("#due")).to_contain_text(re.compile("Check clarity|Clarity check"), timeout=A_COOK_MS)
        # The invented maker also dilutes and reads the pH; what comes after that is offered next.
        expect(page.locator("#due")).to_have_text("Try the dose in a jar", timeout=A_COOK_MS)
        expect(page.locator("#pace")).to_have_text(f"An invented cook; it ran {SPEED} times faster than life.")
        paste = load(recordings(tmp_path / "cooks")[0]).series["paste"]
        expect(page.locator("#paste")).to_have_text(f"{paste.value[-1]:.1f} °C")


def test_a_cook_begun_on_the_page_is_continued_by_the_running_logger(page: Page, tmp_path: Path) -> None:
    terminal, folder, sent = Terminal(), tmp_path / "cooks", 0

    def seen(text: str, paste_c: float) -> bool:
        """Sends one more pack; whether the page shows this temperature by now."""
        nonlocal sent
        sent += 1
        terminal.send(line(paste_c, sent))
        return page.locator("#paste").first.inner_text(timeout=5000) == text

    start = ["start", "--source", f"serial://{terminal.path}", "--recordings", str(folder), "--port", str(free_port())]
    with house(tmp_path / "said", *start) as address:
        until(lambda: "Waits for the first reading" in (tmp_path / "said").read_text())

        def begun() -> bool:
            """Sends one more pack, as a rig does: what came before the port was open is dropped with its old bytes."""
            nonlocal sent
            sent += 1
            terminal.send(line(81.5, sent))
            return bool(recordings(folder))

        until(begun)
        page.goto(address())
        taken_over(page)
        until(lambda: seen("81.5 °C", 81.5))
        page.get_by_role("button", name="More").tap()
        page.get_by_role("dialog").get_by_role("button", name="Finished").tap()
        page.get_by_role("button", name="Yes, finished").tap()
        expect(page.locator("#due")).to_contain_text("Finished at")
        until(lambda: "The cook is finished" in (tmp_path / "said").read_text())
        page.get_by_role("button", name="Start a new cook").tap()
        page.wait_for_url(re.compile(r"\?cook="))
        taken_over(page)
        expect(page.locator("#paste")).to_have_text("no reading")
        until(lambda: seen("23.5 °C", 23.5))
        newest, oldest = recordings(folder)
        assert set(load(newest).series["paste"].value) == {23.5}
        assert 23.5 not in load(oldest).series["paste"].value
    terminal.close()


def test_the_page_reports_a_stopped_server(page: Page, tmp_path: Path) -> None:
    demo = ["demo", "--speed", "60", "--recordings", str(tmp_path / "cooks"), "--port", str(free_port())]
    with house(tmp_path / "said", *demo) as address:
        until(lambda: bool(recordings(tmp_path / "cooks")))
        page.goto(address())
        taken_over(page)
        expect(page.locator("#away")).to_be_hidden()
    # With its server an invented cook is over; of a real one the page says since when there was no answer (test_lossy).
    expect(page.locator("#away")).to_have_text(
        "This invented cook is over: its kettleside no longer runs.", timeout=25_000
    )
