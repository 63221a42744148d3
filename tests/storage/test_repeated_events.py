"""An entry that arrives twice is one entry."""

from pathlib import Path

import pytest

from monitor.runtime import Anchor, Clock
from monitor.runtime.clock import JumpClock
from monitor.session import Cook
from monitor.storage.writer import Recorder

UID = "7f0c9a52-1f7e-4d57-9d5e-0c7c2f1d3a11"


@pytest.fixture
def cook(tmp_path: Path) -> Cook:
    clock = JumpClock()
    Recorder.create(tmp_path, clock.anchor(), rig="cooker", source="rig:").close()

    def clock_for(_tie: Anchor) -> Clock:
        return clock

    return Cook(next(tmp_path.glob("*.cook")), clock_for)


def test_the_same_id_is_logged_once_and_answers_as_the_first_time(cook: Cook) -> None:
    first = cook.log_event("stirred", uid=UID)
    again = cook.log_event("stirred", first.measured - 60.0, uid=UID)
    assert again == first
    assert [event.uid for event in cook.history().events] == [UID]


def test_an_entry_that_was_taken_back_is_not_logged_by_a_late_second_try(cook: Cook) -> None:
    cook.log_event("stirred", uid=UID)
    cook.take_back(UID)
    assert cook.log_event("stirred", uid=UID).uid == UID
    assert cook.history().events_of("stirred") == []


def test_two_ids_are_two_entries(cook: Cook) -> None:
    cook.log_event("stirred", uid="entry-one")
    cook.log_event("stirred", uid="entry-two")
    assert len(cook.history().events_of("stirred")) == 2


@pytest.mark.parametrize("uid", ["", "short", "-starts-with-a-hyphen", "x" * 65, "with space in it", "new\nline-here"])
def test_an_id_that_nobody_would_make_is_refused(cook: Cook, uid: str) -> None:
    with pytest.raises(ValueError, match="id is"):
        cook.log_event("stirred", uid=uid)
