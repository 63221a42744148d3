"""``kettleside start`` as a person starts it: three processes, one started again when it dies, none left over."""

import os
import signal
import subprocess
import sys
import urllib.request
from pathlib import Path
from urllib.error import URLError

from monitor.catalogue import recordings
from monitor.roll import load
from tests.cli.processes import PATIENCE_S, alive, children_of, until
from tests.sources.listening import Terminal, line
from tests.sources.mosquitto import free_port

ROOT = Path(__file__).resolve().parents[2]


def is_alive(port: int) -> bool:
    try:
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/healthz", timeout=5) as answer:
            return bool(answer.status == 200)
    except (URLError, ConnectionError):
        return False


def test_logger_dashboard_and_notices_live_die_and_come_back(tmp_path: Path) -> None:
    terminal, port, folder, number = Terminal(), free_port(), tmp_path / "cooks", 0
    command = [sys.executable, "-m", "monitor.cli", "start", "--source", f"serial://{terminal.path}"]
    command += ["--recordings", str(folder), "--host", "127.0.0.1", "--port", str(port)]
    with (tmp_path / "said").open("w+") as said:
        house = subprocess.Popen(command, stdout=said, stderr=said, cwd=ROOT)

        def stored(wanted: int) -> bool:
            """Sends one more pack; whether so many are stored by now."""
            nonlocal number
            number += 1
            terminal.send(line(60.0, number))
            found = recordings(folder)
            series = load(found[0]).series if found else {}
            return "paste" in series and len(series["paste"]) >= wanted

        try:
            until(lambda: stored(1))
            until(lambda: is_alive(port))
            until(lambda: len(children_of(house.pid)) == 3)
            before = children_of(house.pid)
            for pid in before:
                os.kill(pid, signal.SIGKILL)
            until(lambda: len(children_of(house.pid)) == 3 and not set(before) & set(children_of(house.pid)))
            so_far = len(load(recordings(folder)[0]).series["paste"])
            assert until(lambda: stored(so_far + 1)) < 3.0
            until(lambda: is_alive(port))
            after = children_of(house.pid)
        finally:
            house.send_signal(signal.SIGINT)
            status = house.wait(PATIENCE_S)
            terminal.close()
        said.seek(0)
        words = said.read()
    assert status == 130 and "Traceback" not in words
    assert not any(alive(pid) for pid in [*before, *after])
    assert [event.kind for event in load(recordings(folder)[0]).events].count("resumed") == 1
