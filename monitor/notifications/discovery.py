"""What a home-automation platform is told of a cooker, by the open convention of discovery over MQTT.

One retained configuration of the whole device, in the convention's device-based form: what there is to show, on which
topic it stands, and the buttons. The value templates only pick a key, which every platform of the convention can.
"""

import hashlib
import json
import math
import re
import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from types import MappingProxyType

from monitor.model import History
from monitor.session import Outlook

ON, OFF = "ON", "OFF"
NONE = "none"
# What the convention takes for the state of an entity at most, in characters.
LONGEST_STATE = 255
PRESS = "PRESS"
# Loss of readings, by the names of their alarms.
_SILENT = re.compile(r"no data|no paste (data|temperature)")
_PRESSED = re.compile(PRESS + r"(?: (\d{1,11}(?:\.\d{1,9})?))?")
_SPACE = uuid.UUID("5b3f6f0a-6f0e-5b0e-9a57-2f7c3f1f6b0d")


@dataclass(frozen=True, slots=True)
class Button:
    """A button on the platform. name: as a person sees it. kind, fields: the event that a press logs."""

    name: str
    kind: str
    fields: Mapping[str, object]


BUTTONS: Mapping[str, Button] = MappingProxyType(
    {
        "stirred": Button("Stirred", "stirred", {}),
        **{
            f"checked_{result.replace(' ', '_')}": Button(f"Checked: {result}", "checked", {"result": result})
            for result in ("clear", "nearly clear", "hazy", "cloudy")
        },
    }
)


@dataclass(frozen=True, slots=True)
class Topics:
    """The topics of one cooker. config: of the configuration. state: of a JSON object with all that is shown.

    available: ``online`` while the entities are kept up, then ``offline``. press: what the buttons' topics begin with.
    """

    config: str
    state: str
    available: str
    press: str


@dataclass(frozen=True, slots=True)
class Press:
    """A button that was pressed. key: of ``BUTTONS``. pressed: Unix seconds by the platform's clock, None if unsaid."""

    key: str
    pressed: float | None

    def uid(self, rig: str, delivery: str) -> str:
        """The id of the entry: the same however often the same press arrives.

        delivery: what tells one delivery from another, for a press that does not say when it was.
        """
        when = delivery if self.pressed is None else f"{self.pressed!r}"
        return str(uuid.uuid5(_SPACE, f"{rig}/{self.key}/{when}"))


def device_id(rig: str) -> str:
    """The cooker's id: letters, digits, dashes and underscores, as the convention has it.

    >>> device_id("cooker"), device_id("left pot")
    ('kettleside_cooker', 'kettleside_left_pot_4d05')
    """
    plain = re.sub(r"[^A-Za-z0-9_-]", "_", rig)
    # Two names must not become one.
    return (
        f"kettleside_{plain}" if plain == rig else f"kettleside_{plain}_{hashlib.sha256(rig.encode()).hexdigest()[:4]}"
    )


def topics_of(rig: str, prefix: str) -> Topics:
    """The topics of a cooker. prefix: under which the platform finds things."""
    own = f"kettleside/{rig}"
    return Topics(f"{prefix}/device/{device_id(rig)}/config", f"{own}/state", f"{own}/available", f"{own}/press/")


def configuration(rig: str, topics: Topics, version: str) -> str:
    """The configuration of a cooker as JSON. version: of this program."""
    own = device_id(rig)
    shown = {"availability": [{"topic": topics.available}]}
    components: dict[str, dict[str, object]] = {
        **{key: {**entity, "state_topic": topics.state, **shown} for key, entity in _entities().items()},
        # Without availability: a connection that is lost is off and not unknown.
        "monitor": {
            **_binary("Monitor", "connectivity"),
            "state_topic": topics.available,
            "payload_on": "online",
            "payload_off": "offline",
            "entity_category": "diagnostic",
        },
        **{
            key: {
                "platform": "button",
                "name": button.name,
                "command_topic": topics.press + key,
                "payload_press": PRESS,
                # When it was pressed, so that a press that arrives twice or late is known as such.
                "command_template": PRESS + " {{ now().timestamp() }}",
                "qos": 1,
                "retain": False,
                **shown,
            }
            for key, button in BUTTONS.items()
        },
    }
    return json.dumps(
        {
            "device": {
                "identifiers": [own],
                "name": f"Soap cooker {rig}" if rig != "cooker" else "Soap cooker",
                "model": "Monitor of a soap cook",
                "sw_version": version,
            },
            "origin": {"name": "kettleside", "sw_version": version},
            "components": {key: {**entity, "unique_id": f"{own}_{key}"} for key, entity in components.items()},
        }
    )


def _entities() -> Mapping[str, dict[str, object]]:
    """What is shown, by its key in the state."""
    measured = {"state_class": "measurement"}
    entities: dict[str, dict[str, object]] = {
        "temperature_c": {
            **_sensor("Paste temperature", "temperature"),
            "unit_of_measurement": "°C",
            "suggested_display_precision": 1,
            **measured,
        },
        "done_percent": {**_sensor("Cooking done"), "unit_of_measurement": "%", **measured},
        "clear_at": _sensor("Clear at", "timestamp"),
        "stir_due": _sensor("Stir due", "timestamp"),
        "check_due": _sensor("Check due", "timestamp"),
        "problem": _binary("Alarm", "problem"),
        "alarms": _sensor("Alarms"),
        "readings": _binary("Readings", "connectivity"),
        "entry": {**_sensor("Last button"), "entity_category": "diagnostic"},
    }
    return {key: {**entity, "value_template": f"{{{{ value_json.{key} }}}}"} for key, entity in entities.items()}


def _sensor(name: str, device_class: str | None = None) -> dict[str, object]:
    kind: dict[str, object] = {} if device_class is None else {"device_class": device_class}
    return {"platform": "sensor", "name": name, **kind}


def _binary(name: str, device_class: str) -> dict[str, object]:
    return {"platform": "binary_sensor", "name": name, "device_class": device_class}


def state_without_cook(entry: str) -> dict[str, object]:
    """The state of a cooker without a cook under way, for JSON. entry: as for ``state_of``."""
    unknown = ("temperature_c", "done_percent", "clear_at", "stir_due", "check_due")
    state = {"problem": OFF, "alarms": NONE, "readings": None, "entry": _short(entry)}
    return {**dict.fromkeys(unknown), **state}


def state_of(outlook: Outlook, history: History, entry: str) -> dict[str, object]:
    """The state of a cooker with a cook under way, for JSON; null is what is not known or does not apply.

    entry: what became of the last button, one sentence.
    """
    estimate = outlook.estimate
    alarms = [alarm.name for alarm in outlook.alarms if alarm.until is None and alarm.in_sight]
    silent = any(_SILENT.fullmatch(name) for name in alarms)
    return {
        # The last temperature before a silence would look like one that is measured.
        "temperature_c": None if silent else _latest_c(history),
        "done_percent": round(100.0 * estimate.done[1]) if estimate.elapsed_s is not None else None,
        "clear_at": _moment(estimate.clear_at[1]),
        "stir_due": _moment(outlook.stir_due),
        "check_due": _moment(outlook.check_due),
        "problem": ON if alarms else OFF,
        "alarms": _short(", ".join(alarms)),
        "readings": OFF if silent else ON,
        "entry": _short(entry),
    }


def _latest_c(history: History) -> float | None:
    """The paste's latest temperature, degC; None at a fault."""
    values_c = history.temperature_c("paste")[1]
    return round(float(values_c[-1]), 1) if len(values_c) and math.isfinite(values_c[-1]) else None


def _moment(t: float | None) -> str | None:
    """ISO 8601 with the offset, as the convention has times; whole minutes, because a forecast wanders by seconds."""
    return None if t is None else datetime.fromtimestamp(60.0 * round(t / 60.0), UTC).isoformat()


def _short(text: str) -> str:
    if len(text) <= LONGEST_STATE:
        return text or NONE
    return text[: LONGEST_STATE - 1] + "…"


def read_press(topics: Topics, topic: str, payload: bytes) -> Press | None:
    """The press that a message is; None where it is none."""
    key = topic.removeprefix(topics.press)
    found = _PRESSED.fullmatch(payload.decode("ascii", "replace"))
    if found is None or key not in BUTTONS or not topic.startswith(topics.press):
        return None
    return Press(key, None if found[1] is None else float(found[1]))
