"""The rig's own buzzer at the end of its cable: a real terminal, the real logger on it, and nothing lost by it."""

import os
import subprocess
import sys
import termios
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from monitor.logger.lock import LoggerLock
from monitor.model import make_event
from monitor.notifications.channels.buzzer import BuzzerChannel
from monitor.notifications.channels.channel import Message, SendError
from monitor.notifications.repeat import Notice
from monitor.notifications.store import logger_port
from monitor.runtime import SystemClock
from monitor.runtime.signals import Stop
from monitor.sources import Source
from monitor.storage import load, log_event, recordings
from tests.cli.processes import until
from tests.logger.running import seqs
from tests.notifications.test_processes import ROOT, command
from tests.notifications.test_settings import settings_file
from tests.sources.polling import Terminal, has, line, listen, opened

STIR = Message("cooker", Notice("stir due", "35 minutes after the last stir.", 1_773_484_800.0))
DOWN = b'{"t":1773484800.0,"notice":"stir due"}\n'


@contextmanager
def logged(folder: Path, source: Source) -> Iterator[LoggerLock]:
    """What a logger holds and notes while it hears readings."""
    with LoggerLock(folder, "cooker", Stop()) as only:
        only.note(source.port)
        yield only
    source.close()


def heard(terminal: Terminal) -> Source:
    """A source that has the terminal open and has heard a pack."""
    source = opened(f"serial://{terminal.path}")
    source.poll(0.0)
    terminal.send(line(94.0, 1))
    listen(source, has(object))
    return source


@pytest.fixture
def terminal() -> Iterator[Terminal]:
    made = Terminal()
    yield made
    made.close()


def test_the_line_comes_to_the_rig_and_the_port_stays_as_it_was(tmp_path: Path, terminal: Terminal) -> None:
    source = heard(terminal)
    with logged(tmp_path, source):
        modes = termios.tcgetattr(terminal.rig)
        BuzzerChannel(tmp_path, "cooker").send(STIR)
        assert os.read(terminal.rig, 4096) == DOWN
        assert termios.tcgetattr(terminal.rig) == modes
        # It is no echo of the rig's own lines, and the logger goes on hearing.
        terminal.send(line(94.25, 2))
        assert len(listen(source, has(object))) == 1


def test_no_port_is_opened_that_no_logger_hears(tmp_path: Path, terminal: Terminal) -> None:
    buzzer = BuzzerChannel(tmp_path, "cooker")
    with pytest.raises(SendError, match="no readings arrive by it now"):
        buzzer.send(STIR)
    source = heard(terminal)
    with logged(tmp_path, source) as only:
        buzzer.send(STIR)
        only.note(None)
        with pytest.raises(SendError, match="no readings arrive by it now"):
            buzzer.send(STIR)
        only.note(terminal.path)
        # As where a board was pulled out and another program was quicker to open what now has its name.
        source.close()
        with pytest.raises(SendError, match=f"the logger does not hold {terminal.path} now"):
            buzzer.send(STIR)
    with pytest.raises(SendError, match="no readings arrive by it now"):
        buzzer.send(STIR)
    assert os.read(terminal.rig, 4096) == DOWN
    os.set_blocking(terminal.rig, False)
    with pytest.raises(OSError, match=r"Input/output error|temporarily unavailable"):
        os.read(terminal.rig, 4096)


def test_what_is_no_terminal_is_never_written_to(tmp_path: Path) -> None:
    kept = tmp_path / "kept"
    kept.write_text("not a port")
    with LoggerLock(tmp_path, "cooker", Stop()) as only:
        only.note(str(kept))
        with pytest.raises(SendError, match="does not hold"):
            BuzzerChannel(tmp_path, "cooker").send(STIR)
        only.note(str(tmp_path / "gone"))
        with pytest.raises(SendError, match=r"gone cannot be opened \(No such file or directory\)"):
            BuzzerChannel(tmp_path, "cooker").send(STIR)
    assert kept.read_text() == "not a port"


def test_a_rig_that_reads_nothing_is_given_up_and_a_later_line_begins_anew(tmp_path: Path, terminal: Terminal) -> None:
    source, buzzer = heard(terminal), BuzzerChannel(tmp_path, "cooker")
    with logged(tmp_path, source):
        sent = 0
        with pytest.raises(SendError, match="the rig does not read it; if it has no buzzer, set rig_buzzer"):
            while True:
                buzzer.send(STIR)
                sent += 1
        assert sent > 10
        os.set_blocking(terminal.rig, False)
        with pytest.raises(BlockingIOError):
            while os.read(terminal.rig, 65536):
                pass
        buzzer.send(STIR)
        # The line end first: half a line may have gone before.
        assert os.read(terminal.rig, 4096) == b"\n" + DOWN
        terminal.send(line(94.25, 2))
        assert len(listen(source, has(object))) == 1


def test_the_logger_before_leaves_no_port_behind(tmp_path: Path, terminal: Terminal) -> None:
    with LoggerLock(tmp_path, "cooker", Stop()) as only:
        only.note(terminal.path)
        assert logger_port(tmp_path, "cooker") == terminal.path
    assert logger_port(tmp_path, "cooker") is None
    with LoggerLock(tmp_path, "cooker", Stop()):
        assert logger_port(tmp_path, "cooker") is None


def test_a_source_names_its_port_only_while_it_speaks(terminal: Terminal) -> None:
    source = opened(f"serial://{terminal.path}")
    source.poll(0.0)
    assert source.port is None
    terminal.send(b"the rest of a line\nno pack\n")
    listen(source, has(object))
    assert source.port is None
    terminal.send(line(94.0, 1))
    listen(source, has(object))
    assert source.port == terminal.path
    terminal.close()
    listen(source, has(object))
    assert source.port is None
    source.close()


class Board(threading.Thread):
    """Sends numbered packs at a pace, and keeps what comes down the line."""

    def __init__(self, terminal: Terminal, rate: float) -> None:
        super().__init__(daemon=True)
        self.sent, self.got = 0, b""
        self._terminal, self._rate = terminal, rate
        self._ended = threading.Event()
        os.set_blocking(terminal.rig, False)

    def run(self) -> None:
        """Until it is ended."""
        clock = SystemClock()
        began_s = clock.real_s()
        while not self._ended.wait(0.5 / self._rate):
            while self.sent < (clock.real_s() - began_s) * self._rate:
                self.sent += 1
                self._terminal.send(line(94.0, self.sent))
            try:
                self.got += os.read(self._terminal.rig, 4096)
            except OSError:
                continue

    def end(self) -> None:
        """Sends no more."""
        self._ended.set()
        self.join(5)


@pytest.mark.long
@pytest.mark.parametrize(("rate", "source"), [(1.0, "serial://{path}"), (250.0, "serial://auto?also={path}")])
def test_a_stir_rings_the_rig_while_the_logger_loses_nothing(tmp_path: Path, rate: float, source: str) -> None:
    terminal, folder, output = Terminal(), tmp_path / "cooks", tmp_path / "output"
    board, url = Board(terminal, rate), source.format(path=terminal.path)
    place = ("--source", url, "--recordings", str(folder))
    try:
        with command(output, "log", *place):
            # What comes while it is still opening the port is nobody's.
            until(lambda: "Waits for the first reading" in output.read_text() if output.exists() else False)
            board.start()
            until(lambda: bool(recordings(folder)) and logger_port(folder, "cooker") == terminal.path)
            (path,) = recordings(folder)
            now = SystemClock().now()
            log_event(path, make_event("lid", "lid on", now - 2400.0, now))
            with command(output, "notices", *place):
                until(lambda: b'"stir due"' in board.got)
                tried = [sys.executable, "-m", "monitor.cli", "notices", "--test", *place]
                for _ in range(3):
                    done = subprocess.run(tried, capture_output=True, text=True, cwd=ROOT)
                    assert "The cable to the rig cooker took the test." in done.stdout and done.returncode == 0
            until(lambda: len(seqs(folder)) >= 6 * rate)
            board.end()
            until(lambda: seqs(folder)[-1] == board.sent)
        stored, events = seqs(folder), [event.kind for event in load(path).events]
    finally:
        board.end()
        terminal.close()
    # From the first that the logger was there for.
    assert stored == list(range(stored[0], board.sent + 1)) and stored[0] <= rate
    assert set(events) == {"lid on"}
    rung = board.got.decode().splitlines()
    assert len(rung) == 4 and rung[0].endswith('"notice":"stir due"}')
    assert all(one.endswith('"notice":"test"}') for one in rung[1:])
    assert "Traceback" not in output.read_text()


def test_a_rig_is_not_rung_where_the_settings_say_so(tmp_path: Path, terminal: Terminal) -> None:
    settings_file(tmp_path, "rig_buzzer = false")
    with logged(tmp_path, heard(terminal)):
        words = ["notices", "--test", "--recordings", str(tmp_path), "--source", f"serial://{terminal.path}"]
        done = subprocess.run([sys.executable, "-m", "monitor.cli", *words], capture_output=True, text=True, cwd=ROOT)
    assert "cable" not in done.stdout and "No service and no command is set" in done.stdout


@pytest.mark.long
def test_the_virtual_rig_says_what_its_buzzer_sounds(tmp_path: Path) -> None:
    folder, output, device = tmp_path / "cooks", tmp_path / "output", tmp_path / "device"
    with command(device, "rig", "--serial"):
        until(lambda: device.exists() and "/" in device.read_text())
        place = ("--source", f"serial://{device.read_text().split()[0]}", "--recordings", str(folder))
        with command(output, "log", *place):
            until(lambda: logger_port(folder, "cooker") is not None)
            tried = [sys.executable, "-m", "monitor.cli", "notices", "--test", *place]
            done = subprocess.run(tried, capture_output=True, text=True, cwd=ROOT)
            assert "The cable to the rig cooker took the test." in done.stdout
            until(lambda: "The buzzer sounds: test." in device.read_text())
