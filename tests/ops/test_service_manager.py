"""What systemd is told (sd_notify(3)), read from a real datagram socket."""

import os
import select
import signal
import socket
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from monitor.ops import ServiceManager
from tests.cli.processes import CLOCK, PATIENCE_S, children_of
from tests.sources.mosquitto import free_port
from tests.sources.polling import Terminal

ROOT = Path(__file__).resolve().parents[2]


class Told:
    """systemd's end of the socket. address: as NOTIFY_SOCKET names it."""

    def __init__(self, address: str) -> None:
        self.address = address
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._socket.bind(f"\0{address[1:]}" if address.startswith("@") else address)
        self.lines: list[str] = []

    def read(self, within_s: float = 0.0) -> list[str]:
        """What comes within this many seconds, at once when anything does."""
        timeout_s = within_s
        while select.select([self._socket], [], [], timeout_s)[0]:
            self.lines += self._socket.recv(65536).decode().splitlines()
            timeout_s = 0.0
        return self.lines

    def until(self, enough: Callable[[list[str]], bool]) -> None:
        """Reads until it is enough."""
        end_s = CLOCK.real_s() + PATIENCE_S
        while not enough(self.read(0.1)):
            assert CLOCK.real_s() < end_s, f"only {self.lines}"

    def close(self) -> None:
        self._socket.close()


@pytest.fixture
def told(tmp_path: Path) -> Iterator[Told]:
    made = Told(str(tmp_path / "notify"))
    yield made
    made.close()


def test_each_line_is_told_once_or_as_often_as_the_watchdog_wants(told: Told) -> None:
    manager = ServiceManager(told.address, watchdog_s=30.0)
    for now_s in (0.0, 5.0, 9.9, 10.0, 12.0, 25.0):
        manager.ready()
        manager.status("Runs: logger.\nand no line of its own")
        manager.alive(now_s)
    manager.stopping()
    assert told.read() == [
        "READY=1",
        "STATUS=Runs: logger. and no line of its own",
        *["WATCHDOG=1"] * 3,
        "STOPPING=1",
    ]


def test_an_abstract_address_is_told_too() -> None:
    told = Told(f"@kettleside-test-{os.getpid()}")
    ServiceManager.of_environment({"NOTIFY_SOCKET": told.address}).ready()
    assert told.read() == ["READY=1"]
    told.close()


def test_the_variables_are_taken_out_and_a_watchdog_of_another_process_is_none_of_ours(told: Told) -> None:
    environment = {"NOTIFY_SOCKET": told.address, "WATCHDOG_USEC": "30000000", "WATCHDOG_PID": "1", "PATH": "/bin"}
    ServiceManager.of_environment(environment).alive(0.0)
    assert environment == {"PATH": "/bin"} and told.read() == []
    ours = {"NOTIFY_SOCKET": told.address, "WATCHDOG_USEC": "30000000", "WATCHDOG_PID": str(os.getpid())}
    ServiceManager.of_environment(ours).alive(0.0)
    assert told.read() == ["WATCHDOG=1"]


@pytest.mark.parametrize(
    "environment",
    [{}, {"NOTIFY_SOCKET": "/nowhere/notify"}, {"NOTIFY_SOCKET": "vsock:2:1"}, {"WATCHDOG_USEC": "soon"}],
)
def test_without_a_manager_that_listens_nothing_happens(environment: dict[str, str]) -> None:
    manager = ServiceManager.of_environment(environment)
    manager.ready()
    manager.alive(0.0)
    manager.stopping()


def test_a_manager_that_does_not_read_holds_nobody_up(told: Told) -> None:
    manager = ServiceManager(told.address, watchdog_s=3.0)
    started_s = CLOCK.real_s()
    for second in range(5000):
        manager.alive(float(second))
    assert CLOCK.real_s() - started_s < PATIENCE_S


@pytest.mark.long
def test_start_is_ready_when_its_parts_run_and_says_that_they_live(tmp_path: Path, told: Told) -> None:
    terminal = Terminal()
    command = [sys.executable, "-m", "monitor.cli", "start", "--source", f"serial://{terminal.path}"]
    command += ["--recordings", str(tmp_path / "cooks"), "--host", "127.0.0.1", "--port", str(free_port())]
    environment = {**os.environ, "NOTIFY_SOCKET": told.address, "WATCHDOG_USEC": "600000"}
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env=environment, cwd=ROOT)
    try:
        told.until(lambda lines: "READY=1" in lines)
        # All three had lived for two seconds by then.
        parts = children_of(process.pid)
        assert len(parts) == 3
        assert all(b"NOTIFY_SOCKET" not in Path(f"/proc/{pid}/environ").read_bytes() for pid in parts)
        count = told.lines.count("WATCHDOG=1")
        os.kill(parts[0], signal.SIGKILL)
        told.until(lambda lines: any("Started again: logger." in line for line in lines))
        # One death is mended here and is none of systemd's business.
        told.until(lambda lines: lines.count("WATCHDOG=1") > count + 3)
        told.until(
            lambda lines: lines[-1] == "WATCHDOG=1" and "STATUS=Runs: logger, dashboard, notices." in lines[-30:]
        )
    finally:
        process.terminate()
        assert process.wait(PATIENCE_S) == 0
        terminal.close()
    assert told.read()[-1] == "STOPPING=1"
    assert told.lines.count("READY=1") == 1


FAILING = """
import os, sys
from monitor.runtime import Reporter, SystemClock
from monitor.ops import ChildProcess, ServiceManager, Supervisor, supervisor
supervisor.WELL_AFTER_S, supervisor.READY_AFTER_S, supervisor.DOWN_S = 2.0, 1.0, 1.5
children = [ChildProcess("good", ("log", "--source", "serial:///dev/nowhere", "--recordings", sys.argv[1])),
            ChildProcess("bad", ("log", "--source", "serial:///dev/nowhere", "--recordings", sys.argv[1] + "/file/x"))]
manager = ServiceManager.of_environment(os.environ)
sys.exit(Supervisor(children, SystemClock(), Reporter("kettleside"), manager).run())
"""


@pytest.mark.long
def test_a_part_that_keeps_dying_is_no_program_that_is_ready_or_lives(tmp_path: Path, told: Told) -> None:
    folder = tmp_path / "cooks"
    folder.mkdir()
    (folder / "file").write_text("no folder")
    environment = {**os.environ, "NOTIFY_SOCKET": told.address, "WATCHDOG_USEC": "300000"}
    process = subprocess.Popen(
        [sys.executable, "-c", FAILING, str(folder)], stderr=subprocess.DEVNULL, env=environment, cwd=ROOT
    )
    try:
        told.until(lambda lines: "WATCHDOG=1" in lines)
        told.until(lambda lines: any("Started again: bad." in line for line in lines))
        # From a while after its first death on nothing is told for longer than the watchdog waits.
        quiet_s, seen = CLOCK.real_s(), -1
        end_s = quiet_s + PATIENCE_S
        while CLOCK.real_s() - quiet_s < 1.0:
            if (count := told.read(0.05).count("WATCHDOG=1")) != seen:
                quiet_s, seen = CLOCK.real_s(), count
            assert CLOCK.real_s() < end_s, "it is told again and again that it lives"
    finally:
        process.terminate()
        process.wait(PATIENCE_S)
    assert "READY=1" not in told.lines
