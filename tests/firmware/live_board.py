"""A board that is not there, at the pace of life: rig.py under CPython, with a real broker behind its client.

    python tests/firmware/live_board.py FILE PORT RIG

FILE is rig.py, PORT the broker's on loopback. The serial lines go to standard output, and so does ``buzzer 1`` and
``buzzer 0`` at each turn of the buzzer's pin.
"""

import sys
import threading
from pathlib import Path
from queue import Empty, SimpleQueue
from types import ModuleType
from typing import Any

from paho.mqtt import client as paho
from paho.mqtt.enums import CallbackAPIVersion

from monitor.runtime import SystemClock

BUZZER_PIN = 15
ANSWER_S = 10.0
CLOCK = SystemClock()


class Pin:
    """Of the buzzer all turns are told, of a chip none."""

    OUT = 1

    def __init__(self, number: int, _mode: int = 0) -> None:
        self._number = number

    def value(self, level: int) -> None:
        """Turns it."""
        if self._number == BUZZER_PIN:
            print(f"buzzer {level}", flush=True)


class Spi:
    """A MAX31855 that reads 95 degC beside 30."""

    def __init__(self, _bus: int) -> None:
        pass

    def init(self, **_modes: int) -> None:
        """Takes any."""

    def read(self, _count: int) -> bytes:
        """The word of the page."""
        return bytes.fromhex("05F01E00")


class Watchdog:
    """Never bites."""

    def __init__(self, timeout: int) -> None:
        pass

    def feed(self) -> None:
        """Is fed."""


class Socket:
    """Of a client whose own library sees to its limits."""

    def settimeout(self, _seconds: float) -> None:
        """Takes any."""


class RefusedError(Exception):
    """What the client raises."""


class Client:
    """The calls of the board's client, over a real connection."""

    def __init__(self, client_id: str, server: str, port: int, keepalive: int, **_rest: object) -> None:
        self.sock = Socket()
        self._address = (server, port, keepalive)
        self._paho = paho.Client(CallbackAPIVersion.VERSION2, client_id=client_id)
        self._came: SimpleQueue[Any] = SimpleQueue()
        self._heard: Any = None

    def set_last_will(self, topic: bytes, message: bytes, retain: bool, qos: int) -> None:
        """Before it connects."""
        self._paho.will_set(topic.decode(), message, qos, retain)

    def set_callback(self, heard: Any) -> None:
        """Called by ``check_msg``, with bytes."""
        self._heard = heard

    def connect(self) -> None:
        """Until the broker has taken it."""
        taken = threading.Event()
        self._paho.on_connect = lambda *_: taken.set()
        self._paho.on_message = lambda _client, _data, message: self._came.put(message)
        self._paho.connect(*self._address)
        self._paho.loop_start()
        assert taken.wait(ANSWER_S)

    def publish(self, topic: bytes, message: bytes, retain: bool = False, qos: int = 0) -> None:
        """Until the broker has it."""
        self._paho.publish(topic.decode(), message, qos, retain).wait_for_publish(ANSWER_S)

    def subscribe(self, topic: bytes, qos: int = 0) -> None:
        """Until the broker has it."""
        taken = threading.Event()
        self._paho.on_subscribe = lambda *_: taken.set()
        self._paho.subscribe(topic.decode(), qos)
        assert taken.wait(ANSWER_S)

    def check_msg(self) -> None:
        """One message, if one has come."""
        try:
            message = self._came.get_nowait()
        except Empty:
            return
        self._heard(message.topic.encode(), message.payload)


class Wlan:
    """A network that is there."""

    def __init__(self, _interface: int) -> None:
        pass

    def active(self, _on: bool = True) -> bool:
        """Is on."""
        return True

    def isconnected(self) -> bool:
        """Is there."""
        return True


def modules(port: int, rig: str) -> dict[str, dict[str, object]]:
    """What rig.py imports."""
    return {
        "machine": {"Pin": Pin, "SPI": Spi, "WDT": Watchdog},
        "time": {
            "sleep_ms": lambda count: threading.Event().wait(count / 1000),
            "ticks_ms": lambda: round(CLOCK.real_s() * 1000),
            "ticks_add": lambda at, count: at + count,
            "ticks_diff": lambda later, earlier: later - earlier,
        },
        "network": {"WLAN": Wlan, "STA_IF": 0},
        "umqtt": {},
        "umqtt.simple": {"MQTTClient": Client, "MQTTException": RefusedError},
        "settings": {
            "RIG": rig,
            "BROKER": "127.0.0.1",
            "BROKER_PORT": port,
            "BUZZER_PIN": BUZZER_PIN,
            "PH_PIN": None,
            "PERIOD_MS": 200,
        },
    }


def main() -> None:
    """Until it is ended."""
    path, port, rig = sys.argv[1:]
    names: dict[str, Any] = {"__name__": "rig"}
    real = sys.modules["time"]
    for name, members in modules(int(port), rig).items():
        sys.modules[name] = ModuleType(name)
        sys.modules[name].__dict__.update(members)
    exec(Path(path).read_text(encoding="utf-8"), names)
    # Everything else goes on by the real one.
    sys.modules["time"] = real
    names["run"]()


if __name__ == "__main__":
    main()
