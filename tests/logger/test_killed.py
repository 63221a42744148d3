"""The real ``kettleside log`` on real bytes, killed without warning and started again."""

import os
import random
import resource
import select
import signal
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import closing, suppress
from pathlib import Path

import pytest

from monitor.clock import SystemClock
from monitor.recording import log_event
from monitor.records import make_event
from monitor.roll import load
from tests.sources.listening import Terminal, line
from tests.sources.mosquitto import Mosquitto, Rig

CLOCK = SystemClock()
PATIENCE_S = 20.0


class Logger:
    """The command in a process of its own."""

    def __init__(self, folder: Path, source: str, *words: str) -> None:
        command = [sys.executable, "-m", "monitor.cli", "log", "--source", source, "--recordings", str(folder), *words]
        self.process = subprocess.Popen(command, stderr=subprocess.PIPE)
        self.said = b""

    def wait_for(self, words: bytes) -> None:
        """Waits until it has said these words."""
        stream, end_s = self.process.stderr, CLOCK.real_s() + PATIENCE_S
        assert stream is not None
        while words not in self.said:
            ready, _, _ = select.select([stream], [], [], max(0.0, end_s - CLOCK.real_s()))
            more = os.read(stream.fileno(), 4096) if ready else b""
            assert more, f"it only said {self.said.decode()}"
            self.said += more

    def kill(self) -> None:
        """Without warning."""
        self.process.kill()
        self._reap()

    def stop(self) -> int:
        """In good order; its exit status."""
        self.process.terminate()
        return self._reap()

    def _reap(self) -> int:
        status = self.process.wait(PATIENCE_S)
        assert self.process.stderr is not None
        self.said += self.process.stderr.read()
        self.process.stderr.close()
        return status


class Sender:
    """Sends a numbered pack fifty times a second and remembers when each went out."""

    def __init__(self, terminal: Terminal) -> None:
        self.sent_s: list[float] = []
        self._terminal = terminal
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run)
        self._thread.start()

    def _run(self) -> None:
        os.set_blocking(self._terminal.rig, False)
        while not self._stop.wait(0.02):
            # Nobody reads while the logger is down; then the pack is lost as on a real line.
            with suppress(BlockingIOError):
                os.write(self._terminal.rig, line(60.0, len(self.sent_s)))
            self.sent_s.append(CLOCK.real_s())

    def close(self) -> None:
        """Ends it."""
        self._stop.set()
        self._thread.join()


@pytest.fixture
def terminal() -> Iterator[Terminal]:
    made = Terminal()
    yield made
    made.close()


def seqs(folder: Path) -> list[int]:
    """The numbers of the packs that are committed; empty before there is a recording."""
    found: list[int] = []
    for path in folder.glob("*.cook"):
        try:
            with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as connection:
                found += [row[0] for row in connection.execute("SELECT seq FROM pack ORDER BY id")]
        except sqlite3.OperationalError:
            continue
    return found


def wait_until_stored(folder: Path, after: int) -> int:
    """Waits for a pack beyond this number; the latest number."""
    end_s, patience = CLOCK.real_s() + PATIENCE_S, threading.Event()
    while not (stored := seqs(folder)) or stored[-1] <= after:
        assert CLOCK.real_s() < end_s, f"nothing was stored after {after}"
        patience.wait(0.02)
    return stored[-1]


def test_killed_at_random_it_loses_at_most_a_second_and_goes_on(tmp_path: Path, terminal: Terminal) -> None:
    chance, sender = random.Random(1), Sender(terminal)
    ready_s, alive_s = [], []
    logger = Logger(tmp_path, f"serial://{terminal.path}")
    try:
        for _ in range(3):
            started_s = CLOCK.real_s()
            latest = wait_until_stored(tmp_path, len(sender.sent_s))
            ready_s.append(CLOCK.real_s() - started_s)
            begun = latest
            threading.Event().wait(chance.uniform(0.0, 1.5))
            killed_s = CLOCK.real_s()
            logger.kill()
            stored = set(seqs(tmp_path))
            at_stake = [n for n, s in enumerate(list(sender.sent_s)) if n > begun and s < killed_s and n not in stored]
            if at_stake:
                alive_s.append(killed_s - sender.sent_s[at_stake[0]])
            logger = Logger(tmp_path, f"serial://{terminal.path}")
        wait_until_stored(tmp_path, len(sender.sent_s))
    finally:
        sender.close()
        logger.stop()
    # One cook, gone on with each time; each pack once; the file sound.
    (path,) = tmp_path.glob("*.cook")
    stored_all = seqs(tmp_path)
    assert len(stored_all) == len(set(stored_all))
    assert [event.kind for event in load(path).events].count("resumed") == 3
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    assert max(alive_s, default=0.0) <= 1.0, alive_s
    assert max(ready_s) < 3.0, ready_s


def test_stopped_in_good_order_everything_is_stored(tmp_path: Path, terminal: Terminal) -> None:
    logger = Logger(tmp_path, f"serial://{terminal.path}")
    logger.wait_for(b"Records into")
    while not seqs(tmp_path):
        terminal.send(line(60.0, 0))
        threading.Event().wait(0.05)
    terminal.send(b"".join(line(61.0, seq) for seq in range(1, 40)))
    logger.wait_for(b"Readings come from: paste.")
    assert logger.stop() == 0
    assert b"Traceback" not in logger.said


def test_once_ends_by_itself_when_the_cook_is_finished(tmp_path: Path, terminal: Terminal) -> None:
    logger = Logger(tmp_path, f"serial://{terminal.path}", "--once")
    logger.wait_for(b"Records into")
    (path,) = tmp_path.glob("*.cook")
    now = CLOCK.now()
    log_event(path, make_event("end", "finished", now, now))
    assert logger.process.wait(PATIENCE_S) == 0
    logger.stop()
    assert not list(tmp_path.glob("*-wal"))


def test_copies_of_file_and_wal_at_any_instant_open_sound(tmp_path: Path, terminal: Terminal) -> None:
    """Power loss, approximated: the two files as they lie on the disk at one instant after the other."""
    sender, folder = Sender(terminal), tmp_path / "cooks"
    logger = Logger(folder, f"serial://{terminal.path}")
    try:
        wait_until_stored(folder, 0)
        (path,) = folder.glob("*.cook")
        for number in range(4):
            latest = wait_until_stored(folder, len(sender.sent_s))
            copy = tmp_path / f"copy{number}.cook"
            # The file first: a checkpoint between the two only repeats what the WAL's copy holds.
            copy.write_bytes(path.read_bytes())
            copy.with_name(copy.name + "-wal").write_bytes(path.with_name(path.name + "-wal").read_bytes())
            with closing(sqlite3.connect(copy)) as connection:
                assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
                assert connection.execute("SELECT max(seq) FROM pack").fetchone()[0] >= latest
    finally:
        sender.close()
        logger.stop()


@pytest.mark.broker
def test_killed_on_a_broker_it_loses_nothing_at_all(tmp_path: Path) -> None:
    broker = Mosquitto(tmp_path).start()
    folder, rig = tmp_path / "cooks", Rig(broker.port)
    url = f"mqtt://127.0.0.1:{broker.port}/kettleside/cooker/readings"
    logger = Logger(folder, url)
    try:
        while not seqs(folder):
            # Before its first subscription nobody keeps packs for it.
            rig.send_pack(60.0, 0)
            threading.Event().wait(0.05)
        for count in range(1, 241):
            rig.send_pack(60.0, count)
            if count % 60 == 20:
                logger.kill()
            if count % 60 == 40:
                logger = Logger(folder, url)
                wait_until_stored(folder, count - 20)
        wait_until_stored(folder, 239)
        assert logger.stop() == 0
    finally:
        if logger.process.poll() is None:
            logger.kill()
        rig.close()
        broker.stop()
    assert sorted(seqs(folder)) == list(range(241))


def test_a_disk_that_takes_nothing_for_a_while_costs_no_reading(tmp_path: Path, terminal: Terminal) -> None:
    """The system really refuses its writes: RLIMIT_FSIZE (POSIX setrlimit) needs no rights, a full disk would."""
    logger = Logger(tmp_path, f"serial://{terminal.path}")
    try:
        logger.wait_for(b"Records into")
        while not seqs(tmp_path):
            terminal.send(line(60.0, 0))
            threading.Event().wait(0.05)
        resource.prlimit(logger.process.pid, resource.RLIMIT_FSIZE, (1, resource.RLIM_INFINITY))
        terminal.send(b"".join(line(61.0, seq) for seq in range(1, 21)))
        logger.wait_for(b"the write is tried again each second.")
        terminal.send(b"".join(line(62.0, seq) for seq in range(21, 41)))
        assert max(seqs(tmp_path)) < 40
        unlimited = (resource.RLIM_INFINITY, resource.RLIM_INFINITY)
        resource.prlimit(logger.process.pid, resource.RLIMIT_FSIZE, unlimited)
        logger.wait_for(b"is written again; nothing that waited is lost.")
        wait_until_stored(tmp_path, 39)
    finally:
        logger.stop()
    assert seqs(tmp_path) == list(range(41))
    assert b"Traceback" not in logger.said


def test_a_process_out_of_file_handles_goes_on_with_its_cook(tmp_path: Path, terminal: Terminal) -> None:
    """The port is lost and no handle is left to open it again; then there is one."""
    link = tmp_path / "rig"
    link.symlink_to(terminal.path)
    folder, again = tmp_path / "cooks", Terminal()
    logger = Logger(folder, f"serial://{link}")
    try:
        logger.wait_for(b"Records into")
        while not seqs(folder):
            terminal.send(line(60.0, 0))
            threading.Event().wait(0.05)
        resource.prlimit(logger.process.pid, resource.RLIMIT_NOFILE, (3, 4096))
        terminal.close()
        link.unlink()
        link.symlink_to(again.path)
        logger.wait_for(b"this process has too many files open")
        resource.prlimit(logger.process.pid, resource.RLIMIT_NOFILE, (1024, 4096))
        while len(seqs(folder)) < 2:
            again.send(line(61.0, 1))
            threading.Event().wait(0.05)
        logger.wait_for(b"The source speaks again.")
    finally:
        logger.stop()
        again.close()
    assert seqs(folder) == [0, 1]
    assert b"Traceback" not in logger.said


def test_ctrl_c_ends_it_quietly(tmp_path: Path, terminal: Terminal) -> None:
    """130, as shells expect, and no traceback."""
    logger = Logger(tmp_path, f"serial://{terminal.path}")
    logger.wait_for(b"Records into")
    logger.process.send_signal(signal.SIGINT)
    assert logger.process.wait(PATIENCE_S) == 130
    logger.stop()
    assert b"Traceback" not in logger.said
