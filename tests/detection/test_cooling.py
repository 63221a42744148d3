"""The one detector of falls: its causes are never revised, and alarm, suggestion and time loss agree."""

from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.detection.cause_text import CAUSE_TEXT
from monitor.detection.cooling import Cause, cause_at, falls
from monitor.detection.suggestions import Suggestion, suggested_events
from monitor.model import History, cut
from tests.alarms.pots import START, paste_of
from tests.bench.noticed_rates import without_wall
from tests.bench.unlogged_falls import Heard, Said, heard, table
from tests.detection.test_suggestions import pot

# Not those on which the limits were set.
FALLS = tuple(range(61_000, 61_006))


@cache
def said() -> tuple[Heard, ...]:
    return tuple(heard((seed, two_probes)) for seed in FALLS for two_probes in (False, True))


def test_alarm_suggestion_and_time_loss_name_the_same_cause() -> None:
    assert [one.name for one in said() if one.contradicts] == []
    # All was said of what lasts, and with two probes it was right.
    long = [one for one in said() if one.trouble.ends_s - one.trouble.begins_s > 720.0]
    assert len(long) >= 6
    assert all(one.alarm and one.offer and one.ledger for one in long)
    assert all(one.outcome(one.ledger) is Said.RIGHT for one in said() if one.two_probes)
    assert len(table(said())) == 8


@pytest.mark.parametrize("probes", [1, 2])
@pytest.mark.parametrize("fall", ["lid", "heat"])
def test_a_named_cause_is_never_revised(fall: str, probes: int) -> None:
    history = pot(fall) if probes == 2 else without_wall(pot(fall))
    told: list[Cause] = []
    begins: set[float] = set()
    for now in np.arange(START + 6000.0, history.as_of, 60.0).tolist():
        found = falls(cut(history, now))
        # The same by a history that knows more, asked about that moment.
        assert found == falls(history, now)
        told += [one.cause for one in found if one.cause not in told[-1:]]
        begins |= {one.begins for one in found}
    assert len(begins) == 1
    assert told[-1] is (Cause.LID_OPEN if fall == "lid" else Cause.HEAT_LOST)
    assert told in ([told[-1]], [Cause.EITHER, told[-1]])
    assert cause_at(falls(history), START + 6900.0) is told[-1]
    assert cause_at(falls(history), START + 3000.0) is Cause.EITHER


def test_a_calm_cook_has_no_falls() -> None:
    assert falls(pot("")) == ()


def test_each_cause_has_its_own_text() -> None:
    for name in ("alarm", "ongoing", "loss", "not_logged"):
        assert len({getattr(words, name) for words in CAUSE_TEXT.values()}) == len(Cause)
    either, lid, heat = (CAUSE_TEXT[cause] for cause in (Cause.EITHER, Cause.LID_OPEN, Cause.HEAT_LOST))
    for own in ("ongoing", "past", "loss"):
        assert getattr(either, own) == f"{getattr(lid, own)} or {getattr(heat, own)}"


def test_an_undecided_fall_is_logged_as_the_person_says() -> None:
    one = Suggestion(CAUSE_TEXT[Cause.EITHER].past, 5.0, 1.0, 9.0)
    assert one.answers == ("lid off", "power cut")
    assert [entry.kind for entry in suggested_events(one, "power cut")] == ["heat off", "heat"]
    assert [entry.kind for entry in suggested_events(one, "lid off")] == ["lid off", "lid on"]
    assert Suggestion(CAUSE_TEXT[Cause.EITHER].ongoing, 5.0, 1.0).answers == ("lid off", "heat off")


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.sampled_from([float("nan"), -300.0, 0.0, 60.0, 80.0, 94.0, 95.5, 1024.0]), max_size=150),
    st.sampled_from([1.0, 30.0, 90.0, 900.0]),
)
def test_any_readings_are_searched_without_an_exception(values: list[float], every_s: float) -> None:
    if values:
        at = START + every_s * np.arange(len(values), dtype=np.float64)
        falls(paste_of(at, np.array(values)))


def test_a_reading_of_another_century_does_not_stretch_the_grid() -> None:
    at = np.array([*(START + 10.0 * np.arange(600.0)), START + 2.4e9])
    history = paste_of(at, np.full(len(at), 94.0))
    assert falls(History(START, START + 6000.0, history.series, history.logged)) == ()
    assert falls(history) == ()
