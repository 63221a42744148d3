"""Access control in a real browser: no page breaks its own policy, and pairing works where only Origin is sent."""

import re
import shutil
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from dashboard.app import make_app
from dashboard.auth.access_control import AccessSettings
from dashboard.auth.access_list import AccessList
from dashboard.auth.hosts import AllowedHosts
from dashboard.server.http_server import Server
from monitor.session import CookLibrary
from tests.browser.conftest import CHROMIUM, CHROMIUM_ARGS, KEY, Phone, taken_over
from tests.dashboard.seeded import Maker

pytestmark = pytest.mark.browser

ROOT = Path(__file__).resolve().parents[2]
COOK = "2026-05-02T090000Z-invented-smooth"
# Every breach of a page's policy, as the browser itself reports it (W3C, CSP Level 3, section 5).
LISTEN = """window.breaches = []; document.addEventListener("securitypolicyviolation",
  (event) => window.breaches.push(`${event.effectiveDirective} ${event.blockedURI} ${event.sourceFile}`));"""
PAGES = ["/", "/cooks", f"/cooks/{COOK}", "/bench", "/bench/charge", "/bench/sample", "/bench/dilute",
         "/bench/neutralise", "/bench/bottle", "/bench/label", f"/record/{COOK}", "/phones", "/set-up",
         "/set-up/push", "/set-up/tls", "/nowhere"]  # fmt: skip


@pytest.fixture
def kitchen(tmp_path: Path) -> Iterator[Path]:
    """A past cook, and one that runs."""
    shutil.copy(ROOT / "recordings" / f"{COOK}.cook", tmp_path)
    maker = Maker(tmp_path, hours=1.5)
    yield tmp_path
    maker.recorder.close()


def settled(page: Page, path: str) -> None:
    page.wait_for_load_state("networkidle")
    if path == "/":
        page.locator(".chart .js-line").first.wait_for(state="attached")
    if path == f"/cooks/{COOK}":
        page.locator(".course .js-plotly-plot .main-svg").first.wait_for()


def test_no_page_violates_its_content_security_policy(kitchen: Path, browser: Browser, address: str) -> None:
    context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True)
    context.add_init_script(LISTEN)
    page = context.new_page()
    said: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    # The page that asks for the key is answered with 401, which the console tells.
    page.goto(f"{address}/")
    assert page.evaluate("window.breaches") == []
    expect(page.get_by_role("heading")).to_have_text("This page needs its key")
    said.clear()
    page.goto(f"{address}/?key={KEY}")
    assert "key" not in page.url and page.evaluate("history.length") <= 3
    for path in PAGES:
        page.goto(f"{address}{path}")
        settled(page, path)
        assert page.evaluate("window.breaches") == [], path
        assert [words for words in said if "Content Security Policy" in words or "Refused" in words] == [], path
    # The check can fail: what the policy is there for is stopped, and reported.
    page.evaluate("""() => { const made = document.createElement("script"); made.textContent = "window.broken = 1";
      document.body.append(made); document.body.setAttribute("onclick", "window.broken = 2"); document.body.click(); }""")
    page.wait_for_function("window.breaches.length >= 2")
    assert page.evaluate("window.broken") is None
    context.close()


@contextmanager
def framed(address: str) -> Iterator[str]:
    """A page of another site that holds this address in a frame."""

    class Elsewhere(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            self.send_response(200)
            self.send_header("Content-Type", "text/html")
            self.end_headers()
            self.wfile.write(f'<iframe src="{address}"></iframe>'.encode() if self.path == "/" else b"")

        def log_message(self, *_: object) -> None:
            pass

    with ThreadingHTTPServer(("127.0.0.1", 0), Elsewhere) as server:
        threading.Thread(target=server.serve_forever).start()
        try:
            yield f"http://127.0.0.1:{server.server_port}/"
        finally:
            server.shutdown()


def test_no_other_site_can_frame_a_page(browser: Browser, address: str) -> None:
    context = browser.new_context()
    page = context.new_page()
    page.goto(f"{address}/?key={KEY}")
    # Another origin on this machine, or the browser's own rules for local addresses would refuse first.
    with (
        framed(f"{address}/cooks") as elsewhere,
        page.expect_event("requestfailed", lambda request: str(request.url) == f"{address}/cooks") as refused,
    ):
        page.goto(elsewhere)
    assert "BLOCKED_BY_RESPONSE" in str(refused.value.failure)
    assert all("Past cooks" not in frame.content() for frame in page.frames[1:])
    context.close()


def test_the_phones_page_pairs_another_phone_by_a_link(
    phone: Phone, browser: Browser, address: str, kitchen: Path
) -> None:
    owner = phone("/set-up")
    owner.get_by_role("link", name="Phones").click()
    taken_over(owner)
    owner.get_by_role("button", name="Pair another phone").click()
    link = owner.get_by_label("Link", exact=True).get_by_role("link").inner_text()
    context = browser.new_context(viewport={"width": 390, "height": 844})
    page = context.new_page()
    page.goto(link)
    expect(page.locator("#due .verb, #due")).not_to_have_count(0)
    owner.get_by_role("link", name="Set-up").click()
    owner.get_by_role("link", name="Phones").click()
    taken_over(owner)
    other = owner.locator(".ways details").filter(has_not_text="this one")
    other.locator("summary").click()
    other.get_by_label("Name").fill("Hall")
    other.get_by_role("button", name="Change the name").click()
    expect(owner.locator(".ways strong")).to_have_text(["Screen (this one)", "Hall"])
    taken_over(owner)
    other.locator("summary").click()
    other.get_by_role("button", name="Shut out").click()
    expect(owner.locator(".ways details")).to_have_count(1)
    # The page that was open asks within two seconds, and is out.
    expect(page.locator("h1")).to_have_text("This page needs its key", timeout=20_000)
    context.close()


def test_a_view_only_link_shows_the_cook_without_buttons(phone: Phone, browser: Browser, kitchen: Path) -> None:
    owner = phone("/set-up")
    owner.get_by_role("link", name="Phones").click()
    taken_over(owner)
    owner.get_by_label("A link for").fill("Aunt")
    owner.get_by_role("button", name="For a day").click()
    link = owner.get_by_label("Link", exact=True).get_by_role("link").inner_text()
    context = browser.new_context(viewport={"width": 390, "height": 844})
    page = context.new_page()
    page.goto(link)
    assert "with" not in page.url
    page.locator("html[data-by=dash]").wait_for(state="attached")
    expect(page.locator("#due .amount, #due .verb").first).to_be_visible()
    for refused in ("#dock", "#try"):
        expect(page.locator(refused)).to_be_hidden()
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.get_by_role("link", name="Cooks").click()
    page.locator(".cooks a").first.click()
    page.get_by_role("button", name="Event before").click()
    expect(page.locator("#moment-label")).to_contain_text("As it was known at")
    assert faults == [] and page.locator("#note").count() == 0
    context.close()


@pytest.mark.parametrize("host", ["kettle.lan", "rebound.example"])
def test_a_typed_key_pairs_over_http_and_an_unknown_host_is_refused(
    tmp_path: Path, browser: Browser, host: str
) -> None:
    """A name that leads to this machine: not a trustworthy origin to the browser, which then sends no Sec-Fetch-Site."""
    import socket

    access = AccessSettings(AccessList(tmp_path), AllowedHosts(machine="kettle"))
    with socket.create_server(("127.0.0.1", 0)) as listener:
        server = Server(make_app(CookLibrary(tmp_path), KEY, access), listener, None)
        thread = threading.Thread(target=server.run)
        thread.start()
        rule = f"--host-resolver-rules=MAP {host} 127.0.0.1"
        led_here = browser.browser_type.launch(executable_path=CHROMIUM, args=[*CHROMIUM_ARGS, rule])
        try:
            page = led_here.new_page()
            answer = page.goto(f"http://{host}:{server.effective_port}/")
            assert answer is not None
            if host == "rebound.example":
                assert answer.status == 421
                return
            page.get_by_label("Key").fill(KEY)
            with page.expect_response(re.compile("/pair$")) as paired:
                page.get_by_role("button", name="Open").click()
            assert paired.value.status == 303
            expect(page.locator("#due")).to_have_text("No cook is running.")
        finally:
            led_here.close()
            # The workers first: one that still answers would wake the loop by a pipe that is closed.
            server.task_dispatcher.shutdown()
            server.trigger.pull_trigger(lambda: server.asyncore.close_all(server._map))
            thread.join(20)
