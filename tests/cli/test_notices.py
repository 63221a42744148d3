"""Notices: each due thing is told once, on the terminal and to the broker."""

from dataclasses import replace
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from monitor.clock import Anchor, JumpClock
from monitor.notices import CHECK, NEW_AFTER_S, STIR, Notice, Teller, due_notices, still_told
from monitor.progress.outlook import Condition, Outlook
from monitor.recording import Recorder, log_event
from monitor.records import make_event
from monitor.view import Shelf
from monitor.wire import parse_pack

START = 1_773_480_000.0
OUTLOOK = Outlook(
    START,
    60.0,
    94.0,
    50.0,
    (0.1, 0.2, 0.3),
    (None, None, None),
    0.0,
    None,
    None,
    {"stir": "Stir now.", "check": "Take a sample."},
)
COLD = Condition("paste cold", "unacknowledged", START, "The paste is cold.")


def test_nothing_is_due() -> None:
    assert due_notices(OUTLOOK, frozenset()) == []


def test_what_is_due_is_told_with_its_reason() -> None:
    due = replace(OUTLOOK, stir_due=START - 1, check_due=START + 60, conditions=(COLD,))
    assert due_notices(due, frozenset()) == [
        Notice(STIR, "Stir now.", START),
        Notice("paste cold", "The paste is cold.", START),
    ]
    assert due_notices(due, {STIR, "paste cold"}) == []


def test_a_due_time_that_wanders_is_not_told_anew() -> None:
    told = frozenset({CHECK, "paste cold"})
    assert still_told(replace(OUTLOOK, check_due=START + NEW_AFTER_S - 1), told) == {CHECK}
    assert still_told(replace(OUTLOOK, check_due=START + NEW_AFTER_S + 1), told) == frozenset()
    assert still_told(replace(OUTLOOK, check_due=None, conditions=(COLD,)), told) == {"paste cold"}


moments = st.none() | st.floats(START - 500, START + 500)


@given(st.lists(st.tuples(moments, moments, st.booleans()), max_size=30))
def test_nothing_is_told_twice_while_it_stands(steps: list[tuple[float | None, float | None, bool]]) -> None:
    told: frozenset[str] = frozenset()
    standing: set[str] = set()
    for stir, check, cold in steps:
        outlook = replace(OUTLOOK, stir_due=stir, check_due=check, conditions=(COLD,) if cold else ())
        told = still_told(outlook, told)
        notices = due_notices(outlook, told)
        names = {notice.name for notice in notices}
        now = {STIR} if stir is not None and stir <= START else set()
        now |= {CHECK} if check is not None and check <= START else set()
        now |= {COLD.name} if cold else set()
        assert names <= now and not names & (standing & now)
        assert now <= told | names
        told |= names
        standing = now


class Post:
    """Keeps what is published."""

    def __init__(self) -> None:
        self.sent: list[tuple[str, str, bool]] = []

    def tend(self) -> None:
        """Has nothing to tend."""

    def publish(self, topic: str, payload: str, *, retained: bool = False) -> None:
        """Keeps it."""
        self.sent.append((topic, payload, retained))

    def close(self) -> None:
        """Has nothing to close."""


def test_a_real_cook_that_fell_silent_is_told_once_and_its_outlook_taken_away_at_the_end(tmp_path: Path) -> None:
    recorder = Recorder.create(tmp_path, Anchor(START, START, "", 0.0), rig="cooker", source="test:")
    recorder.add_event(make_event("lid", "lid on", START, START))
    for second in range(10):
        recorder.add_pack(parse_pack('[{"n":"paste","u":"Cel","v":94.0}]', START + second))
    recorder.commit()
    clock, lines, post = JumpClock(START + 10), list[str](), Post()
    teller = Teller(Shelf(tmp_path, lambda _: clock), "cooker", clock, lines.append, post)
    for _ in range(100):
        assert teller.look()
        clock.wait_until(clock.now() + 60.0)
    assert sum("no data" in line for line in lines) == 1
    assert sum("stir due" in line for line in lines) == 1
    notices = [payload for topic, payload, retained in post.sent if topic.endswith("/notice") and not retained]
    assert len(notices) == len(lines)
    outlooks = [payload for topic, payload, retained in post.sent if topic == "kettleside/cooker/outlook" and retained]
    assert len(outlooks) > 50
    log_event(recorder.path, make_event("end", "finished", clock.now(), clock.now()))
    recorder.close()
    assert not teller.look()
    assert not teller.look()
    assert [payload for _, payload, _ in post.sent].count("") == 1
