"""The repeat schedule: when each notice goes out, and goes out again."""

import math
from dataclasses import replace
from datetime import UTC, datetime, time
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.estimation import Estimate
from monitor.model import CHECK, STIR, Alarm, Priority, is_name, make_event
from monitor.model.alarm_priority import priority_of
from monitor.notifications.pending import PendingNotification, pending_notifications
from monitor.notifications.quiet_hours import QuietHours
from monitor.notifications.repeat import SAME_WITHIN_S, NotificationState, due_notices
from monitor.session import Outlook
from monitor.session.outlook import with_alarms

START = 1_773_480_000.0
ESTIMATE = Estimate(
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
COLD = Alarm("paste cold", "unacknowledged", START, "The paste is cold.")
OVERDUE = Alarm("stir overdue", "unacknowledged", START, "Nobody has stirred.")
STIR_NOW = PendingNotification(STIR, "Stir now.")


def outlook(*alarms: Alarm, **dues: float) -> Outlook:
    """The outlook with these due times and alarms."""
    return with_alarms(replace(ESTIMATE, **dues), alarms)  # type: ignore[arg-type]


def always(_name: str) -> bool:
    return True


def never(_name: str) -> bool:
    return False


def notices_at(
    pending_at: dict[float, list[PendingNotification]], until: float, every: float = 10.0
) -> list[tuple[float, str, int]]:
    """Time, name and count of the notices of a night; pending_at: what is pending from each moment on, s."""
    states: dict[str, NotificationState] = {}
    found, pending, now = [], list[PendingNotification](), 0.0
    while now <= until:
        pending = pending_at.get(now, pending)
        states, notices = due_notices(states, pending, START + now, always, (300.0, 600.0, 1200.0))
        found += [(now, notice.name, notice.count) for notice in notices]
        now += every
    return found


def test_nothing_is_pending() -> None:
    assert pending_notifications(outlook(), ()) == ()


def test_what_is_due_is_pending_with_its_reason() -> None:
    due = outlook(COLD, stir_due=START - 1, check_due=START + 60)
    assert pending_notifications(due, ()) == (PendingNotification("paste cold", "The paste is cold."), STIR_NOW)


def test_dangers_go_before_what_is_due_and_that_before_the_rest() -> None:
    names = ["wall probe open", "stir overdue", "paste cold", "lid left off", "no paste data", "near boil-over"]
    wrong = tuple(Alarm(name, "unacknowledged", START, f"It is {name}.") for name in names)
    found = pending_notifications(outlook(*wrong, check_due=START), ())
    assert [one.name for one in found] == [
        "near boil-over",
        "no paste data",
        "paste cold",
        CHECK,
        "stir overdue",
        "wall probe open",
        "lid left off",
    ]
    assert [priority_of(one.name) for one in found] == [Priority.DANGER] * 3 + [Priority.DUE] * 2 + [
        Priority.ADVICE
    ] * 2


def test_what_waits_does_not_go_out_until_it_is_released_and_then_at_once() -> None:
    waiting = [
        PendingNotification("paste cold", "It is cold."),
        PendingNotification(STIR, "It waits.", seen=True, waits=True),
    ]
    # However soon it ends, and however often it went out before.
    notices = notices_at({0.0: [STIR_NOW], 400.0: waiting, 460.0: [STIR_NOW]}, 500.0)
    assert notices == [(0.0, STIR, 1), (300.0, STIR, 2), (400.0, "paste cold", 1), (460.0, STIR, 1)]


def test_overdue_says_what_due_says_until_due_was_dismissed() -> None:
    due = outlook(OVERDUE, stir_due=START - 60)
    assert [one.seen for one in pending_notifications(due, ())] == [False, True]
    answer = make_event("a", "acknowledged", START - 30, START - 30, {"condition": STIR})
    assert [one.seen for one in pending_notifications(due, [answer])] == [True, False]


def test_an_answer_to_the_stir_before_is_none_to_this_one() -> None:
    due = outlook(stir_due=START - 60)
    answer = make_event("a", "acknowledged", START - 2100, START - 2100, {"condition": STIR})
    assert [one.seen for one in pending_notifications(due, [answer])] == [False]


def test_the_gaps_grow_and_the_last_recurs() -> None:
    notices = notices_at({0.0: [STIR_NOW]}, 5000.0)
    assert [at for at, _, _ in notices] == [0.0, 300.0, 900.0, 2100.0, 3300.0, 4500.0]
    assert [times for _, _, times in notices] == [1, 2, 3, 4, 5, 6]


def test_an_answer_ends_it_and_the_next_stir_begins_anew() -> None:
    notices = notices_at({0.0: [STIR_NOW], 400.0: [], 2500.0: [STIR_NOW]}, 2700.0)
    assert notices == [(0.0, STIR, 1), (300.0, STIR, 2), (2500.0, STIR, 1)]
    dismissed = {0.0: [STIR_NOW], 100.0: [PendingNotification(STIR, "Stir now.", seen=True)]}
    assert notices_at(dismissed, 5000.0) == [(0.0, STIR, 1)]


def test_what_flickers_keeps_its_gaps() -> None:
    flicker = {float(at): [STIR_NOW] if at // 60 % 2 == 0 else [] for at in range(0, 3000, 60)}
    assert [at for at, _, _ in notices_at(flicker, 3000.0)] == [0.0, 360.0, 960.0, 2160.0]


@given(st.lists(st.tuples(st.floats(1, 2000), st.booleans(), st.booleans(), st.booleans()), max_size=60))
def test_no_two_notices_of_one_name_are_nearer_than_the_gap(steps: list[tuple[float, bool, bool, bool]]) -> None:
    states: dict[str, NotificationState] = {}
    now, last = START, -math.inf
    for later, active, seen, allowed in steps:
        now += later
        may_notify = always if allowed else never
        states, notices = due_notices(states, [PendingNotification(STIR, "", seen)] if active else [], now, may_notify)
        assert len(notices) <= 1
        for notice in notices:
            assert active and allowed and not seen
            # One that begins anew had been gone for longer than what counts as the same.
            assert now - last >= (SAME_WITHIN_S if notice.count == 1 else 300.0)
            last = now


NIGHT = QuietHours(time(22), time(7), ZoneInfo("Europe/Berlin"))


def wall(text: str) -> float:
    return datetime.fromisoformat(text).timestamp()


def test_what_waits_through_the_quiet_hours_goes_out_when_they_end() -> None:
    states: dict[str, NotificationState] = {}
    found = []
    for minute in range(120):
        now = wall("2026-01-10T06:00:00+01:00") + 60.0 * minute
        allowed = never if NIGHT.holds_back(STIR, now) else always
        states, notices = due_notices(states, [STIR_NOW], now, allowed)
        found += [(minute, notice.count) for notice in notices]
    assert found == [(60, 1), (65, 2), (75, 3), (95, 4)]


@pytest.mark.parametrize(
    ("moment", "quiet"),
    [
        # Summer time begins in Berlin on 2026-03-29 at 01:00 UTC and ends on 2026-10-25 at 01:00 UTC
        # (Directive 2000/84/EC, articles 2 and 3).
        ("2026-03-28T20:59:59+00:00", False),
        ("2026-03-28T21:00:00+00:00", True),
        ("2026-03-29T04:59:59+00:00", True),
        ("2026-03-29T05:00:00+00:00", False),
        ("2026-10-24T19:59:59+00:00", False),
        ("2026-10-24T20:00:00+00:00", True),
        ("2026-10-25T05:59:59+00:00", True),
        ("2026-10-25T06:00:00+00:00", False),
    ],
)
def test_the_clock_on_the_wall_counts_across_summer_time(moment: str, quiet: bool) -> None:
    assert NIGHT.holds_back(STIR, wall(moment)) is quiet
    assert not NIGHT.holds_back("near boil-over", wall(moment))


def test_an_hour_that_comes_twice_is_quiet_twice_and_one_that_is_skipped_never() -> None:
    small = QuietHours(time(2, 15), time(2, 45), ZoneInfo("Europe/Berlin"))
    minutes = range(24 * 60)
    autumn = sum(small.holds_back(STIR, wall("2026-10-25T00:00:00+02:00") + 60.0 * m) for m in minutes)
    spring = sum(small.holds_back(STIR, wall("2026-03-29T00:00:00+01:00") + 60.0 * m) for m in minutes)
    assert (autumn, spring) == (60, 0)


@given(st.floats(1e9, 2e9), st.sampled_from(["Europe/Berlin", "Pacific/Auckland", "America/St_Johns", "UTC"]))
def test_a_day_is_quiet_or_its_opposite_is(moment: float, zone: str) -> None:
    night = QuietHours(time(22), time(7), ZoneInfo(zone))
    day = QuietHours(time(7), time(22), ZoneInfo(zone))
    assert night.holds_back(STIR, moment) != day.holds_back(STIR, moment)


def test_without_a_zone_the_machines_own_counts() -> None:
    shown = datetime.fromtimestamp(START, UTC).astimezone().time()
    later = time((shown.hour + 1) % 24, shown.minute)
    assert QuietHours(shown, later).holds_back(CHECK, START)


def test_every_alarm_that_can_be_raised_may_be_named_in_the_settings() -> None:
    names = [
        "paste probe open",
        "wall probe shorted",
        "ph probe fault",
        "no wall data",
        "near boil-over",
        "check overdue",
    ]
    assert all(is_name(name) for name in names)
    assert not is_name("boil over")
