"""Which times are believed: rigs with every kind of clock, and packs that come late, early and at once."""

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import pytest

from monitor.model import Event
from monitor.protocol.senml import Pack, parse_pack
from monitor.protocol.timestamps import AHEAD_S, TimestampCorrector, latest_clock_ahead_s

START = 1_773_480_000.0
DAY_S = 86_400.0


def pack(arrived: float, *times: float, channel: str = "paste") -> Pack:
    """A pack of one channel, with these times as the rig sends them."""
    records = [{"n": channel, "u": "Cel", "v": 90.0 + i, "t": t} for i, t in enumerate(times)]
    return parse_pack(json.dumps(records), arrived)


def measured(pack: Pack) -> list[float]:
    """When each record counts as measured, Unix seconds."""
    return [pack.arrived if record.time is None else record.time for record in pack.records]


@dataclass
class TimedPack:
    """One pack as it was sent and as it was timed."""

    true: float
    arrived: float
    measured: float
    sender_time: float | None


def feed(arrivals: TimestampCorrector, sent: Iterable[tuple[float, float, float]]) -> list[TimedPack]:
    """sent: (when it was truly measured, when it arrived, the rig's own time), Unix seconds."""
    heard = []
    for true, arrived, own in sent:
        timed = arrivals.corrected(pack(arrived, own))
        heard.append(TimedPack(true, arrived, measured(timed)[0], timed.records[0].sender_time))
    return heard


def live(ahead_s: float, seconds: int, every_s: int = 1, begin: float = START) -> Iterator[tuple[float, float, float]]:
    """A rig that sends at once by a clock that is so far ahead."""
    for elapsed in range(0, seconds, every_s):
        at = begin + elapsed
        # Up to a fifth of a second on the way.
        yield at, at + 0.05 * (elapsed % 5), at + ahead_s


@pytest.mark.parametrize("ahead_s", [0.0, 3.0, -4.0])
def test_a_right_clock_is_believed_unchanged(ahead_s: float) -> None:
    arrivals = TimestampCorrector()
    heard = feed(arrivals, live(ahead_s, 300))
    assert all(one.measured == one.true + ahead_s and one.sender_time is None for one in heard)
    assert arrivals.events_due(START + 300, 0.0) == []


@pytest.mark.parametrize("every_s", [1, 10])
@pytest.mark.parametrize("ahead_s", [30.0, 900.0, 7200.0, 100 * DAY_S, -30.0, -900.0, -7200.0, -100 * DAY_S])
def test_a_constant_clock_offset_is_learned_and_subtracted(ahead_s: float, every_s: int) -> None:
    arrivals = TimestampCorrector()
    heard = feed(arrivals, live(ahead_s, 600, every_s))
    settled = [one for one in heard if one.true >= START + 20 * every_s]
    assert all(abs(one.measured - one.true) <= 0.5 for one in settled)
    assert all(one.sender_time == one.true + ahead_s for one in settled)
    # Never is anything later than when it came, and what is behind is taken as late only until it is known better.
    assert all(one.measured <= one.arrived + AHEAD_S for one in heard)
    (event,) = arrivals.events_due(START + 600, 0.0)
    assert abs(float(event.fields["ahead_s"]) - ahead_s) <= 0.5


def test_an_implausible_clock_offset_is_corrected_from_the_first_pack() -> None:
    for ahead_s in (7200.0, 100 * DAY_S, -100 * DAY_S):
        heard = feed(TimestampCorrector(), live(ahead_s, 60))
        assert all(abs(one.measured - one.true) <= 0.5 for one in heard)


def test_seconds_since_boot_are_accepted_as_a_clock() -> None:
    """RFC 8428 section 4.5.3 has them relative to now, which nothing measured can lie ahead of."""
    arrivals = TimestampCorrector()
    heard = feed(arrivals, ((at, at + 0.05, 5000.0 + at - START) for at, _, _ in live(0.0, 120)))
    assert all(abs(one.measured - one.true) <= 0.5 for one in heard)
    # What was queued in the middle keeps its distances.
    queued = feed(arrivals, ((at, START + 300.0, 5000.0 + at - START) for at in (START + 200.0, START + 260.0)))
    assert [round(one.measured - START) for one in queued] == [200, 260]
    (event,) = arrivals.events_due(START + 300, 0.0)
    assert event.fields["counts"] == "from its start"


def test_negative_times_are_always_ages() -> None:
    """RFC 8428 section 4.5.3: a negative time is so many seconds ago, and needs no clock at the sender."""
    arrivals = TimestampCorrector()
    heard = feed(arrivals, ((at - 60.0, at, -60.0) for at, _, _ in live(0.0, 300)))
    assert all(one.measured == one.true and one.sender_time is None for one in heard)
    assert arrivals.events_due(START + 300, 0.0) == []
    # A pack that has waited for days by its own account comes as of now.
    (old,) = feed(arrivals, [(0.0, START + 400.0, -200_000.0)])
    assert old.measured == START + 400.0


def test_queued_packs_of_a_right_clock_keep_their_times() -> None:
    queue = [(START + i, START + 3600.0 + i * 0.02, START + i) for i in range(3000)]
    then = list(live(0.0, 60, begin=START + 3661.0))
    heard = feed(TimestampCorrector(), [*queue, *then])
    assert all(one.measured == one.true for one in heard)


@pytest.mark.parametrize("times_life", [1.5, 2.0, 10.0])
def test_a_slowly_sent_queue_is_not_taken_for_a_wrong_clock(times_life: float) -> None:
    heard = feed(TimestampCorrector(), [(START + i, START + 1200.0 + i / times_life, START + i) for i in range(1200)])
    assert all(one.measured == one.true for one in heard)


def test_packs_sent_once_a_minute_are_not_taken_for_a_wrong_clock() -> None:
    sent = []
    for minute in range(1, 30):
        at = START + 60.0 * minute
        sent += [(at - 60.0 + i, at + i * 0.005, at - 60.0 + i) for i in range(1, 61)]
    assert all(one.measured == one.true for one in feed(TimestampCorrector(), sent))


def test_queued_packs_of_a_wrong_clock_keep_their_intervals() -> None:
    ahead_s = 7200.0
    arrivals = TimestampCorrector()
    feed(arrivals, live(ahead_s, 60))
    heard = feed(arrivals, [(START + 60 + i, START + 700 + i * 0.01, START + 60 + i + ahead_s) for i in range(600)])
    assert all(abs(one.measured - one.true) <= 0.5 for one in heard)


@pytest.mark.parametrize("stray_s", [7200.0, 74 * 365 * DAY_S, -56 * 365 * DAY_S])
def test_one_stray_time_is_replaced_by_its_arrival_and_changes_no_offset(stray_s: float) -> None:
    arrivals = TimestampCorrector()
    sent = list(live(0.0, 300))
    true, arrived, _ = sent[100]
    sent[100] = (true, arrived, true + stray_s)
    heard = feed(arrivals, sent)
    assert heard[100].measured == heard[100].arrived and heard[100].sender_time == true + stray_s
    assert all(one.measured == one.true for i, one in enumerate(heard) if i != 100)
    assert arrivals.events_due(START + 300, 0.0) == []


@pytest.mark.parametrize("before_s", [7200.0, -900.0, 100 * DAY_S, -100 * DAY_S])
def test_a_clock_that_is_set_right_during_the_cook_is_followed(before_s: float) -> None:
    arrivals = TimestampCorrector()
    feed(arrivals, live(before_s, 120))
    (wrong,) = arrivals.events_due(START + 120, 0.0)
    heard = feed(arrivals, live(0.0, 120, begin=START + 120))
    assert all(one.measured == one.true and one.sender_time is None for one in heard[10:])
    assert all(one.measured <= one.arrived for one in heard)
    (right,) = arrivals.events_due(START + 240, 0.0)
    assert wrong.fields["ahead_s"] and right.fields["ahead_s"] == 0.0


@pytest.mark.parametrize("share", [0.01, -0.01, 0.0003])
def test_a_clock_that_runs_fast_or_slow_is_followed(share: float) -> None:
    heard = feed(TimestampCorrector(), ((at, at + 0.1, at + share * (at - START)) for at, _, _ in live(0.0, 7200)))
    assert all(abs(one.measured - one.true) <= 6.0 + 12.0 * abs(share) for one in heard)


def test_each_channel_of_a_pack_has_its_own_clock() -> None:
    arrivals = TimestampCorrector()
    for elapsed in range(60):
        at = START + elapsed
        records = [
            {"n": "paste", "u": "Cel", "v": 90, "t": at},
            {"n": "wall", "u": "Cel", "v": 95, "t": at + 7200.0},
            {"n": "room", "u": "Cel", "v": 21},
        ]
        timed = arrivals.corrected(parse_pack(json.dumps(records), at))
        assert measured(timed) == [at, at, at]
        assert [record.sender_time for record in timed.records] == [None, at + 7200.0, None]


def test_readings_of_several_moments_in_one_pack_keep_their_intervals() -> None:
    timed = TimestampCorrector().corrected(pack(START, *(START + 900.0 + t for t in (-30.0, -20.0, 0.0))))
    assert measured(timed) == [START - 30.0, START - 20.0, START]
    mixed = TimestampCorrector().corrected(pack(START, START - 30.0, START + 900.0, START))
    assert measured(mixed) == [START - 30.0, START, START]


def test_an_offset_learned_before_a_restart_applies_from_the_first_pack() -> None:
    event = Event("a-rig-clock", "rig clock", START, START, {"ahead_s": 7200.0, "own_ahead_s": 0.0})
    arrivals = TimestampCorrector(ahead_s=latest_clock_ahead_s([event]))
    heard = feed(arrivals, [(START + i, START + 600 + i * 0.01, START + i + 7200.0) for i in range(600)])
    assert all(abs(one.measured - one.true) <= 0.5 for one in heard)


def test_a_pack_without_times_is_unchanged() -> None:
    plain = parse_pack('[{"n":"paste","u":"Cel","v":90}]', START)
    assert TimestampCorrector().corrected(plain) is plain


def test_any_number_of_channels_takes_bounded_memory() -> None:
    arrivals = TimestampCorrector()
    for i in range(2000):
        arrivals.corrected(pack(START + i, START + i, channel=f"c{i}"))
    assert len(arrivals._clocks) <= 257
