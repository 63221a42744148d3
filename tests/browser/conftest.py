"""A real browser and a served folder of recordings."""

import os
import socket
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page, sync_playwright

from dashboard.app import make_app
from dashboard.server.http_server import Server
from monitor.session import CookLibrary
from tests.dashboard.serving import running

CHROMIUM = "/usr/bin/chromium"
CHROMIUM_ARGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]
KEY = "a-key-for-tests"
ZONE = "Pacific/Auckland"

Phone = Callable[..., Page]


def taken_over(page: Page) -> None:
    """Waits until Dash's page stands in the place of the one that came first."""
    page.locator("html[data-by=dash]").wait_for(state="attached")


def keep_picture(page: Page, name: str) -> None:
    """Writes ``NAME.png`` into the folder that KETTLESIDE_SCREENSHOT names, for the README."""
    folder = os.environ.get("KETTLESIDE_SCREENSHOT")
    if folder:
        page.screenshot(path=Path(folder) / f"{name}.png")


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=CHROMIUM_ARGS)
        yield browser
        browser.close()


@pytest.fixture
def address(tmp_path: Path) -> Iterator[str]:
    with running(Server(make_app(CookLibrary(tmp_path), KEY), socket.create_server(("127.0.0.1", 0)), None)) as server:
        yield f"http://127.0.0.1:{server.effective_port}"


@pytest.fixture
def phone(browser: Browser, address: str) -> Iterator[Phone]:
    """Opens a paired phone at a path; fails at the end if any page wrote an error to its console.

    timers: lets the test run the page's timers ahead. dash: whether the page is one of those that Dash takes over.
    refusals: whether a status of 400, which the browser tells its console, is part of the test.
    """
    contexts: list[BrowserContext] = []
    complaints: list[str] = []

    def opened(
        path: str = "/",
        width: int = 390,
        height: int = 844,
        scheme: str = "light",
        *,
        timers: bool = False,
        dash: bool = True,
        refusals: bool = False,
    ) -> Page:
        context = browser.new_context(
            viewport={"width": width, "height": height},
            color_scheme="dark" if scheme == "dark" else "light",
            timezone_id=ZONE,
            has_touch=True,
        )
        contexts.append(context)
        page = context.new_page()

        def heard(message: ConsoleMessage) -> None:
            if message.type == "error" and not (refusals and "status of 400" in message.text):
                complaints.append(message.text)

        page.on("console", heard)
        page.on("pageerror", lambda error: complaints.append(str(error)))
        if timers:
            page.clock.install()
        page.goto(f"{address}{path}?key={KEY}")
        if dash:
            taken_over(page)
        return page

    yield opened
    for context in contexts:
        context.close()
    assert complaints == []
