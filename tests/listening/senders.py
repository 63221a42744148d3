"""Sensors that send the same again and again, until they are ended, and what a logger stored of it."""

import json
import shlex
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing, contextmanager
from pathlib import Path

from tests.sources.mosquitto import Rig
from tests.sources.polling import Terminal

PATIENCE_S = 30.0
KETTLESIDE = (sys.executable, "-m", "monitor.cli")


@contextmanager
def repeated(send: Callable[[int], None], every_s: float = 0.1) -> Iterator[None]:
    """Sends in a thread of its own, with a number that counts up."""
    stop = threading.Event()

    def work() -> None:
        number = 0
        while not stop.is_set():
            send(number)
            number += 1
            stop.wait(every_s)

    thread = threading.Thread(target=work)
    thread.start()
    try:
        yield
    finally:
        stop.set()
        thread.join()


@contextmanager
def published(port: int, messages: Mapping[str, str]) -> Iterator[None]:
    """Publishes each of these again and again."""
    rig = Rig(port)

    def send(_number: int) -> None:
        for topic, payload in messages.items():
            rig.topic, _, last = topic.rpartition("/")
            rig.send(payload, to=last)

    try:
        with repeated(send):
            yield
    finally:
        rig.close()


@contextmanager
def printed(terminal: Terminal, line: Callable[[int], bytes], every_s: float = 0.1) -> Iterator[None]:
    """Prints a line again and again, as a sketch does."""
    with repeated(lambda number: terminal.send(line(number)), every_s):
        yield


def heard(url: str, limit_s: float = 1.5) -> dict[str, object]:
    """What ``kettleside listen --json`` says."""
    command = [*KETTLESIDE, "listen", url, "--seconds", str(limit_s), "--json"]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    assert "Traceback" not in done.stderr
    found = json.loads(done.stdout)
    assert isinstance(found, dict) and done.returncode == (found["proposal"] is None)
    return found


def stored(folder: Path, command: str, channels: int) -> dict[str, tuple[str, float]]:
    """Runs the proposed command line until so many channels are recorded; each with its unit and latest value."""
    words = shlex.split(command)
    assert words[:2] == ["kettleside", "log"]
    logger = subprocess.Popen([*KETTLESIDE, *words[1:], "--recordings", str(folder)], stderr=subprocess.DEVNULL)
    patience, found = threading.Event(), dict[str, tuple[str, float]]()
    try:
        for _ in range(int(PATIENCE_S / 0.05)):
            found = recorded(folder)
            if len(found) >= channels:
                break
            patience.wait(0.05)
    finally:
        logger.terminate()
        logger.wait(PATIENCE_S)
    return found


def recorded(folder: Path) -> dict[str, tuple[str, float]]:
    """Each channel of the recordings in a folder, with its unit and latest value."""
    found: dict[str, tuple[str, float]] = {}
    for path in folder.glob("*.cook"):
        try:
            with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as connection:
                rows = connection.execute(
                    "SELECT name, unit, value FROM reading JOIN channel ON channel.id = reading.channel ORDER BY reading.id"
                ).fetchall()
        except sqlite3.OperationalError:
            continue
        found |= {name: (unit, value) for name, unit, value in rows}
    return found
