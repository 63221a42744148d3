"""What a home-automation platform is told of a cooker, held against the convention's public documentation."""

import json
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jinja2 import Environment, StrictUndefined

from monitor.model import Alarm, check_uid, make_event
from monitor.notifications.discovery import (
    BUTTONS,
    LONGEST_STATE,
    Press,
    configuration,
    device_id,
    read_press,
    state_of,
    state_without_cook,
    topics_of,
)
from monitor.session import CookLibrary
from tests.notifications.convention import ID, check_configuration, check_topic
from tests.notifications.test_notifier import Cooking

TOPICS = topics_of("cooker", "discovery")


def configured(rig: str = "cooker") -> dict[str, Any]:
    config: dict[str, Any] = json.loads(configuration(rig, topics_of(rig, "discovery"), "1.2"))
    return config


def rendered(state: dict[str, object]) -> dict[str, str]:
    """What the platform makes of a state, by the names of the entities; Jinja is what the convention's templates are."""
    value_json = json.loads(json.dumps(state))
    environment = Environment(undefined=StrictUndefined)
    return {
        component["name"]: environment.from_string(component["value_template"]).render(value_json=value_json)
        for component in configured()["components"].values()
        if component.get("state_topic") == TOPICS.state
    }


@pytest.mark.parametrize("rig", ["cooker", "left pot", "Töpfchen", "a" * 60])
def test_the_configuration_is_one_of_the_convention(rig: str) -> None:
    topics = topics_of(rig, "discovery/home")
    check_topic(topics.config, "discovery/home")
    check_configuration(configured(rig))


def test_each_thing_has_its_kind() -> None:
    components = configured()["components"].values()
    assert sorted((one["platform"], one["name"], one.get("device_class", "")) for one in components) == [
        ("binary_sensor", "Alarm", "problem"),
        ("binary_sensor", "Monitor", "connectivity"),
        ("binary_sensor", "Readings", "connectivity"),
        ("button", "Checked: clear", ""),
        ("button", "Checked: cloudy", ""),
        ("button", "Checked: hazy", ""),
        ("button", "Checked: nearly clear", ""),
        ("button", "Stirred", ""),
        ("sensor", "Alarms", ""),
        ("sensor", "Check due", "timestamp"),
        ("sensor", "Clear at", "timestamp"),
        ("sensor", "Cooking done", ""),
        ("sensor", "Last button", ""),
        ("sensor", "Paste temperature", "temperature"),
        ("sensor", "Stir due", "timestamp"),
    ]


def test_what_is_lost_is_off_and_all_else_is_unavailable() -> None:
    components = configured()["components"]
    monitor = components.pop("monitor")
    assert "availability" not in monitor and monitor["state_topic"] == TOPICS.available
    assert (monitor["payload_on"], monitor["payload_off"]) == ("online", "offline")
    assert all(one["availability"] == [{"topic": TOPICS.available}] for one in components.values())


def test_two_cookers_never_have_one_id() -> None:
    assert device_id("left pot") != device_id("left_pot")


@given(st.text(min_size=1, max_size=60))
def test_an_id_has_only_what_the_convention_allows(rig: str) -> None:
    assert ID.fullmatch(device_id(rig))


def test_a_cook_under_way_is_shown(tmp_path: Path) -> None:
    cooking = Cooking(tmp_path)
    cooking.cook_on(50)
    cook = CookLibrary(tmp_path, lambda _: cooking.clock).running("cooker")
    assert cook is not None
    outlook, history = cook.outlook(), cook.history()
    seen = rendered(state_of(outlook, history, "Stirred, 14:05"))
    latest = history.temperature_c("paste")[1][-1]
    assert float(seen["Paste temperature"]) == pytest.approx(latest, abs=0.05)
    assert float(seen["Cooking done"]) == pytest.approx(100 * outlook.estimate.done[1], abs=0.5)
    for name, moment in (
        ("Clear at", outlook.estimate.clear_at[1]),
        ("Stir due", outlook.stir_due),
        ("Check due", outlook.check_due),
    ):
        shown = datetime.fromisoformat(seen[name])
        assert moment is not None and shown.utcoffset() is not None
        assert abs(shown.timestamp() - moment) <= 30.0
    assert (seen["Alarm"], seen["Alarms"], seen["Readings"]) == ("OFF", "none", "ON")
    assert seen["Last button"] == "Stirred, 14:05"


def test_a_silent_rig_has_no_temperature(tmp_path: Path) -> None:
    cooking = Cooking(tmp_path)
    cooking.cook_on(20)
    cooking.cook_on(3, readings=False)
    cook = CookLibrary(tmp_path, lambda _: cooking.clock).running("cooker")
    assert cook is not None
    seen = rendered(state_of(cook.outlook(), cook.history(), ""))
    assert (seen["Readings"], seen["Paste temperature"], seen["Alarm"]) == ("OFF", "None", "ON")
    assert "no data" in seen["Alarms"]


def test_a_shelved_alarm_and_one_that_is_over_are_no_problem(tmp_path: Path) -> None:
    cooking = Cooking(tmp_path)
    cooking.cook_on(5)
    cook = CookLibrary(tmp_path, lambda _: cooking.clock).running("cooker")
    assert cook is not None
    outlook = cook.outlook()
    quiet = (Alarm("lid left off", "shelved", 0.0, ""), Alarm("paste cold", "returned unacknowledged", 0.0, "", 9.0))
    assert state_of(replace(outlook, alarms=quiet), cook.history(), "")["problem"] == "OFF"
    many = tuple(Alarm(f"no probe{number} data", "unacknowledged", 0.0, "") for number in range(40))
    state = state_of(replace(outlook, alarms=many), cook.history(), "")
    assert state["problem"] == "ON" and len(str(state["alarms"])) == LONGEST_STATE


def test_without_a_cook_all_is_unknown_and_nothing_wrong() -> None:
    seen = rendered(state_without_cook(""))
    unknown = {"Paste temperature", "Cooking done", "Clear at", "Stir due", "Check due", "Readings"}
    assert {name for name, value in seen.items() if value == "None"} == unknown
    assert (seen["Alarm"], seen["Alarms"], seen["Last button"]) == ("OFF", "none", "none")


@pytest.mark.parametrize("key", BUTTONS)
def test_a_press_is_what_the_button_sends_and_logs_an_event_that_there_is(key: str) -> None:
    button = configured()["components"][key]
    command = Environment().from_string(button["command_template"])
    moment = datetime.fromisoformat("2026-03-14T10:20:00.25+00:00")
    sent = command.render(now=lambda: moment, value=button["payload_press"]).encode()
    press = read_press(TOPICS, button["command_topic"], sent)
    assert press == Press(key, moment.timestamp())
    assert read_press(TOPICS, button["command_topic"], button["payload_press"].encode()) == Press(key, None)
    uid = press.uid("cooker", "first")
    assert uid == press.uid("cooker", "second") == check_uid(uid)
    assert uid != press.uid("left", "first")
    assert Press(key, None).uid("cooker", "1") != Press(key, None).uid("cooker", "2")
    make_event(uid, BUTTONS[key].kind, 0.0, 0.0, BUTTONS[key].fields)


@given(st.text(max_size=30), st.binary(max_size=30))
def test_anything_else_is_no_press(ending: str, payload: bytes) -> None:
    press = read_press(TOPICS, TOPICS.press + ending, payload)
    assert press is None or (press.key in BUTTONS and payload.startswith(b"PRESS"))
    assert read_press(TOPICS, f"other/{ending}", b"PRESS") is None
