"""The real ``kettleside log`` on real bytes, killed without warning and started again."""

import random
import resource
import signal
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import closing
from itertools import pairwise
from pathlib import Path

import pytest

from monitor.model import make_event
from monitor.storage import load, log_event
from tests.logger.power_loss import copied, seqs_of_sound_copy
from tests.logger.running import CLOCK, PATIENCE_S, Logger, Sender, seqs, wait_until_stored
from tests.logger.shifted import Shifted
from tests.sources.mosquitto import Mosquitto, Rig
from tests.sources.polling import Terminal, line


@pytest.fixture
def terminal() -> Iterator[Terminal]:
    made = Terminal()
    yield made
    made.close()


@pytest.mark.long
def test_a_kill_at_any_moment_loses_at_most_a_second(tmp_path: Path, terminal: Terminal) -> None:
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


def test_an_orderly_stop_stores_everything(tmp_path: Path, terminal: Terminal) -> None:
    logger = Logger(tmp_path, f"serial://{terminal.path}")
    logger.wait_for(b"Records into")
    while not seqs(tmp_path):
        terminal.send(line(60.0, 0))
        threading.Event().wait(0.05)
    terminal.send(b"".join(line(61.0, seq) for seq in range(1, 40)))
    logger.wait_for(b"Readings come from: paste.")
    assert logger.stop() == 0
    assert b"Traceback" not in logger.said


def test_with_once_the_command_ends_when_the_cook_is_finished(tmp_path: Path, terminal: Terminal) -> None:
    logger = Logger(tmp_path, f"serial://{terminal.path}", "--once")
    logger.wait_for(b"Records into")
    (path,) = tmp_path.glob("*.cook")
    now = CLOCK.now()
    log_event(path, make_event("end", "finished", now, now))
    assert logger.process.wait(PATIENCE_S) == 0
    logger.stop()
    assert not list(tmp_path.glob("*-wal"))


@pytest.mark.long
def test_a_copy_at_any_instant_is_an_intact_beginning(tmp_path: Path, terminal: Terminal) -> None:
    """Power loss, approximated; a hundred and more by ``python -m tests.bench.killed``."""
    chance, sender, folder = random.Random(2), Sender(terminal), tmp_path / "cooks"
    logger = Logger(folder, f"serial://{terminal.path}")
    try:
        wait_until_stored(folder, 0)
        (path,) = folder.glob("*.cook")
        for number in range(12):
            threading.Event().wait(chance.uniform(0.0, 0.3))
            committed, copy, torn = seqs(folder), tmp_path / f"copy{number}.cook", number % 3 > 0
            copied(path, logger.process.pid, copy, chance if torn else None)
            got = seqs_of_sound_copy(copy)
            assert got == seqs(folder)[: len(got)]
            assert torn or got[: len(committed)] == committed
    finally:
        sender.close()
        logger.stop()


@pytest.mark.broker
def test_a_kill_with_a_broker_loses_nothing(tmp_path: Path) -> None:
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


def test_a_temporarily_full_disk_loses_no_reading(tmp_path: Path, terminal: Terminal) -> None:
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


def test_a_process_out_of_file_handles_continues_its_cook(tmp_path: Path, terminal: Terminal) -> None:
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


def known_times(folder: Path) -> list[float]:
    (path,) = folder.glob("*.cook")
    with closing(sqlite3.connect(path)) as connection:
        return [row[0] for row in connection.execute("SELECT known FROM pack ORDER BY id")]


@pytest.mark.long
def test_a_stepped_wall_clock_changes_no_time_and_a_suspend_is_a_gap(tmp_path: Path, terminal: Terminal) -> None:
    """Under a clock that is moved while the logger runs and across a restart; oftener by ``tests.bench.starved``."""
    sender, folder, source = Sender(terminal), tmp_path / "cooks", f"serial://{terminal.path}"
    with Shifted(tmp_path) as shift:
        logger = Logger(folder, source, started_by=shift.command)
        try:
            # The wall clock an hour on, then an hour back from there twice, then the machine asleep for an hour.
            for wall_s, boot_s in [(3600.0, 0.0), (-3600.0, 0.0), (-3600.0, 0.0), (3600.0, 3600.0)]:
                wait_until_stored(folder, len(sender.sent_s))
                shift.move(wall_s, boot_s)
                wait_until_stored(folder, len(sender.sent_s))
                if wall_s < 0.0:
                    logger.kill()
                    logger = Logger(folder, source, started_by=shift.command)
        finally:
            sender.close()
            logger.stop()
    steps = [later - earlier for earlier, later in pairwise(known_times(folder))]
    assert min(steps) >= 0.0
    assert [step for step in steps if step > 60.0] == [pytest.approx(3600.0, abs=10.0)]
    assert b"Traceback" not in logger.said


def test_a_stopped_logger_continues_where_it_was(tmp_path: Path, terminal: Terminal) -> None:
    """SIGSTOP and SIGCONT, as a suspended container or a debugger has it: what came meanwhile waits on the line."""
    logger = Logger(tmp_path, f"serial://{terminal.path}")
    try:
        logger.wait_for(b"Records into")
        while not seqs(tmp_path):
            terminal.send(line(60.0, 0))
            threading.Event().wait(0.05)
        logger.process.send_signal(signal.SIGSTOP)
        terminal.send(b"".join(line(61.0, seq) for seq in range(1, 31)))
        logger.process.send_signal(signal.SIGCONT)
        wait_until_stored(tmp_path, 29)
    finally:
        logger.stop()
    assert sorted(set(seqs(tmp_path))) == list(range(31))
    assert b"Traceback" not in logger.said


def test_ctrl_c_ends_the_logger_without_a_traceback(tmp_path: Path, terminal: Terminal) -> None:
    """130, as shells expect, and no traceback."""
    logger = Logger(tmp_path, f"serial://{terminal.path}")
    logger.wait_for(b"Records into")
    logger.process.send_signal(signal.SIGINT)
    assert logger.process.wait(PATIENCE_S) == 130
    logger.stop()
    assert b"Traceback" not in logger.said
