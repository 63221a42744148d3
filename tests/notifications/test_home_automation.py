"""A home-automation platform on a real broker: what it finds, what it shows, and what its buttons log."""

import json
import os
import signal
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from monitor.notifications.discovery import BUTTONS
from monitor.notifications.home_automation import CLOCKS_APART_S, HomeAutomation
from monitor.notifications.settings import HomeAutomationSettings, read_notice_settings
from monitor.runtime import SystemClock
from monitor.session import Cook, CookLibrary
from monitor.sources import SourceUrl, parse_source_url
from monitor.storage import withdraw_event
from tests.cli.processes import PATIENCE_S, until
from tests.notifications.convention import check_configuration, check_topic
from tests.notifications.test_channels import Reports
from tests.notifications.test_processes import command, cook_with_a_stir_due
from tests.notifications.test_settings import settings_file
from tests.sources.mosquitto import Mosquitto, Rig

pytestmark = pytest.mark.broker
CLOCK = SystemClock()
CONFIG = "discovery/device/kettleside_cooker/config"
STATE, AVAILABLE = "kettleside/cooker/state", "kettleside/cooker/available"


def now() -> float:
    """By the wall clock, as the platform has it."""
    return CLOCK.anchor().wall


@dataclass
class Home:
    """A folder of recordings with its broker, and what is shown of its cooker."""

    folder: Path
    broker: Mosquitto
    settings: HomeAutomationSettings | None = field(default_factory=lambda: HomeAutomationSettings("discovery"))
    reports: Reports = field(default_factory=Reports)

    def __post_init__(self) -> None:
        self.automation = self.started()

    def url(self) -> SourceUrl:
        return parse_source_url(f"mqtt://127.0.0.1:{self.broker.port}/kettleside/+/readings")

    def started(self, source: str | None = None) -> HomeAutomation:
        """As a new process has it. source: of the rig; the broker by default."""
        url = self.url() if source is None else parse_source_url(source)
        return HomeAutomation(self.folder, "cooker", url, CLOCK, self.reports, lambda: self.settings)

    def restart(self) -> None:
        """Ends this process and begins another."""
        self.automation.close()
        self.automation = self.started()

    def cook(self) -> Cook | None:
        return CookLibrary(self.folder).running("cooker")

    def until(self, true: Callable[[], bool]) -> None:
        """Goes on as the notices do until something is so."""
        cook = self.cook()

        def stepped() -> bool:
            self.automation.update(cook, None if cook is None else cook.outlook())
            return true()

        until(stepped)

    def logged(self, kind: str = "stirred") -> list[str]:
        """The ids of the events of this kind."""
        cook = self.cook()
        return [] if cook is None else [event.uid for event in cook.history().events_of(kind)]


@pytest.fixture
def home(tmp_path: Path) -> Iterator[Home]:
    folder = tmp_path / "cooks"
    folder.mkdir()
    broker = Mosquitto(tmp_path).start()
    made = Home(folder, broker)
    try:
        yield made
    finally:
        made.automation.close()
        broker.stop()


@pytest.fixture
def platform(home: Home) -> Iterator[Rig]:
    """The platform: listens to everything, and presses buttons."""
    with closing(Rig(home.broker.port, "cooker")) as client:
        client.subscribe("discovery/#")
        client.subscribe("kettleside/#")
        yield client


def retained(port: int) -> dict[str, bytes]:
    """What the broker keeps for whoever comes next."""
    with closing(Rig(port, "late")) as late:
        late.subscribe("#")
        late.subscribe("end")
        late._client.publish("end", "x", 1).wait_for_publish(PATIENCE_S)
        until(lambda: "end" in late.got)
        return {topic: payload for topic, payload in late.got.items() if topic != "end"}


def shown(platform: Rig, key: str) -> object:
    return json.loads(platform.got.get(STATE, b"{}")).get(key)


def test_the_cooker_appears_by_itself_before_any_cook(home: Home, platform: Rig) -> None:
    home.until(lambda: STATE in platform.got and platform.got.get(AVAILABLE) == b"online")
    kept = retained(home.broker.port)
    check_topic(CONFIG, "discovery")
    config = json.loads(kept[CONFIG])
    check_configuration(config)
    # Every topic of the configuration is one that there is.
    topics = {one.get("state_topic") for one in config["components"].values()} - {None}
    assert topics == {STATE, AVAILABLE} <= kept.keys()
    assert json.loads(kept[STATE])["problem"] == "OFF"


def test_a_cook_is_shown_and_a_monitor_that_is_gone_is_too(home: Home, platform: Rig) -> None:
    cook_with_a_stir_due(home.folder)
    home.until(lambda: shown(platform, "temperature_c") == 94.0)
    assert shown(platform, "stir_due") is not None and shown(platform, "readings") == "ON"
    home.automation.close()
    until(lambda: platform.got[AVAILABLE] == b"offline")
    assert json.loads(retained(home.broker.port)[CONFIG])["components"]


@pytest.mark.parametrize("key", BUTTONS)
def test_a_press_is_logged_when_it_arrived(home: Home, platform: Rig, key: str) -> None:
    cook_with_a_stir_due(home.folder)
    home.until(lambda: STATE in platform.got)
    pressed = now()
    platform.send(f"PRESS {pressed}", f"press/{key}")
    button = BUTTONS[key]
    home.until(lambda: len(home.logged(button.kind)) == 1)
    cook = home.cook()
    assert cook is not None
    event = cook.history().events_of(button.kind)[0]
    assert dict(event.fields) == dict(button.fields) and abs(event.measured - pressed) < 2.0
    home.until(lambda: str(shown(platform, "entry")).startswith(button.name))


def test_a_press_is_logged_once_however_often_it_arrives(home: Home, platform: Rig) -> None:
    path = cook_with_a_stir_due(home.folder)
    home.until(lambda: STATE in platform.got)
    press = f"PRESS {now()}"
    for _ in range(3):
        platform.send(press, "press/stirred")
    home.until(lambda: len(home.logged()) == 1)
    # A platform that lost its connection may send it again much later, to another process too.
    home.restart()
    platform.got.clear()
    home.until(lambda: STATE in platform.got)
    platform.send(press, "press/stirred")
    platform.send("PRESS", "press/checked_hazy")
    home.until(lambda: len(home.logged("checked")) == 1)
    assert len(home.logged()) == 1
    # What was taken back stays taken back.
    withdraw_event(path, home.logged()[0], CLOCK.now())
    home.restart()
    platform.got.clear()
    home.until(lambda: STATE in platform.got)
    platform.send(press, "press/stirred")
    platform.send("PRESS", "press/checked_clear")
    home.until(lambda: len(home.logged("checked")) == 2)
    assert home.logged() == []


def test_a_platform_without_templates_presses_too_and_a_double_tap_is_one(home: Home, platform: Rig) -> None:
    cook_with_a_stir_due(home.folder)
    home.until(lambda: STATE in platform.got)
    for _ in range(3):
        platform.send("PRESS", "press/stirred")
    platform.send("PRESS", "press/checked_hazy")
    home.until(lambda: len(home.logged("checked")) == 1)
    assert len(home.logged()) == 1


def test_what_the_broker_kept_is_nobodys_press(home: Home, platform: Rig) -> None:
    cook_with_a_stir_due(home.folder)
    platform.send(f"PRESS {now() + 60.0}", "press/stirred", retained=True)
    platform.send("PRESS", "press/checked_clear", retained=True)
    home.until(lambda: STATE in platform.got)
    platform.send("PRESS", "press/checked_hazy")
    home.until(lambda: len(home.logged("checked")) == 1)
    cook = home.cook()
    assert cook is not None and cook.history().events_of("checked")[0].fields["result"] == "hazy"
    assert home.logged() == []


def test_a_press_from_before_the_connection_is_refused_aloud(home: Home, platform: Rig) -> None:
    cook_with_a_stir_due(home.folder)
    home.until(lambda: STATE in platform.got)
    platform.send(f"PRESS {now() - 10.0 * CLOCKS_APART_S}", "press/stirred")
    home.until(lambda: "before kettleside was listening" in str(shown(platform, "entry")))
    assert any("before kettleside was listening; nothing was logged." in text for text in home.reports.lines)
    # A clock that is a little behind ours is no such press.
    platform.send(f"PRESS {now() - 0.8 * CLOCKS_APART_S}", "press/stirred")
    home.until(lambda: len(home.logged()) == 1)


def test_a_press_without_a_cook_is_refused_aloud(home: Home, platform: Rig) -> None:
    home.until(lambda: STATE in platform.got)
    platform.send(f"PRESS {now()}", "press/stirred")
    told = "“Stirred” was pressed and no cook runs at cooker; nothing was logged."
    home.until(lambda: shown(platform, "entry") == told)
    assert told in home.reports.lines


def test_what_is_no_press_does_nothing(home: Home, platform: Rig) -> None:
    cook_with_a_stir_due(home.folder)
    home.until(lambda: STATE in platform.got)
    for payload in ("", "press", "PRESS soon", "PRESS -1", "PRESS 1e300", "PRESS nan", b"\xff", "PRESS " + "9" * 400):
        platform.send(payload, "press/stirred")
    platform.send("PRESS", "press/finished")
    platform.send("PRESS", "press/checked_hazy")
    home.until(lambda: len(home.logged("checked")) == 1)
    assert home.logged() == [] and home.logged("finished") == []


def test_switched_off_everything_is_withdrawn(home: Home, platform: Rig) -> None:
    home.until(lambda: STATE in platform.got)
    home.settings = None
    home.until(lambda: platform.got.get(CONFIG) == platform.got.get(STATE) == platform.got.get(AVAILABLE) == b"")
    assert retained(home.broker.port) == {}
    home.settings = HomeAutomationSettings("discovery")
    home.until(lambda: platform.got[CONFIG] != b"" and platform.got[AVAILABLE] == b"online")


def test_what_was_switched_off_between_two_runs_and_without_the_broker_is_withdrawn_too(home: Home) -> None:
    with closing(Rig(home.broker.port)) as platform:
        platform.subscribe("discovery/#")
        home.until(lambda: CONFIG in platform.got)
    home.automation.close()
    home.settings = None
    home.broker.stop()
    home.automation = home.started()
    home.until(lambda: any("refuses the connection" in text for text in home.reports.lines))
    home.broker.start()
    with closing(Rig(home.broker.port)) as platform:
        platform.subscribe("kettleside/#")
        place = home.folder / ".kettleside" / "cooker.announced"
        home.until(lambda: not place.exists())
    assert retained(home.broker.port) == {}


def test_another_prefix_takes_the_place_of_the_first(home: Home, platform: Rig) -> None:
    home.until(lambda: STATE in platform.got)
    platform.subscribe("elsewhere/#")
    home.settings = HomeAutomationSettings("elsewhere")
    other = "elsewhere/device/kettleside_cooker/config"
    home.until(lambda: platform.got.get(CONFIG) == b"" and bool(platform.got.get(other)))
    home.until(lambda: platform.got.get(AVAILABLE) == b"online")
    assert retained(home.broker.port).keys() == {other, STATE, AVAILABLE}


@pytest.mark.parametrize("url", ["mqtt://127.0.0.1:{}/kettleside/cooker/readings", "mqtt://localhost:{}?version=5"])
def test_a_broker_that_is_called_otherwise_keeps_the_device(home: Home, platform: Rig, url: str) -> None:
    home.until(lambda: STATE in platform.got)
    home.automation.close()
    platform.got.clear()
    home.automation = home.started(url.format(home.broker.port))
    place = home.folder / ".kettleside" / "cooker.announced"
    home.until(lambda: STATE in platform.got and len(json.loads(place.read_text())) == 1)
    home.until(lambda: bool(platform.got[CONFIG]) and platform.got[AVAILABLE] == b"online")
    kept = retained(home.broker.port)
    assert kept.keys() == {CONFIG, STATE, AVAILABLE} and all(kept.values())


def test_a_broker_that_forgets_is_told_again(home: Home) -> None:
    with closing(Rig(home.broker.port)) as platform:
        platform.subscribe("discovery/#")
        home.until(lambda: CONFIG in platform.got)
    home.broker.stop(kill=True)
    home.until(lambda: any("broke" in text or "refuses" in text for text in home.reports.lines))
    home.broker.start()
    with closing(Rig(home.broker.port)) as platform:
        platform.subscribe("discovery/#")
        platform.subscribe("kettleside/#")
        home.until(lambda: bool(platform.got.get(CONFIG)) and STATE in platform.got)


def test_a_rig_on_a_cable_is_found_at_the_broker_of_the_settings(home: Home, platform: Rig) -> None:
    home.automation.close()
    home.automation = home.started("serial:///dev/ttyUSB0")
    cook = home.cook()
    home.automation.update(cook, None)
    assert any('write broker = "mqtt://..." under [home_automation]' in text for text in home.reports.lines)
    text = f'[home_automation]\nprefix = "discovery"\nbroker = "mqtt://127.0.0.1:{home.broker.port}"\n'
    home.settings = read_notice_settings(text).home_automation
    home.until(lambda: bool(platform.got.get(CONFIG)) and STATE in platform.got)


def test_the_whole_way_from_the_settings_file_to_a_logged_press(home: Home, platform: Rig, tmp_path: Path) -> None:
    home.automation.close()
    cook_with_a_stir_due(home.folder)
    leave = 'leave_out = ["no data", "monitor quiet"]\n'
    settings_file(home.folder, f'{leave}[home_automation]\nprefix = "discovery"\n')
    notices = ("notices", "--recordings", str(home.folder), "--source", home.url().text)
    with command(tmp_path / "output", *notices) as process:
        until(lambda: STATE in platform.got and CONFIG in platform.got)
        platform.send(f"PRESS {now()}", "press/stirred")
        until(lambda: len(home.logged()) == 1)
        os.kill(process.pid, signal.SIGKILL)
        until(lambda: platform.got.get(AVAILABLE) == b"offline")
    settings_file(home.folder, leave)
    with command(tmp_path / "output", *notices):
        until(lambda: platform.got.get(CONFIG) == b"")
    assert "Traceback" not in (tmp_path / "output").read_text()
