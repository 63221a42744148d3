"""The example in the manual's page on home automation is what a real broker held.

``KETTLESIDE_CAPTURE=dashboard/manual .venv/bin/pytest -n 0 -m broker tests/notifications`` writes it anew.
"""

import json
import os
import re
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from monitor.notifications.discovery import state_of
from monitor.notifications.home_automation import HomeAutomation
from monitor.notifications.settings import HomeAutomationSettings, read_notice_settings
from monitor.runtime import SystemClock
from monitor.session import CookLibrary
from monitor.sources import parse_source_url
from tests.cli.processes import until
from tests.notifications.test_channels import Reports
from tests.notifications.test_home_automation import CONFIG, STATE, retained
from tests.notifications.test_notifier import Cooking
from tests.sources.mosquitto import Mosquitto, Rig

PAGE = Path(__file__).resolve().parents[2] / "dashboard" / "manual" / "home-automation.md"
CAPTURED = re.compile(r"(<!-- captured (\w+) -->\n```\w+\n)(.*?)(```\n)", re.DOTALL)
# One of each kind; the others are like them.
IN_THE_PAGE = ("temperature_c", "problem", "stirred")


@pytest.fixture
def kept(tmp_path: Path) -> Iterator[dict[str, bytes]]:
    """What a broker keeps of a cook of which 50 minutes have passed, which is the same in every run."""
    folder = tmp_path / "cooks"
    folder.mkdir()
    cooking = Cooking(folder)
    cooking.cook_on(50)
    cook = CookLibrary(folder, lambda _: cooking.clock).running("cooker")
    assert cook is not None
    broker = Mosquitto(tmp_path).start()
    url = parse_source_url(f"mqtt://127.0.0.1:{broker.port}/kettleside/+/readings")
    settings = HomeAutomationSettings("discovery")
    home = HomeAutomation(folder, "cooker", url, SystemClock(), Reports(), lambda: settings)

    def seen(display: Rig) -> bool:
        home.update(cook, cook.outlook())
        return STATE in display.got

    try:
        with closing(Rig(broker.port, "display")) as display:
            display.subscribe("kettleside/#")
            until(lambda: seen(display))
        yield retained(broker.port)
    finally:
        home.close()
        broker.stop()


def examples(kept: dict[str, bytes]) -> dict[str, str]:
    """The blocks of the page by their names."""
    config = json.loads(kept[CONFIG])
    config["components"] = {key: config["components"][key] for key in IN_THE_PAGE}
    # They change with each version.
    for part in ("device", "origin"):
        config[part]["sw_version"] = "0.1.0"
    return {
        "topics": "".join(f"{topic}\n" for topic in sorted(kept)),
        "configuration": json.dumps(config, indent=2, ensure_ascii=False) + "\n",
        "state": json.dumps(json.loads(kept[STATE]), indent=2, ensure_ascii=False) + "\n",
    }


@pytest.mark.broker
def test_the_captured_example_is_what_a_broker_keeps(kept: dict[str, bytes]) -> None:
    page, blocks = PAGE.read_text(encoding="utf-8"), examples(kept)
    anew = CAPTURED.sub(lambda found: found[1] + blocks[found[2]] + found[4], page)
    if wanted := os.environ.get("KETTLESIDE_CAPTURE"):
        (Path(wanted) / PAGE.name).write_text(anew, encoding="utf-8")
        page = anew
    assert {name: block for _, name, block, _ in CAPTURED.findall(page)} == blocks


def test_the_settings_in_the_page_are_some() -> None:
    page = PAGE.read_text(encoding="utf-8")
    texts = re.findall(r"```toml\n(.*?)```", page, re.DOTALL)
    found = [read_notice_settings(text).home_automation for text in texts]
    assert len(found) == 2 and all(found)


def test_the_page_tells_every_key_of_the_state(tmp_path: Path) -> None:
    cooking = Cooking(tmp_path)
    cooking.cook_on(1)
    cook = CookLibrary(tmp_path, lambda _: cooking.clock).running("cooker")
    assert cook is not None
    page = PAGE.read_text(encoding="utf-8")
    rows = [line for line in page.splitlines() if line.startswith("| ")]
    for key in state_of(cook.outlook(), cook.history(), ""):
        assert any(f"`{key}`" in line for line in rows)
