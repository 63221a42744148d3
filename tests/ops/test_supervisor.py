"""The supervisor with real processes: what dies is started again, and nothing outlives it."""

import os
import select
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from monitor.ops.supervisor import restart_delay_s
from tests.cli.processes import CLOCK, PATIENCE_S, alive, children_of, until

ROOT = Path(__file__).resolve().parents[2]

# A supervisor of ordinary loggers on ports that do not exist, which wait for them in peace.
SUPERVISE = """
import sys
from monitor.runtime.clock import SystemClock
from monitor.runtime.console import Reporter
from monitor.ops import supervisor
from monitor.ops.supervisor import ChildProcess, Supervisor
supervisor.STOP_WITHIN_S, supervisor.HUNG_S = 1.0, 3.0
children = [ChildProcess(name, ("log", "--source", "serial:///dev/nowhere", "--recordings", sys.argv[1], "--rig", name))
            for name in ("one", "two")] + [ChildProcess(*word.split("=", 1)[:1], tuple(word.split("=", 1)[1].split(",")))
            for word in sys.argv[2:]]
sys.exit(Supervisor(children, SystemClock(), Reporter("kettleside")).run())
"""


class RunningSupervisor:
    """One supervisor and its children."""

    def __init__(self, folder: Path, *more: str) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-c", SUPERVISE, str(folder), *more], stderr=subprocess.PIPE, cwd=ROOT
        )
        self.output = b""

    def children(self) -> list[int]:
        return children_of(self.process.pid)

    def wait_for(self, words: bytes, count: int = 1) -> None:
        stream, end_s = self.process.stderr, CLOCK.real_s() + PATIENCE_S
        assert stream is not None
        while self.output.count(words) < count:
            ready, _, _ = select.select([stream], [], [], max(0.0, end_s - CLOCK.real_s()))
            more = os.read(stream.fileno(), 4096) if ready else b""
            assert more, f"it only said {self.output.decode()}"
            self.output += more

    def end(self, number: int) -> int:
        self.process.send_signal(number)
        return self.gone()

    def gone(self) -> int:
        status = self.process.wait(PATIENCE_S)
        assert self.process.stderr is not None
        os.set_blocking(self.process.stderr.fileno(), False)
        self.output += self.process.stderr.read() or b""
        self.process.stderr.close()
        return status


@pytest.fixture
def supervisor(tmp_path: Path) -> Iterator[RunningSupervisor]:
    made = RunningSupervisor(tmp_path)
    made.wait_for(b"is not there", 2)
    yield made
    if made.process.poll() is None:
        made.end(signal.SIGTERM)


def test_a_child_that_dies_is_restarted_at_once(supervisor: RunningSupervisor) -> None:
    first, second = supervisor.children()
    os.kill(first, signal.SIGKILL)
    until(lambda: len(supervisor.children()) == 2 and first not in supervisor.children())
    assert second in supervisor.children()
    supervisor.wait_for(b"Waits for the first reading", 3)
    assert supervisor.output.count(b"was ended by signal 9; it is started again at once.") == 1


@pytest.mark.parametrize(("number", "status"), [(signal.SIGTERM, 0), (signal.SIGINT, 130)])
def test_children_end_when_the_supervisor_ends(supervisor: RunningSupervisor, number: int, status: int) -> None:
    children = supervisor.children()
    assert supervisor.end(number) == status
    assert not any(alive(pid) for pid in children)
    assert b"Traceback" not in supervisor.output


def test_children_end_when_the_supervisor_is_killed(supervisor: RunningSupervisor) -> None:
    children = supervisor.children()
    supervisor.end(signal.SIGKILL)
    until(lambda: not any(alive(pid) for pid in children))


def test_a_child_that_ignores_sigterm_is_killed(supervisor: RunningSupervisor) -> None:
    children = supervisor.children()
    for pid in children:
        os.kill(pid, signal.SIGSTOP)
    assert supervisor.end(signal.SIGTERM) == 0
    assert not any(alive(pid) for pid in children)


def test_a_child_that_hangs_is_killed_and_started_again(supervisor: RunningSupervisor) -> None:
    first, second = supervisor.children()
    os.kill(first, signal.SIGSTOP)
    supervisor.wait_for(b"The one has given no sign of life for 3 s.")
    until(lambda: len(supervisor.children()) == 2 and first not in supervisor.children())
    # The other goes round its loop, and is left alone.
    assert second in supervisor.children()


def test_wrong_usage_of_a_child_ends_the_supervisor_with_its_message(tmp_path: Path) -> None:
    supervisor = RunningSupervisor(tmp_path, "logger=log,--source,nonsense")
    assert supervisor.gone() == 2
    assert b"it lacks its scheme" in supervisor.output


def test_a_child_that_keeps_failing_is_restarted_with_growing_delays(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    supervisor = RunningSupervisor(tmp_path, f"logger=log,--source,serial:///dev/nowhere,--recordings,{tmp_path}/file")
    supervisor.wait_for(b"it is started again in 0.5 s.")
    supervisor.wait_for(b"it is started again in 1 s.")
    assert supervisor.end(signal.SIGTERM) == 0


def test_the_restart_delay_grows_and_a_killed_child_is_back_within_three_seconds() -> None:
    assert [restart_delay_s(deaths, True) for deaths in range(6)] == [0.0, 0.0, 0.5, 1.0, 1.0, 1.0]
    assert restart_delay_s(100, False) == 10.0
