"""From nothing to the first reading: seconds and commands for what other people's sensors send, once a second.

The first command is ``kettleside listen`` on a terminal, until it shows a proposal; the second is the proposal, until its
first reading is committed. A person's reading and typing in between is not counted.
"""

import os
import re
import shlex
import subprocess
import sys
import tempfile
import threading
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, closing, contextmanager, suppress
from pathlib import Path

from monitor.runtime import SystemClock
from tests.listening.senders import KETTLESIDE, printed, recorded, repeated
from tests.sources.mosquitto import Mosquitto, Rig
from tests.sources.polling import Terminal

CLOCK = SystemClock()
EVERY_S = 1.0
SKETCHES = {
    "serial sketch, bare numbers": b"93.50,21.25\r\n",
    "serial sketch, labels": b"Temperature: 93.50 *C  Humidity: 40.0 %\r\n",
}


@contextmanager
def publishing(port: int, topic: str, payload: str) -> Iterator[None]:
    """A sensor on a broker."""
    rig = Rig(port)
    rig.topic, _, last = topic.rpartition("/")
    with repeated(lambda _number: rig.send(payload, to=last), EVERY_S):
        yield
    rig.close()


def always(line: bytes) -> Callable[[int], bytes]:
    """A sketch that prints the same line each time."""
    return lambda _number: line


def listened_s(url: str) -> tuple[float, str]:
    """Seconds from the command to the proposal on the terminal, and the proposal."""
    ours, theirs = os.openpty()
    started_s, said = CLOCK.real_s(), b""
    process = subprocess.Popen(
        [*KETTLESIDE, "listen", url], stdout=theirs, stdin=theirs, env={**os.environ, "COLUMNS": "300"}
    )
    os.close(theirs)
    while (found := re.search(rb"To read it: (kettleside log [^\r]*)\r", said)) is None:
        said += os.read(ours, 65536)
    took_s = CLOCK.real_s() - started_s
    process.send_signal(2)
    # Its last words are read until its end of the terminal is closed, which on Linux is an error.
    with suppress(OSError):
        while os.read(ours, 65536):
            pass
    process.wait()
    os.close(ours)
    return took_s, found[1].decode()


def logged_s(command: str) -> tuple[float, dict[str, tuple[str, float]]]:
    """Seconds from the proposed command to the first reading in the recording, and what was recorded."""
    with tempfile.TemporaryDirectory() as folder:
        started_s = CLOCK.real_s()
        words = [*KETTLESIDE, *shlex.split(command)[1:], "--recordings", folder]
        logger = subprocess.Popen(words, stderr=subprocess.DEVNULL)
        patience = threading.Event()
        while not (found := recorded(Path(folder))):
            patience.wait(0.02)
        took_s = CLOCK.real_s() - started_s
        logger.terminate()
        logger.wait()
        return took_s, found


def measure(name: str, url: str, sensor: AbstractContextManager[None]) -> None:
    """Prints one row."""
    with sensor:
        listen_s, command = listened_s(url)
        log_s, found = logged_s(command)
    stored = ", ".join(f"{channel} {value} {unit}" for channel, (unit, value) in found.items())
    print(
        f"| {name} | 2 | {listen_s:.1f} | {log_s:.1f} | {listen_s + log_s:.1f} | {stored} | `{command}` |", flush=True
    )


def main() -> None:
    """Measures each kind of sensor three times."""
    print("| sensor | commands | listen, s | log, s | together, s | stored | proposal |")
    print("| --- | --- | --- | --- | --- | --- | --- |")
    with tempfile.TemporaryDirectory() as folder:
        broker = Mosquitto(Path(folder)).start()
        url = f"mqtt://127.0.0.1:{broker.port}"
        probe = '{"temperature": 93.5, "battery": 80, "linkquality": 120}'
        for _ in range(int(sys.argv[1]) if len(sys.argv) > 1 else 3):
            measure("plain topic", url, publishing(broker.port, "pot/temp", "93.5"))
            measure("JSON topic", url, publishing(broker.port, "home/probe", probe))
            for name, line in SKETCHES.items():
                with closing(Terminal()) as terminal:
                    measure(name, f"serial://{terminal.path}", printed(terminal, always(line), EVERY_S))
        broker.stop()


if __name__ == "__main__":
    main()
