"""The reference firmware with a real broker: its readings make a cook, and a stir that is due sounds its buzzer."""

import subprocess
import sys
from pathlib import Path

import pytest

from monitor.model import make_event
from monitor.runtime import SystemClock
from monitor.storage import load, log_event, recordings
from tests.cli.processes import until
from tests.firmware.page import FIRMWARE
from tests.notifications.test_processes import ROOT, command
from tests.sources.mosquitto import Mosquitto

pytestmark = pytest.mark.broker


def test_a_stir_that_is_due_sounds_the_buzzer_of_a_rig_on_wifi(tmp_path: Path) -> None:
    broker, folder, said = Mosquitto(tmp_path).start(), tmp_path / "cooks", tmp_path / "said"
    place = ("--source", f"mqtt://127.0.0.1:{broker.port}/kettleside/pot/readings", "--recordings", str(folder))
    heard = tmp_path / "heard"
    program = [sys.executable, "-m", "tests.firmware.live_board", str(FIRMWARE / "rig.py"), str(broker.port), "pot"]

    def turns() -> list[str]:
        return [line for line in heard.read_text().splitlines() if line.startswith("buzzer")]

    with heard.open("w") as out:
        board = subprocess.Popen(program, stdout=out, stderr=out, stdin=subprocess.DEVNULL, cwd=ROOT)
    try:
        with command(said, "log", "--rig", "pot", *place):
            until(lambda: any(len(load(path).series.get("paste", ())) > 5 for path in recordings(folder)))
            now = SystemClock().now()
            log_event(recordings(folder)[0], make_event("lid", "lid on", now - 2400.0, now))
            with command(said, "notices", *place):
                # Off at the start, then two short.
                until(lambda: turns() == ["buzzer 0", *["buzzer 1", "buzzer 0"] * 2])
                tried = [sys.executable, "-m", "monitor.cli", "notices", "--test", *place]
                done = subprocess.run(tried, capture_output=True, text=True, cwd=ROOT)
                assert "The broker took the test." in done.stdout and "cable" not in done.stdout
                until(lambda: len(turns()) == 7)
            assert board.poll() is None
        assert [event.kind for event in load(recordings(folder)[0]).events] == ["lid on"]
    finally:
        board.kill()
        board.wait()
        broker.stop()
    assert "Traceback" not in heard.read_text() + said.read_text()
