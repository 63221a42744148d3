"""Which cookers a command line means, and two of them cooking at once through real terminals."""

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.logger import RigConfig, rig_configs, shares_cook
from monitor.runtime import MonitorError
from monitor.storage import load, read_header, recordings
from tests.cli.processes import PATIENCE_S, children_of, until
from tests.sources.mosquitto import free_port
from tests.sources.polling import Terminal, line

ROOT = Path(__file__).resolve().parents[2]


def test_one_cooker_needs_no_name() -> None:
    url = "serial:///dev/ttyUSB0?baud=9600"
    assert rig_configs([url], ["left=right.toml"]) == (RigConfig("cooker", url, Path("left=right.toml")),)


def test_a_cookers_name_comes_from_its_prefix_or_topic() -> None:
    found = rig_configs(["left=serial:///dev/a?baud=9600", "mqtt://host/kitchen/right pot/readings"])
    assert [cooker.name for cooker in found] == ["left", "right pot"]
    assert found[0].source == "serial:///dev/a?baud=9600"


def test_sheets_and_columns_are_matched_to_their_cooker() -> None:
    found = rig_configs(
        ["left=serial:///dev/a", "right=serial:///dev/b"], ["right=b.toml", "left=a=1.toml"], ["left=paste:Cel"]
    )
    assert [cooker.batch for cooker in found] == [Path("a=1.toml"), Path("b.toml")]
    assert [cooker.columns for cooker in found] == ["paste:Cel", None]


def test_renamings_are_matched_to_their_cooker() -> None:
    two = ["left=serial:///dev/a", "right=serial:///dev/b"]
    found = rig_configs(two, renamings=["left=temp1=paste", "left=temp2=wall:degF", "right=probe=paste"])
    assert [cooker.renamings for cooker in found] == [("temp1=paste", "temp2=wall:degF"), ("probe=paste",)]
    assert rig_configs(["serial:///dev/a"], renamings=["temp1=paste"])[0].renamings == ("temp1=paste",)
    with pytest.raises(MonitorError, match="say whose it is, such as --as left=temp1=paste"):
        rig_configs(two, renamings=["temp1=paste"])


@pytest.mark.parametrize(
    ("sources", "batches", "why"),
    [
        (["serial:///dev/a", "serial:///dev/b"], [], "2 sources need their cookers' names"),
        (["cooker=serial:///dev/a", "serial:///dev/b"], [], "the same name in front of those that belong to one"),
        (["a=serial:///dev/a", "b=serial:///dev/a"], [], "The same source cannot be named twice"),
        (["a=serial:///dev/a", "a=serial:///dev/a"], [], "The same source cannot be named twice"),
        (["a=serial:///dev/a", "A=serial:///dev/b"], [], "only in capitals"),
        (["a=serial:///dev/a", "b=serial:///dev/b"], ["x.toml"], "say whose it is, such as --batch a=x.toml"),
        (["a=serial:///dev/a", "b=serial:///dev/b"], ["a=x.toml", "a=y.toml"], "twice for the cooker a"),
        (["a=nonsense"], [], "it lacks its scheme"),
    ],
)
def test_ambiguous_cookers_are_refused(sources: list[str], batches: list[str], why: str) -> None:
    with pytest.raises(MonitorError, match=why) as refused:
        for cooker in rig_configs(sources, batches):
            shares_cook(cooker.source)
    assert refused.value.exit_status == 2


@given(st.lists(st.text(max_size=30), min_size=1, max_size=4), st.lists(st.text(max_size=20), max_size=3))
def test_any_text_gives_cookers_or_a_one_sentence_error(sources: list[str], batches: list[str]) -> None:
    try:
        found = rig_configs(sources, batches)
    except MonitorError as error:
        assert str(error).endswith(".")
    else:
        assert sum(len(cooker.sources) for cooker in found) == len(sources)


def test_sources_with_the_same_name_belong_to_one_cooker() -> None:
    texts = ["left=serial:///dev/a", "right=rig:", "left=mqtt://host/kitchen/wall?channel=wall:Cel"]
    left, right = rig_configs(texts)
    assert left.sources == ("serial:///dev/a", "mqtt://host/kitchen/wall?channel=wall:Cel")
    assert right.sources == ("rig:",)


def test_two_cookers_have_separate_cooks_and_killing_one_does_not_affect_the_other(tmp_path: Path) -> None:
    terminals = {"left": Terminal(), "right": Terminal()}
    sheet = tmp_path / "sheet.toml"
    sheet.write_text(
        'title = "Right soap"\n[[oil]]\nname = "olive"\ngrams = 500\n[alkali]\nkind = "KOH"\n[water]\ngrams = 300\n'
    )
    folder, number = tmp_path / "cooks", 0
    command = [sys.executable, "-m", "monitor.cli", "start", "--recordings", str(folder), "--batch", f"right={sheet}"]
    command += ["--host", "127.0.0.1", "--port", str(free_port())]
    for name, terminal in terminals.items():
        command += ["--source", f"{name}=serial://{terminal.path}"]
    with (tmp_path / "output").open("w+") as output:
        supervisor = subprocess.Popen(command, stdout=output, stderr=output, cwd=ROOT)

        def counts() -> dict[str, int]:
            nonlocal number
            number += 1
            terminals["left"].send(line(60.0, number))
            terminals["right"].send(line(80.0, number))
            return {read_header(path).rig: len(load(path).series.get("paste", ())) for path in recordings(folder)}

        try:
            until(lambda: all(counts().get(name, 0) >= 2 for name in terminals))
            # A logger each, one page, one teller of notices.
            assert len(children_of(supervisor.pid)) == 4
            loggers = [
                pid for pid in children_of(supervisor.pid) if b"\0log\0" in Path(f"/proc/{pid}/cmdline").read_bytes()
            ]
            os.kill(loggers[0], signal.SIGKILL)
            so_far = counts()
            until(lambda: all(counts()[name] > so_far[name] + 2 for name in terminals))
        finally:
            supervisor.send_signal(signal.SIGINT)
            status = supervisor.wait(PATIENCE_S)
            for terminal in terminals.values():
                terminal.close()
        output.seek(0)
        words = output.read()
    assert status == 130 and "Traceback" not in words
    assert "The logger of left was ended by signal 9" in words and "logger of right: Records into" in words
    cooks = {read_header(path).rig: load(path) for path in recordings(folder)}
    assert {name: set(cook.temperature_c("paste")[1]) for name, cook in cooks.items()} == {
        "left": {60.0},
        "right": {80.0},
    }
    assert cooks["left"].batch is None and cooks["right"].batch is not None
    assert [sum(event.kind == "resumed" for event in cooks[name].events) for name in ("left", "right")] == [1, 0]


def test_a_topic_filter_for_every_rig_is_warned_of(tmp_path: Path) -> None:
    assert shares_cook("mqtt://host/kettleside/#") and not shares_cook("serial://auto")
    command = [
        sys.executable,
        "-m",
        "monitor.cli",
        "start",
        "--source",
        f"mqtt://127.0.0.1:{free_port()}/kettleside/+/readings",
    ]
    command += ["--recordings", str(tmp_path), "--host", "127.0.0.1", "--port", str(free_port())]
    supervisor = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, cwd=ROOT)
    assert supervisor.stderr is not None
    output = supervisor.stderr.readline()
    supervisor.send_signal(signal.SIGINT)
    supervisor.communicate(timeout=PATIENCE_S)
    assert b"takes in every rig" in output and b"give each its own --source" in output
