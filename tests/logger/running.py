"""What the tests of a killed, starved or stopped logger share: the real command on real bytes, and what it stored."""

import os
import select
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Sequence
from contextlib import closing, suppress
from pathlib import Path

from monitor.runtime import SystemClock
from tests.logger.scripted import SHEET
from tests.sources.polling import Terminal, line

CLOCK = SystemClock()
PATIENCE_S = 20.0
KETTLESIDE = (sys.executable, "-m", "monitor.cli")


class Logger:
    """The command in a process of its own, with a batch sheet, so that its cook begins with it.

    started_by: what stands before its name.
    """

    def __init__(self, folder: Path, source: str, *words: str, started_by: Sequence[str] = KETTLESIDE) -> None:
        sheet = folder.with_name(f"{folder.name}.toml")
        sheet.write_text(SHEET)
        command = [*started_by, "log", "--source", source, "--recordings", str(folder), "--batch", str(sheet), *words]
        self.process = subprocess.Popen(command, stderr=subprocess.PIPE)
        self.said = b""

    def wait_for(self, words: bytes) -> None:
        """Waits until it has said these words."""
        while words not in self.said:
            self.wait_for_more()

    def wait_for_more(self) -> None:
        """Waits until it says anything."""
        stream = self.process.stderr
        assert stream is not None
        ready, _, _ = select.select([stream], [], [], PATIENCE_S)
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
