"""The proposed command line works: the real logger runs it against what was listened to, and stores the reading."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.listening.senders import heard, printed, published, stored
from tests.sources.mosquitto import Mosquitto
from tests.sources.polling import Terminal

OUTLOOK = '{"t": 1773484800.0, "temperature_c": 93.8, "converted": [0.93, 0.95, 0.97]}'


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Mosquitto]:
    made = Mosquitto(tmp_path).start()
    yield made
    made.stop()


@pytest.fixture
def terminal() -> Iterator[Terminal]:
    made = Terminal()
    yield made
    made.close()


@pytest.mark.broker
@pytest.mark.parametrize(
    ("messages", "expected"),
    [
        ({"pot/temp": "93.5"}, {"paste": ("degC", 93.5)}),
        ({"pot/temp": "200.3 °F"}, {"paste": ("°F", 200.3)}),
        ({"a b/Temp?": "93.5"}, {"paste": ("degC", 93.5)}),
        (
            {
                "home/probe": '{"temperature": 93.5, "battery": 80, "linkquality": 120}',
                "home/lamp": "on",
                "kettleside/other/outlook": OUTLOOK,
            },
            {"paste": ("degC", 93.5)},
        ),
        (
            {
                "tele/kitchen/SENSOR": '{"Time":"2026-03-14T10:00:00","DS18B20-1":{"Id":"0316","Temperature":200.3},'
                '"DS18B20-2":{"Id":"0317","Temperature":70.1},"TempUnit":"F"}'
            },
            {"paste": ("degF", 200.3), "ds18b20-2": ("degF", 70.1)},
        ),
        (
            {"a/pot/state": "93.5", "a/crock/state": "97.25 C", "a/ph": "9.7", "a/room": '{"temp_f": 70.1}'},
            {"paste": ("degC", 93.5), "wall": ("C", 97.25), "ph": ("pH", 9.7), "room": ("degF", 70.1)},
        ),
        ({"x/row": "94.25;21.5"}, {"paste": ("degC", 94.25), "column2": ("degC", 21.5)}),
        (
            {"kettleside/cooker/readings": '[{"n":"temp1","v":203.0},{"n":"wall","u":"Cel","v":97}]'},
            {"paste": ("degF", 203.0), "wall": ("Cel", 97.0)},
        ),
    ],
    ids=["plain", "plain with unit", "odd topic", "object", "nested", "four topics", "row", "pack"],
)
def test_what_a_broker_sends_is_stored_by_the_proposed_command(
    broker: Mosquitto, tmp_path: Path, messages: dict[str, str], expected: dict[str, tuple[str, float]]
) -> None:
    with published(broker.port, messages):
        found: dict[str, Any] = heard(f"mqtt://127.0.0.1:{broker.port}")
        assert stored(tmp_path / "cooks", found["proposal"]["log"], len(expected)) == expected


@pytest.mark.long
@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("93.50", {"paste": ("degC", 93.5)}),
        ("200.5 F", {"paste": ("F", 200.5)}),
        ("94.25,21.50", {"paste": ("degC", 94.25), "column2": ("degC", 21.5)}),
        ("Temperature: 200.5 *F  Humidity: 40.0 %", {"paste": ("*F", 200.5)}),
        ('{"probe": {"temp": 94.25}, "uptime": 120}', {"paste": ("degC", 94.25)}),
        ('[{"n":"paste","u":"Cel","v":94.25}]*0067', {"paste": ("Cel", 94.25)}),
    ],
)
def test_what_a_sketch_prints_is_stored_by_the_proposed_command(
    terminal: Terminal, tmp_path: Path, line: str, expected: dict[str, tuple[str, float]]
) -> None:
    with printed(terminal, lambda _number: f"{line}\r\n".encode()):
        found: dict[str, Any] = heard(f"serial://auto?also={terminal.path}")
        assert stored(tmp_path / "cooks", found["proposal"]["log"], len(expected)) == expected
