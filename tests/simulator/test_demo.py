"""``kettleside demo`` and ``kettleside rig`` as processes."""

import os
import pty
import select
import shutil
import signal
import socket
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from monitor.protocol import LineDecoder, Pack
from monitor.simulator.sample_setting import BEGAN
from monitor.storage import load

WAIT_S = 30.0


@contextmanager
def command(*argv: str) -> Iterator[subprocess.Popen[str]]:
    """A command whose output and errors are one stream."""
    with subprocess.Popen(
        [sys.executable, "-m", "monitor.cli", *argv], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    ) as process:
        try:
            yield process
        finally:
            process.kill()


def read_until(process: subprocess.Popen[str], words: str) -> None:
    assert process.stdout is not None
    while words not in (line := process.stdout.readline()):
        assert line, f"the command ended before it said {words!r}"


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def children_of(pid: int) -> list[int]:
    return [int(child) for child in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]


def wait_for_end(pid: int) -> None:
    """Returns when no process has this number any more."""
    try:
        descriptor = os.pidfd_open(pid)
    except ProcessLookupError:
        return
    try:
        assert select.select([descriptor], [], [], WAIT_S)[0], f"process {pid} is still there"
    finally:
        os.close(descriptor)


@pytest.mark.parametrize(("ask", "status"), [(signal.SIGINT, 130), (signal.SIGTERM, 0)])
def test_stopping_the_demo_leaves_nothing_running(tmp_path: Path, ask: signal.Signals, status: int) -> None:
    folder = tmp_path / "cooks"
    with command("demo", "--speed", "300", "--recordings", str(folder), "--port", str(free_port())) as demo:
        read_until(demo, "Readings come from")
        children = children_of(demo.pid)
        assert len(children) == 2
        demo.send_signal(ask)
        assert demo.stdout is not None
        said = demo.stdout.read()
        assert demo.wait(WAIT_S) == status
        for child in children:
            wait_for_end(child)
    (recording,) = folder.glob("*.cook")
    assert "stopped before its end" in said
    assert str(recording) in said
    assert f"kettleside serve --recordings {folder} --port" in said
    history = load(recording)
    assert history.batch is not None
    assert "invented" in history.batch.title
    assert set(history.series) == {"paste", "wall", "room", "ph"}
    # What the seed decides is what is stored: the demo's packs carry their own time.
    assert history.series["paste"].measured[0] == BEGAN


def test_a_folder_with_a_cook_under_way_is_refused(tmp_path: Path) -> None:
    with command("demo", "--speed", "300", "--recordings", str(tmp_path), "--port", str(free_port())) as first:
        read_until(first, "Readings come from")
        with command("demo", "--recordings", str(tmp_path)) as second:
            assert second.stdout is not None
            said = second.stdout.read()
            assert second.wait(WAIT_S) == 1
        first.send_signal(signal.SIGTERM)
        first.communicate(timeout=WAIT_S)
    assert "has a cook under way" in said
    assert "Traceback" not in said


def test_a_port_in_use_is_reported_in_one_sentence(tmp_path: Path) -> None:
    with socket.create_server(("0.0.0.0", 0)) as taken:
        port = str(taken.getsockname()[1])
        with command("demo", "--recordings", str(tmp_path), "--port", port) as demo:
            assert demo.stdout is not None
            said = demo.stdout.read()
            assert demo.wait(WAIT_S) == 1
    assert said.startswith(f"kettleside: Nothing can listen on port {port} (")
    assert said.count("\n") == 1


def test_a_folder_that_cannot_be_created_is_reported_in_one_sentence(tmp_path: Path) -> None:
    in_the_way = tmp_path / "file"
    in_the_way.touch()
    with command("demo", "--recordings", str(in_the_way / "cooks")) as demo:
        assert demo.stdout is not None
        said = demo.stdout.read()
        assert demo.wait(WAIT_S) == 1
    assert said == "kettleside: cooks: not a directory.\n"


def test_the_rig_prints_its_terminal_and_speaks_on_it() -> None:
    with command("rig", "--serial", "--speed", "200", "--seed", "4") as rig:
        assert rig.stdout is not None
        reader = os.open(rig.stdout.readline().strip(), os.O_RDONLY | os.O_NOCTTY | os.O_NONBLOCK)
        feed = LineDecoder()
        packs: list[Pack] = []
        while len(packs) < 20:
            assert select.select([reader], [], [], WAIT_S)[0]
            items = feed.feed(os.read(reader, 4096), 0.0)
            assert all(isinstance(item, Pack) for item in items)
            packs += [item for item in items if isinstance(item, Pack)]
        os.close(reader)
        rig.send_signal(signal.SIGTERM)
        assert rig.wait(WAIT_S) == 0
    assert [pack.seq for pack in packs] == list(range(len(packs)))


@pytest.mark.parametrize("argv", [["rig"], ["rig", "--serial", "--speed", "fast"], ["rig", "--mqtt", "x", "--serial"]])
def test_wrong_usage_is_reported_in_one_sentence(argv: list[str]) -> None:
    with command(*argv) as rig:
        assert rig.stdout is not None
        said = rig.stdout.read()
        assert rig.wait(WAIT_S) == 2
    assert said.count("\n") == 1
    assert "speed_argument" not in said


@pytest.mark.long
@pytest.mark.parametrize("stays", [True, False])
def test_on_a_terminal_the_page_stays_after_the_cook_until_ctrl_c(tmp_path: Path, stays: bool) -> None:
    folder, port = tmp_path / "cooks", free_port()
    ours, theirs = pty.openpty()
    words = ["demo", "--speed", "600", "--recordings", str(folder), "--port", str(port), *([] if stays else ["--end"])]
    demo = subprocess.Popen([sys.executable, "-m", "monitor.cli", *words], stdin=theirs, stdout=theirs, stderr=theirs)
    os.close(theirs)
    said = ""

    def read_until_said(words: str) -> None:
        nonlocal said
        while words not in said:
            assert select.select([ours], [], [], 4 * WAIT_S)[0], f"it only said {said}"
            said += os.read(ours, 4096).decode(errors="replace")

    try:
        read_until_said("The invented cook is finished")
        if not stays:
            assert demo.wait(WAIT_S) == 0
            return
        (recording,) = folder.glob("*.cook")
        read_until_said(f"/cooks/{recording.stem}")
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/healthz", timeout=WAIT_S) as answer:
            assert answer.read() == b"alive\n"
        demo.send_signal(signal.SIGINT)
        read_until_said("The page has closed")
        assert demo.wait(WAIT_S) == 0
    finally:
        demo.kill()
        demo.wait()
        os.close(ours)


@pytest.mark.long
def test_a_killed_demo_whose_folder_was_deleted_can_be_started_again(tmp_path: Path) -> None:
    demo = ("demo", "--recordings", str(tmp_path / "demo"), "--port", str(free_port()), "--speed", "60")
    with command(*demo) as process:
        read_until(process, "Records into")
        for child in children_of(process.pid):
            os.kill(child, signal.SIGKILL)
    shutil.rmtree(tmp_path / "demo")
    with command(*demo) as process:
        read_until(process, "Records into")
