"""Wrong units and names at 103 degC: understood, or refused aloud with what arrives instead and what would do."""

from collections.abc import Iterator
from pathlib import Path

import pytest

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

# A cook has run for two minutes, and the page looks every five seconds.
ALARM_S = (120.0, 130.0)
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
def test_what_is_understood_is_told_of_as_a_right_rig_is(rig: WrongRig, right_s: float) -> None:
    told = by_cable(rig)
    assert told.name == NEAR_BOIL and abs(told.after_s - right_s) < 60.0
    assert NO_PASTE not in told.standing and "103 °C" in told.words


@pytest.mark.parametrize("rig", REFUSED, ids=lambda rig: rig.name)
def test_what_is_not_understood_has_one_alarm_after_two_minutes(rig: WrongRig) -> None:
    told = by_cable(rig)
    assert told.name == NO_PASTE and ALARM_S[0] <= told.after_s <= ALARM_S[1]
    assert told.standing == (NO_PASTE,)
    assert WORDS[rig.name] in told.words


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Mosquitto]:
    made = Mosquitto(tmp_path).start()
    yield made
    made.stop()


@pytest.mark.broker
@pytest.mark.parametrize("rig", [RIGHT, *UNDERSTOOD, *REFUSED], ids=lambda rig: rig.name)
def test_over_a_real_broker_it_is_the_same(rig: WrongRig, broker: Mosquitto) -> None:
    told = by_broker(rig, broker)
    if rig in REFUSED:
        assert told.name == NO_PASTE and ALARM_S[0] <= told.after_s <= ALARM_S[1]
    else:
        assert told.name == NEAR_BOIL and told.after_s < 60.0
