"""What a cable sends, listened to from a phone in a real Chromium."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import Phone, taken_over
from tests.browser.test_phone import TARGET_PX
from tests.browser.test_probes import FULL_SIZE, SMALL
from tests.cli.processes import until
from tests.dashboard.routes.test_listening import listeners
from tests.listening.senders import printed
from tests.sources.polling import Terminal

pytestmark = pytest.mark.browser


@pytest.fixture
def port(monkeypatch: pytest.MonkeyPatch) -> Iterator[Terminal]:
    terminal = Terminal()
    monkeypatch.setattr("monitor.sources.listed_ports", lambda _also: [terminal.path])
    yield terminal
    terminal.close()


def test_a_port_is_listened_to_until_the_page_is_left(port: Terminal, phone: Phone) -> None:
    with printed(
        port, lambda number: f'{{"pot": {{"temperature": {90 + number // 20 % 2}.5}}, "battery": 80}}\n'.encode()
    ):
        page = phone("/set-up", 360, 740)
        page.get_by_role("link", name="What sends").tap()
        page.wait_for_url("**/set-up/sends")
        taken_over(page)
        page.get_by_role("button", name=port.path).tap()
        heard = page.locator("#sends-heard")
        expect(heard).to_contain_text("pot.temperature (91.5) is read as paste in degC")
        expect(heard).to_contain_text("pot.temperature (90.5) is read as paste in degC")
        expect(heard).to_contain_text("kettleside log --source")
        page.locator(".opens summary").tap()
        assert page.evaluate(FULL_SIZE) <= 360 and page.evaluate(SMALL, TARGET_PX) == []
        page.get_by_role("button", name="Stop").tap()
        expect(page.get_by_text("ends when this page is left")).to_be_visible()
        assert listeners() == []
        page.get_by_role("button", name=port.path).tap()
        expect(heard).to_contain_text("is read as paste in degC")
        page.goto("about:blank")
        until(lambda: not listeners())
