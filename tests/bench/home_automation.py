"""A home-automation platform: seconds until the cooker is there, and what it costs to keep it there.

    python -m tests.bench.home_automation [--rounds 5] [--seconds 60] [--publishes 2000]

Starts `kettleside start` on a real mosquitto, with a rig that sends a reading a second from the beginning, and counts
the seconds until the broker has the configuration with every entity, and until the paste's temperature is shown. Then
the processor of the notices over a minute of a cook, with the platform and without; then the processor for one state
worked out and published, in this process, with paho's thread.
"""

import argparse
import json
import os
import signal
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from threading import Event

from monitor.notifications.discovery import state_of
from monitor.runtime import SystemClock
from monitor.session import CookLibrary
from monitor.sources import MqttPublisher, parse_source_url
from tests.bench.logger_footprint import processor_s
from tests.bench.ten_cookers import command_of
from tests.cli.processes import children_of
from tests.dashboard.seeded import Maker
from tests.notifications.test_settings import settings_file
from tests.sources.mosquitto import Mosquitto, Rig

CLOCK = SystemClock()
TABLE = '[home_automation]\nprefix = "discovery"\n'
CONFIG, STATE = "discovery/device/kettleside_cooker/config", "kettleside/cooker/state"
LONGEST_S = 60.0


def shows(rig: Rig) -> bool:
    """Whether the paste's temperature is shown."""
    return json.loads(rig.got.get(STATE, b"{}")).get("temperature_c") is not None


class Kitchen:
    """A folder, a broker and a rig that sends a reading a second while it is waited."""

    def __init__(self, place: Path) -> None:
        self.folder = place / "cooks"
        self.folder.mkdir()
        self.broker = Mosquitto(place).start()
        self.rig = Rig(self.broker.port)
        self.rig.subscribe("discovery/#")
        self.rig.subscribe("kettleside/cooker/state")
        self._sent = 0

    def wait(self, seconds: float) -> None:
        """Waits, and sends."""
        end_s, patience = CLOCK.real_s() + seconds, Event()
        while CLOCK.real_s() < end_s:
            self._sent += 1
            self.rig.send_pack(94.0 + 0.1 * (self._sent % 3), self._sent)
            patience.wait(min(1.0, max(0.0, end_s - CLOCK.real_s())))

    @contextmanager
    def started(self) -> Iterator[int]:
        """`kettleside start`; gives its process id."""
        source = f"mqtt://127.0.0.1:{self.broker.port}/kettleside/cooker/readings"
        words = ("start", "--source", source, "--recordings", str(self.folder), "--host", "127.0.0.1", "--port", "0")
        command = [sys.executable, "-m", "monitor.cli", *words]
        process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        try:
            yield process.pid
        finally:
            process.send_signal(signal.SIGINT)
            process.wait()

    def close(self) -> None:
        """Ends the rig and the broker."""
        self.rig.close()
        self.broker.stop()


def seconds_until_there() -> tuple[float, float]:
    """From the start to the configuration, and to a temperature."""
    with tempfile.TemporaryDirectory() as name, closing(Kitchen(Path(name))) as kitchen:
        settings_file(kitchen.folder, TABLE)
        began_s, configured_s = CLOCK.real_s(), 0.0
        patience, beat_s = Event(), 0.0
        with kitchen.started():
            while not (shows(kitchen.rig) and configured_s):
                now_s = CLOCK.real_s() - began_s
                assert now_s < LONGEST_S, "it never came"
                if now_s - beat_s >= 1.0:
                    beat_s = now_s
                    kitchen.rig.send_pack(94.0)
                if not configured_s and CONFIG in kitchen.rig.got:
                    configured_s = now_s
                patience.wait(0.02)
            return configured_s, CLOCK.real_s() - began_s


def notices_percent(table: str, seconds: float) -> float:
    """The processor that the notices take, per cent of a core."""
    with tempfile.TemporaryDirectory() as name, closing(Kitchen(Path(name))) as kitchen:
        settings_file(kitchen.folder, table)
        with kitchen.started() as pid:
            kitchen.wait(15.0)
            (notices,) = [child for child in children_of(pid) if command_of(child) == "notices"]
            before_s = processor_s(notices)
            kitchen.wait(seconds)
            return 100.0 * (processor_s(notices) - before_s) / seconds


def publish_ms(count: int) -> float:
    """Milliseconds of the processor for one state of a cook three hours old, published and acknowledged."""
    with tempfile.TemporaryDirectory() as name, closing(Kitchen(Path(name))) as kitchen:
        maker = Maker(kitchen.folder, CLOCK, hours=3.0)
        cook = CookLibrary(kitchen.folder).running("cooker")
        assert cook is not None
        outlook, history = cook.outlook(), cook.history()
        publisher = MqttPublisher(parse_source_url(f"mqtt://127.0.0.1:{kitchen.broker.port}"), CLOCK, lambda *_: None)
        while not publisher.emptied:
            publisher.tend()
        before = os.times()
        for number in range(count):
            publisher.publish("bench/state", json.dumps(state_of(outlook, history, str(number))), retained=True)
            while not publisher.emptied:
                Event().wait(0.001)
        after = os.times()
        publisher.close()
        maker.recorder.close()
        return 1000.0 * (after.user + after.system - before.user - before.system) / count


def main() -> int:
    """Prints the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--publishes", type=int, default=2000)
    args = parser.parse_args()
    rounds = [seconds_until_there() for _ in range(args.rounds)]
    for what, place in (("every entity on the broker", 0), ("the paste's temperature shown", 1)):
        times = sorted(one[place] for one in rounds)
        print(
            f"{what}: {times[len(times) // 2]:.1f} s after the start (middle of {args.rounds}, worst {times[-1]:.1f})"
        )
    without, having = (notices_percent(table, args.seconds) for table in ("", TABLE))
    print(f"processor of the notices: {without:.2f} % of a core, with the platform {having:.2f} %")
    print(f"one state worked out and published: {publish_ms(args.publishes):.2f} ms of the processor")
    return 0


if __name__ == "__main__":
    sys.exit(main())
