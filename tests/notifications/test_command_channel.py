"""Real programs that hang, spin and leave others behind, and a real service that drips: nothing of them stays."""

import os
import signal
import socket
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from monitor.notifications.channels.apprise import AppriseChannel
from monitor.notifications.channels.channel import Message, SendError
from monitor.notifications.channels.command import CommandChannel
from monitor.notifications.channels.worker import ChannelWorker
from monitor.notifications.repeat import Notice
from monitor.notifications.settings import Command, Service
from monitor.runtime import SystemClock
from tests.cli.processes import alive, until
from tests.notifications.catchers import post_catcher
from tests.notifications.test_processes import command, cook_with_a_stir_due
from tests.notifications.test_settings import settings_file
from tests.sources.mosquitto import free_port

CLOCK = SystemClock()
STIR = Message("cooker", Notice("stir due", "35 minutes after the last stir.", 1_773_480_000.0))
# It spins, so does a child that takes no notice of SIGTERM, and so does one that left for a session of its own.
HANGS = """
echo $$ >> {pids}
(trap '' TERM; while :; do :; done) &
echo $! >> {pids}
setsid sh -c 'trap "" TERM HUP; echo $$ >> {pids}; while :; do :; done' &
while :; do :; done
"""


def bell(folder: Path, script: str = HANGS, longest_s: float = 0.5) -> CommandChannel:
    return CommandChannel(Command("Bell", ("sh", "-c", script.format(pids=folder / "pids"))), longest_s)


def pids(folder: Path) -> list[int]:
    place = folder / "pids"
    return [int(word) for word in place.read_text().split()] if place.exists() else []


def all_gone(folder: Path) -> bool:
    return not any(alive(pid) for pid in pids(folder))


def test_a_bell_that_hangs_is_ended_with_all_that_it_started(tmp_path: Path) -> None:
    channel = bell(tmp_path)
    with pytest.raises(SendError, match=r"its program took longer than 0\.5 s and was ended"):
        channel.send(STIR)
    assert len(pids(tmp_path)) == 3
    until(lambda: all_gone(tmp_path))


def test_of_one_bell_only_one_runs(tmp_path: Path) -> None:
    channel = bell(tmp_path)
    for times in (1, 2):
        with pytest.raises(SendError):
            channel.send(STIR)
        # What was left of the one before was gone when this one began.
        assert len(pids(tmp_path)) == 3 * times
        assert all(not alive(pid) for pid in pids(tmp_path)[: 3 * (times - 1)])
    until(lambda: all_gone(tmp_path))


def test_what_a_bell_leaves_playing_may_play_on_until_the_next(tmp_path: Path) -> None:
    channel = bell(tmp_path, "sleep 60 & echo $! >> {pids}; exit 0", 30.0)
    channel.send(STIR)
    (first,) = pids(tmp_path)
    assert alive(first)
    channel.send(STIR)
    assert not alive(first)
    channel.close()
    until(lambda: all_gone(tmp_path))
    with pytest.raises(SendError, match="it is closed"):
        channel.send(STIR)


def test_a_bell_is_ended_though_its_guard_is_killed(tmp_path: Path) -> None:
    channel = bell(tmp_path, "echo $$ >> {pids}; kill -9 $PPID; while :; do :; done", 30.0)
    with pytest.raises(SendError, match="its program was ended"):
        channel.send(STIR)
    until(lambda: all_gone(tmp_path))


def test_what_a_bell_prints_is_kept_nowhere(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    bell(tmp_path, "head -c 3000000 /dev/zero; head -c 3000000 /dev/zero >&2", 20.0).send(STIR)
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize("end", [signal.SIGTERM, signal.SIGINT, signal.SIGKILL])
def test_a_bell_ends_with_the_notices_whatever_they_end_of(tmp_path: Path, end: signal.Signals) -> None:
    folder = tmp_path / "cooks"
    folder.mkdir()
    cook_with_a_stir_due(folder)
    script = HANGS.format(pids=tmp_path / "pids")
    settings_file(folder, f"[[command]]\nname = 'Bell'\nrun = ['sh', '-c', '''{script}''']\n")
    with command(tmp_path / "output", "notices", "--recordings", str(folder)) as process:
        until(lambda: len(pids(tmp_path)) == 3)
        os.kill(process.pid, end)
        until(lambda: all_gone(tmp_path))
        process.wait(20)
    assert "Bell did not take" not in (tmp_path / "output").read_text()


@pytest.mark.long
def test_a_bell_ends_with_start(tmp_path: Path) -> None:
    folder = tmp_path / "cooks"
    folder.mkdir()
    cook_with_a_stir_due(folder)
    script = HANGS.format(pids=tmp_path / "pids")
    settings_file(folder, f"[[command]]\nname = 'Bell'\nrun = ['sh', '-c', '''{script}''']\n")
    start = ("start", "--source", "serial:///dev/nowhere", "--recordings", str(folder), "--host", "127.0.0.1")
    with command(tmp_path / "output", *start, "--port", str(free_port())) as process:
        until(lambda: len(pids(tmp_path)) == 3)
        os.kill(process.pid, signal.SIGTERM)
        process.wait(20)
    until(lambda: all_gone(tmp_path))


class Dripping:
    """A service that takes a post and answers with one more byte of a header for ever."""

    def __init__(self) -> None:
        self.ended = threading.Event()
        self.left = threading.Event()
        self._server = socket.create_server(("127.0.0.1", 0))
        self.port = self._server.getsockname()[1]
        threading.Thread(target=self._serve, daemon=True).start()

    def _serve(self) -> None:
        try:
            client, _ = self._server.accept()
        except OSError:
            return
        with client:
            client.recv(65536)
            client.sendall(b"HTTP/1.1 200 OK\r\nX-Long: ")
            try:
                while not self.ended.wait(0.05):
                    client.sendall(b"a")
            except OSError:
                self.left.set()

    def close(self) -> None:
        """Ends it."""
        self.ended.set()
        self._server.shutdown(socket.SHUT_RDWR)
        self._server.close()


@contextmanager
def dripping() -> Iterator[Dripping]:
    service = Dripping()
    try:
        yield service
    finally:
        service.close()


def test_a_service_that_drips_is_reported_as_failing_and_is_let_go_of() -> None:
    # Apprise is loaded by the first message, which on a busy machine takes longer than the limit here.
    with pytest.raises(SendError):
        AppriseChannel(Service("Post", f"json://127.0.0.1:{free_port()}/")).send(STIR)
    with dripping() as service:
        channel = AppriseChannel(Service("Post", f"json://127.0.0.1:{service.port}/"), 2.0)
        with pytest.raises(SendError, match="it did not take it within 2 s"):
            channel.send(STIR)
        assert service.left.wait(10)


def test_a_service_that_drips_holds_up_no_other(capfd: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SendError):
        AppriseChannel(Service("Post", f"json://127.0.0.1:{free_port()}/")).send(STIR)
    reports: list[str] = []
    with dripping() as slow, post_catcher() as quick:
        channels = [
            AppriseChannel(Service(name, f"json://127.0.0.1:{port}/"), 2.0)
            for name, port in (("Slow", slow.port), ("Quick", quick.port))
        ]
        workers = [ChannelWorker(channel, CLOCK, lambda text, *_: reports.append(text)) for channel in channels]
        for worker in workers:
            worker.enqueue(STIR)
        until(lambda: quick.titles() == ["cooker: stir due"])
        assert not slow.left.is_set()
        until(lambda: bool(reports))
        for worker in workers:
            worker.close()
    assert reports == ["Slow did not take “cooker: stir due”: it did not take it within 2 s. It is tried again."]
    assert capfd.readouterr().err == ""


def test_the_guard_alone_runs_without_the_rest_of_the_program() -> None:
    words = "import sys, monitor.notifications.channels.guard as _; print(sorted({'numpy', 'sqlite3', 'apprise'} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", words], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"
