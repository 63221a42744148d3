"""Wrong units and names at 103 degC: understood, or refused aloud with what arrives instead and what would do."""

import select
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from monitor.storage import load, recordings
from tests.logger.running import KETTLESIDE, PATIENCE_S, Logger
from tests.logger.wrong_rigs import (
    BARE,
    NEAR_BOIL,
    NO_PASTE,
    REFUSED,
    RIGHT,
    UNDERSTOOD,
    WrongRig,
    by_broker,
    by_cable,
)
from tests.sources.mosquitto import Mosquitto
from tests.sources.polling import CLOCK, Terminal

# A page looks every five seconds.
LOOK_S = 10.0
WORDS = {
    "paste without a unit": "The paste arrives without a unit, 103",
    "paste in foo": "The paste arrives in foo, 103",
    "paste in mV": "The paste arrives in mV: tell its thermocouple's type",
    "temp1 in C": "temp1 in C (103 °C) and wall in Cel (108 °C) arrive: if temp1 is the paste, it is near boiling over: "
    "turn the heat down, and start again with --as temp1=paste.",
    "temp1 without a unit": "temp1 without a unit (103",
}


@pytest.fixture(scope="module")
def right_s() -> float:
    """After how many seconds a right rig is told of."""
    told = by_cable(RIGHT)
    assert told.name == NEAR_BOIL
    return told.after_s


@pytest.mark.parametrize("rig", [*UNDERSTOOD, BARE], ids=lambda rig: rig.name)
def test_understood_names_raise_alarms_as_soon_as_a_right_rig(rig: WrongRig, right_s: float) -> None:
    told = by_cable(rig)
    assert told.name == NEAR_BOIL and abs(told.after_s - right_s) < 60.0
    assert NO_PASTE not in told.standing and "103 °C" in told.words


@pytest.mark.parametrize("rig", REFUSED, ids=lambda rig: rig.name)
def test_names_not_understood_raise_one_alarm_within_two_minutes(rig: WrongRig) -> None:
    told = by_cable(rig)
    assert told.name == NO_PASTE and rig.alarm_s <= told.after_s <= rig.alarm_s + LOOK_S
    assert told.standing == (NO_PASTE,)
    assert WORDS[rig.name] in told.words


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Mosquitto]:
    made = Mosquitto(tmp_path).start()
    yield made
    made.stop()


@pytest.mark.broker
@pytest.mark.parametrize("rig", [RIGHT, *UNDERSTOOD, *REFUSED], ids=lambda rig: rig.name)
def test_wrong_names_over_a_real_broker_raise_the_same_alarms(rig: WrongRig, broker: Mosquitto) -> None:
    told = by_broker(rig, broker)
    if rig in REFUSED:
        assert told.name == NO_PASTE and rig.alarm_s <= told.after_s <= rig.alarm_s + LOOK_S
    else:
        assert told.name == NEAR_BOIL and told.after_s < 60.0


def test_the_real_command_records_the_new_name_and_resumes_with_it(tmp_path: Path) -> None:
    terminal = Terminal()

    def until_recorded(logger: Logger, sent: bytes, count: int) -> None:
        end_s = CLOCK.real_s() + PATIENCE_S
        while len(load_paste(tmp_path)) < count:
            assert CLOCK.real_s() < end_s and logger.process.poll() is None
            terminal.send(sent)
            select.select([], [], [], 0.05)

    # Sent without a unit at first, and in one when the rig has been set right.
    for sent in (b'[{"n":"Temp1","v":203}]\n', b'[{"n":"Temp1","u":"K","v":203}]\n'):
        before = len(load_paste(tmp_path))
        logger = Logger(tmp_path, f"serial://{terminal.path}", "--as", "temp1=paste:degF")
        until_recorded(logger, sent, before + 3)
        logger.stop()
        assert b"temp1 is recorded as paste in degF." in logger.said
    terminal.close()
    (path,) = recordings(tmp_path)
    assert set(load_paste(tmp_path)) == {95.0}
    assert list(load(path).series) == ["paste"]


def load_paste(folder: Path) -> list[float]:
    """The paste's temperatures of the cooks in a folder."""
    found = [load(path).temperature_c("paste")[1].round(6).tolist() for path in recordings(folder)]
    return [value for values in found for value in values]


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("--columns", "paste:foo"), "paste comes in °C, °F, K"),
        (("--as", "temp1"), "such as temp1=paste"),
        (("--as", "temp1=paste:foo"), "paste comes in °C, °F, K"),
    ],
)
@pytest.mark.parametrize("command", ["log", "start"])
def test_a_wrong_unit_on_the_command_line_is_reported_in_one_sentence(
    command: str, words: tuple[str, str], why: str, tmp_path: Path
) -> None:
    done = subprocess.run(
        [*KETTLESIDE, command, "--source", "serial:///dev/nowhere", "--recordings", str(tmp_path), *words],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 2 and why in done.stderr and "Traceback" not in done.stderr
    assert list(tmp_path.iterdir()) == []
