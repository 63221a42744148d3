"""Every command in the manual is run, in the order of its page, in a folder as a reader would have it.

A block of commands that is not run says why in a remark above it: ``<!-- not run: why -->``. One that needs a broker
says ``<!-- run with a broker -->``; it is listened to for a second. What stands within sentences is held to the
commands and options that there are.
"""

import argparse
import re
import shlex
import shutil
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from importlib import import_module
from pathlib import Path

import paho.mqtt.publish
import pytest

from dashboard.components.manual_text import page_names, page_text
from monitor.cli import COMMANDS, main
from monitor.runtime import SystemClock
from tests.dashboard.seeded import Maker
from tests.sources.mosquitto import Mosquitto

ROOT = Path(__file__).resolve().parents[2]
BLOCK = re.compile(r"(?:<!-- (.+?) -->\n)?```sh\n(.*?)```", re.DOTALL)
WITH_BROKER, NOT_RUN = "run with a broker", "not run: "
# How many blocks may stay without being run; each has its reason.
MOST_NOT_RUN = 6


def blocks(remark: str | None) -> Iterator[tuple[str, str]]:
    """(page, commands) of the blocks with this remark above them, or with none."""
    for name in page_names():
        for above, commands in BLOCK.findall(page_text(name)):
            if above == (remark or ""):
                yield name, commands


# The page whose own command keeps the sheet that other pages go on with.
KEEPS_THE_SHEET = "planning"
RUN = [name for name in page_names() if any(page == name for page, _ in blocks(None))]


@pytest.fixture
def kitchen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A reader's folder: the invented cooks, a kept sheet, a filled shelf, and a cook that runs."""
    recordings = tmp_path / "recordings"
    recordings.mkdir()
    for cook in (ROOT / "recordings").glob("*.cook"):
        shutil.copy(cook, recordings)
    monkeypatch.chdir(tmp_path)
    maker = Maker(recordings, SystemClock(), hours=1.0)
    maker.recorder.close()
    yield tmp_path


def lines(commands: str) -> list[list[str]]:
    """The words of each command; a date stands for one of the weeks ahead."""
    ahead = f"{datetime.now(UTC) + timedelta(days=40):%Y-%m-%d}"
    return [shlex.split(re.sub(r"\b20\d\d-\d\d-\d\d\b", ahead, line)) for line in commands.splitlines() if line]


@pytest.mark.parametrize("name", RUN)
def test_the_commands_of_a_page_do_what_they_say(kitchen: Path, name: str, capsys: pytest.CaptureFixture[str]) -> None:
    if name != KEEPS_THE_SHEET:
        main(["plan", "batch", "--oil", "olive=700", "--oil", "coconut=300", "--title", "Hand soap", "--keep"])
        # What the running cook was made of.
        main(["stock", "add", "oil", "rapeseed", "2000"])
        capsys.readouterr()
    for page, commands in blocks(None):
        for words in lines(commands) if page == name else []:
            assert words[0] == "kettleside"
            status = main(words[1:])
            out, err = capsys.readouterr()
            assert (status, err) == (0, ""), f"{shlex.join(words)}: {err}"
            assert out.strip(), shlex.join(words)


@pytest.mark.broker
def test_the_commands_that_listen_to_a_broker_find_what_it_sends(
    kitchen: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broker = Mosquitto(tmp_path).start()
    try:
        paho.mqtt.publish.single("pot/temp", "93.5", retain=True, hostname="127.0.0.1", port=broker.port)
        found = [words for _, commands in blocks(WITH_BROKER) for words in lines(commands)]
        assert found
        for words in found:
            safe = [word.replace("mqtt://broker", f"mqtt://127.0.0.1:{broker.port}") for word in words]
            main([*safe[1:], "--seconds", "1"])
            assert "pot/temp" in capsys.readouterr().out
    finally:
        broker.stop()


def test_every_block_is_run_or_says_why_not_and_these_are_few() -> None:
    remarks = [above for name in page_names() for above, _ in BLOCK.findall(page_text(name))]
    assert all(above in ("", WITH_BROKER) or len(above) > len(NOT_RUN) + 10 for above in remarks)
    assert sum(above.startswith(NOT_RUN) for above in remarks) <= MOST_NOT_RUN
    assert len(RUN) >= 5


def options_of(command: str) -> set[str]:
    """Every option of a command and its subcommands."""
    parser = argparse.ArgumentParser()
    import_module(f"monitor.cli.{COMMANDS[command][0]}").add_arguments(parser)
    found, parsers = {"--help"}, [parser]
    for one in parsers:
        for action in one._actions:
            found.update(action.option_strings)
            if isinstance(action, argparse._SubParsersAction):
                parsers += action.choices.values()
    return found


@pytest.mark.parametrize("name", page_names())
def test_commands_within_sentences_are_some_with_options_that_there_are(name: str) -> None:
    for code in re.findall(r"`(kettleside [^`]+)`|^(kettleside .+)$", page_text(name), re.MULTILINE):
        words = (code[0] or code[1]).split()
        if words[1] == "COMMAND" or words[1].startswith("--"):
            continue
        assert words[1] in COMMANDS, code
        asked = {option.strip("[]").partition("=")[0] for option in words[2:] if option.strip("[").startswith("--")}
        assert asked <= options_of(words[1]), code
