"""Ctrl-C and nohup: which signals end a command, however it was started."""

import signal
import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.processes import until

KETTLESIDE = f"{sys.executable} -m monitor.cli"


@pytest.mark.parametrize(
    ("words", "heard", "status"),
    [
        ("log --source serial:///dev/nowhere --recordings {folder}", "is not there", 130),
        ("serve --host 127.0.0.1 --port 0 --recordings {folder}", "key=", 130),
        ("start --source serial:///dev/nowhere --host 127.0.0.1 --port 0 --recordings {folder}", "key=", 130),
        ("rig --serial", "/dev/pts/", 130),
    ],
)
def test_ctrl_c_ends_a_command_started_with_sigint_ignored(tmp_path: Path, words: str, heard: str, status: int) -> None:
    output = tmp_path / "output"
    folder = tmp_path / "cooks"
    folder.mkdir()
    with output.open("w") as out:
        script = f"trap '' INT; exec {KETTLESIDE} {words.format(folder=folder)}"
        process = subprocess.Popen(["sh", "-c", script], stdout=out, stderr=out)
    try:
        until(lambda: heard in output.read_text())
        process.send_signal(signal.SIGINT)
        assert process.wait(20) in (0, status)
    finally:
        process.kill()
        process.wait()
    assert "Traceback" not in output.read_text()


def test_a_command_under_nohup_outlives_its_terminal(tmp_path: Path) -> None:
    output = tmp_path / "output"
    words = f"{KETTLESIDE} log --source serial:///dev/nowhere --recordings {tmp_path / 'cooks'}"
    with output.open("w") as out:
        process = subprocess.Popen(["sh", "-c", f"trap '' HUP; exec {words}"], stdout=out, stderr=out)
    try:
        until(lambda: "is not there" in output.read_text())
        ignored = int(Path(f"/proc/{process.pid}/status").read_text().split("SigIgn:\t")[1].split()[0], 16)
        assert ignored & 1 << signal.SIGHUP - 1
        process.terminate()
        assert process.wait(20) == 0
    finally:
        process.kill()
        process.wait()
