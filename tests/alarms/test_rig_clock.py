"""The alarm for a rig's wrong clock, from what the logger noted."""

from dataclasses import replace

import pytest

from monitor.alarms.active import active_alarms
from monitor.model import Event, History, cut, make_event
from tests.alarms.pots import START, answered, paste_of, steady

NAME = "rig clock wrong"


def noted(at_s: float, ahead_s: float, own_ahead_s: float = 0.0, **fields: object) -> Event:
    """What the logger noted so many seconds after ``START``."""
    at = START + at_s
    told = {"ahead_s": ahead_s, "own_ahead_s": own_ahead_s, **fields}
    return make_event(f"rig-clock-{at_s}", "rig clock", at, at, told, by_logger=True)


def cook(*events: Event) -> History:
    return paste_of(*steady(3600.0), *events)


def stands(history: History, at_s: float) -> dict[str, tuple[str, str]]:
    return {one.name: (one.state, one.words) for one in active_alarms(history, START + at_s) if one.name == NAME}


@pytest.mark.parametrize(
    ("ahead_s", "words"),
    [(7200.0, "2 h ahead"), (-900.0, "15 min behind"), (-8.64e6, "100 days behind"), (90.0, "90 s ahead")],
)
def test_it_says_by_how_much_and_which_way(ahead_s: float, words: str) -> None:
    history = cook(noted(60.0, ahead_s))
    assert stands(history, 59.0) == {}
    state, said = stands(history, 300.0)[NAME]
    assert state == "unacknowledged" and words in said and "set" in said


def test_it_ends_when_the_rig_is_right_again_and_replays_as_it_was() -> None:
    history = cook(noted(60.0, 7200.0), noted(600.0, 0.0))
    assert stands(history, 700.0)[NAME][0] == "returned unacknowledged"
    assert "2 h ahead" in stands(history, 700.0)[NAME][1]
    assert stands(cut(history, START + 500.0), 500.0)[NAME][0] == "unacknowledged"
    seen = answered(history, "acknowledged", 100.0, condition=NAME)
    assert stands(seen, 300.0)[NAME][0] == "acknowledged" and stands(seen, 700.0) == {}


@pytest.mark.parametrize(
    "event",
    [
        # Half a minute is taken off and disturbs nobody.
        noted(60.0, 30.0),
        # A counter has no clock that could be set.
        noted(60.0, -1.77e9, counts="from its start"),
        # This machine's own clock was a year behind, and has been set.
        noted(60.0, 3.15e7, 3.15e7 + 4.0),
    ],
)
def test_what_nobody_can_mend_at_the_rig_is_not_told(event: Event) -> None:
    assert stands(cook(event), 300.0) == {}


def test_an_event_of_another_program_is_no_error() -> None:
    odd = replace(noted(60.0, 7200.0), fields={"ahead_s": "much"})
    assert stands(cook(odd), 300.0) == {}
