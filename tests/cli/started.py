"""``kettleside start`` as a person or systemd starts it, with its processes to be killed."""

import os
import signal
import subprocess
import sys
import urllib.request
from pathlib import Path
from typing import TextIO
from urllib.error import URLError

from tests.cli.processes import PATIENCE_S, alive, children_of, until
from tests.sources.mosquitto import free_port

ROOT = Path(__file__).resolve().parents[2]
PARTS = {"logger": "log", "dashboard": "serve", "notices": "notices"}


class Started:
    """One supervisor with its three children over one source. output: the file that all of them write to."""

    def __init__(self, folder: Path, source: str, output: TextIO) -> None:
        self.folder = folder
        self.port = free_port()
        self._output = output
        self._command = [sys.executable, "-m", "monitor.cli", "start", "--source", source, "--recordings", str(folder)]
        self._command += ["--host", "127.0.0.1", "--port", str(self.port)]
        self.seen: set[int] = set()
        self.start()

    def start(self) -> None:
        """Starts the supervisor, also after it was killed."""
        self.process = subprocess.Popen(self._command, stdout=self._output, stderr=self._output, cwd=ROOT)

    def pid_of(self, part: str) -> int | None:
        """The process of a part, once it is there."""
        for pid in children_of(self.process.pid):
            self.seen.add(pid)
            words = Path(f"/proc/{pid}/cmdline").read_bytes().split(b"\0")
            if PARTS[part].encode() in words[:4]:
                return pid
        return None

    def kill(self, part: str) -> None:
        """Kills a child, or the ``supervisor``, whose children then end by themselves."""
        if part == "supervisor":
            self.seen |= set(children_of(self.process.pid))
            self.process.kill()
            self.process.wait(PATIENCE_S)
            return
        pid = self.pid_of(part)
        assert pid is not None, f"no {part} runs"
        os.kill(pid, signal.SIGKILL)
        until(lambda: not alive(pid))

    def answers(self) -> bool:
        """Whether the page answers."""
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{self.port}/healthz", timeout=5) as answer:
                return bool(answer.status == 200)
        except (URLError, ConnectionError, TimeoutError):
            return False

    def end(self, number: int) -> int:
        """Ends the supervisor with a signal; returns its exit status."""
        self.seen |= set(children_of(self.process.pid))
        self.process.send_signal(number)
        return self.process.wait(PATIENCE_S)
