"""The open convention of discovery over MQTT, as its public documentation has it, to hold our payloads against.

Taken from the documentation's pages "MQTT" (sections "Discovery topic", "Device discovery payload", "Discovery payload",
"Using availability topics" and the origin's options), "MQTT sensor", "MQTT binary sensor" and "MQTT button" (tables of
configuration variables), and "Sensor", "Binary sensor" (lists of device classes), read in November 2026.
"""

import re
from collections.abc import Mapping
from typing import Any

ID = re.compile(r"[a-zA-Z0-9_-]+")
SHARED = {
    *("availability", "availability_mode", "availability_template", "availability_topic", "device_class"),
    *("enabled_by_default", "encoding", "entity_category", "entity_picture", "icon", "json_attributes_template"),
    *("json_attributes_topic", "name", "object_id", "payload_available", "payload_not_available", "platform", "qos"),
    "unique_id",
}
# platform -> the options that it has beside the shared ones, and those that it requires
OPTIONS: Mapping[str, tuple[set[str], set[str]]] = {
    "sensor": (
        {
            *("expire_after", "force_update", "last_reset_value_template", "options", "suggested_display_precision"),
            *("state_class", "state_topic", "unit_of_measurement", "value_template"),
        },
        {"state_topic"},
    ),
    "binary_sensor": (
        {
            *("expire_after", "force_update", "off_delay", "payload_off", "payload_on", "state_topic"),
            "value_template",
        },
        {"state_topic"},
    ),
    "button": ({"command_template", "command_topic", "payload_press", "retain"}, {"command_topic"}),
}
# Of a device-based configuration, each component must have these.
OF_A_COMPONENT = {"platform", "unique_id"}
DEVICE = {
    *("configuration_url", "connections", "hw_version", "identifiers", "manufacturer", "model", "model_id", "name"),
    *("serial_number", "suggested_area", "sw_version", "via_device"),
}
ORIGIN = {"name", "sw_version", "support_url"}
ROOT = {"device", "origin", "components", "availability", "command_topic", "state_topic", "qos", "encoding"}
# Those of the device classes that we use, with the units that go with them.
CLASSES: Mapping[str, Mapping[str | None, set[str | None]]] = {
    "sensor": {None: {None, "%"}, "temperature": {"°C", "°F", "K"}, "timestamp": {None}},
    "binary_sensor": {"problem": {None}, "connectivity": {None}},
    "button": {None: {None}},
}


def check_topic(topic: str, prefix: str) -> None:
    """The topic of a device-based configuration: <discovery_prefix>/device/[<node_id>/]<object_id>/config."""
    levels = topic.removeprefix(f"{prefix}/").split("/")
    assert topic.startswith(f"{prefix}/") and len(levels) in (3, 4)
    assert levels[0] == "device" and levels[-1] == "config"
    assert all(ID.fullmatch(level) for level in levels[1:-1])


def check_configuration(config: Mapping[str, Any]) -> None:
    """A device-based configuration, whole."""
    assert set(config) <= ROOT and {"device", "origin", "components"} <= set(config)
    assert set(config["device"]) <= DEVICE and config["device"]["identifiers"]
    assert set(config["origin"]) <= ORIGIN and config["origin"]["name"]
    components = config["components"]
    assert all(ID.fullmatch(key) for key in components)
    ids = [component["unique_id"] for component in components.values()]
    assert len(set(ids)) == len(ids)
    for component in components.values():
        check_component(component)


def check_component(component: Mapping[str, Any]) -> None:
    """One component of a device-based configuration."""
    assert set(component) >= OF_A_COMPONENT
    own, required = OPTIONS[component["platform"]]
    assert set(component) <= SHARED | own and set(component) >= required
    # "Must not be used together with `availability_topic`."
    assert not {"availability", "availability_topic"} <= set(component)
    assert all(
        set(one) <= {"topic", "payload_available", "payload_not_available", "value_template"} and one["topic"]
        for one in component.get("availability", ())
    )
    units = CLASSES[component["platform"]][component.get("device_class")]
    assert component.get("unit_of_measurement") in units
    # "When set, the entity category must be `diagnostic` for sensors."
    if component["platform"] != "button":
        assert component.get("entity_category", "diagnostic") == "diagnostic"
    assert component.get("qos", 0) in (0, 1, 2) and component.get("retain", False) in (True, False)
    assert component.get("state_class", "measurement") in ("measurement", "total", "total_increasing")
