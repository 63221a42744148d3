"""Windows, as far as this machine can stand for it: nothing of POSIX is there for the program's own modules."""

import os
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.request import urlopen

import pytest

from monitor.storage import load
from tests.cli.processes import children_of, until
from tests.sources.mosquitto import Mosquitto, Rig

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
WITHIN_S = 120
ENVIRONMENT = {**os.environ, "PYTHONPATH": f"{HERE / 'without_posix'}{os.pathsep}{ROOT}", "PYTHONUNBUFFERED": "1"}
KETTLESIDE = (sys.executable, "-m", "monitor.cli")
IMPORT_ALL = """
import importlib, pkgutil, dashboard, monitor
for package in (monitor, dashboard):
    for module in pkgutil.walk_packages(package.__path__, package.__name__ + "."):
        # The first runs the program; the second guards programs of notices, which are refused there.
        if module.name not in ("monitor.cli.__main__", "monitor.notifications.channels.guard"):
            importlib.import_module(module.name)
"""
LOCK_TWICE = """
import subprocess, sys
from pathlib import Path
from monitor.runtime import file_lock, files
lock = Path(sys.argv[1])
held = files.try_lock(lock)
asking = files.open_plain(lock)
print(held is not None, files.try_lock(lock), files.is_locked(asking))
files.os.close(held)
print(files.is_locked(asking), files.try_lock(lock) is not None, "msvcrt" in vars(file_lock))
"""


def run(*command: str | Path, cwd: Path) -> str:
    done = subprocess.run(
        command, cwd=cwd, env=ENVIRONMENT, capture_output=True, text=True, timeout=WITHIN_S, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@contextmanager
def started(*words: str | Path, cwd: Path) -> Iterator["subprocess.Popen[str]"]:
    """One command at work, which is ended with the test whatever comes of it."""
    with subprocess.Popen(
        [*KETTLESIDE, *words], cwd=cwd, env=ENVIRONMENT, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    ) as process:
        try:
            yield process
        finally:
            process.kill()


def line_with(process: "subprocess.Popen[str]", words: str) -> str:
    assert process.stdout is not None
    return next(line for line in process.stdout if words in line)


def test_every_module_loads(tmp_path: Path) -> None:
    run(sys.executable, "-c", IMPORT_ALL, cwd=tmp_path)


def test_a_lock_has_one_holder(tmp_path: Path) -> None:
    assert run(sys.executable, "-c", LOCK_TWICE, tmp_path / "lock", cwd=tmp_path).split() == (
        ["True", "None", "True", "False", "True", "True"]
    )


def test_the_sums_are_done(tmp_path: Path) -> None:
    assert "KOH" in run(*KETTLESIDE, "sums", "alkali", "--help", cwd=tmp_path)
    assert run(*KETTLESIDE, "sums", "oils", cwd=tmp_path)


@pytest.mark.long
def test_a_whole_invented_cook_comes_over_a_port_of_this_machine(tmp_path: Path) -> None:
    with started("demo", "--speed", "900", "--end", "--port", "0", "--recordings", "cooks", cwd=tmp_path) as demo:
        assert "serial+socket://127.0.0.1:" in line_with(demo, "Records into")
        children = children_of(demo.pid)
        assert "finished" in line_with(demo, "The invented cook")
        assert demo.wait(WITHIN_S) == 0
    until(lambda: not any(Path(f"/proc/{child}").exists() for child in children))
    (recording,) = (tmp_path / "cooks").glob("*.cook")
    assert set(load(recording).series) == {"paste", "wall", "room", "ph"}


@pytest.mark.long
def test_the_pages_are_served_and_end_in_good_order(tmp_path: Path) -> None:
    with started("serve", "--make-folder", "--recordings", "cooks", "--port", "0", "--no-mdns", cwd=tmp_path) as pages:
        found = re.search(r"http://\S+:(\d+)/", line_with(pages, "http://"))
        assert found is not None
        with urlopen(f"http://127.0.0.1:{found[1]}/healthz", timeout=20) as answer:
            assert answer.status == 200
        # What CTRL_BREAK is there.
        pages.send_signal(signal.SIGQUIT)
        assert pages.wait(WITHIN_S) == 0


def recorded(rig: Rig, folder: Path) -> bool:
    """Sends a reading; whether one is recorded by now."""
    rig.send_pack(94.25)
    return any(load(path).series for path in folder.glob("*.cook"))


@pytest.mark.broker
def test_a_logger_reads_a_broker_and_ends_in_good_order(tmp_path: Path) -> None:
    broker = Mosquitto(tmp_path).start()
    rig = Rig(broker.port)
    words = ("log", "--source", f"mqtt://127.0.0.1:{broker.port}/kettleside/cooker/readings", "--recordings", "cooks")
    try:
        with started(*words, cwd=tmp_path) as logger:
            until(lambda: recorded(rig, tmp_path / "cooks"))
            logger.send_signal(signal.SIGQUIT)
            assert logger.wait(WITHIN_S) == 0
    finally:
        rig.close()
        broker.stop()
    (recording,) = (tmp_path / "cooks").glob("*.cook")
    assert load(recording).series["paste"].value[0] == pytest.approx(94.25)
