"""Decides which times of measurement are believed: the sender's own only where they fit the arrival of the pack.

By a right clock a pack can be as old as its sender may have queued it, and hardly newer than its arrival. Any other
time is replaced by that of the arrival. A clock that is off by a constant amount for a while is learned and corrected,
so that readings sent late keep their distances in time. Pure: packs and their times of arrival go in.
"""

import uuid
from collections import deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from monitor.model import Event, make_event
from monitor.protocol.senml import Pack, SenmlRecord

# A time of measurement may be this far ahead of the arrival, and this much older: as long as a rig may queue packs.
AHEAD_S = 5.0
OLDEST_S = 86_400.0
# A delay on the way only makes a clock seem further behind, so in each window of this length the least delay counts.
WINDOW_S = 2.0
# Two windows agree where they differ by no more than this. The delay of a queue that is being sent out, faster than it
# grew, changes by more from window to window.
AGREE_WITHIN_S = 2.0
# How many windows have to agree that a clock is right; that it is off in a way that no queue can be; that it is behind,
# which the first packs of a queue look like too.
RIGHT_WINDOWS, OFF_WINDOWS, BEHIND_WINDOWS = 2, 3, 6
# The correction of a clock that runs fast or slow changes in steps of this size, before its times stop fitting.
CORRECTION_STEP_S = 4.0
# A change of the correction is recorded as an event from this size, in seconds and as a share, and at most this often.
EVENT_CHANGE_S, EVENT_SHARE, EVENT_EVERY_S = 30.0, 0.05, 60.0
# Channels beyond this number share one clock.
MOST_CHANNELS = 256


def fits(time: float, arrived: float, ahead_s: float = AHEAD_S) -> bool:
    """Whether a reading that arrived at ``arrived`` can have been measured at ``time``, both Unix seconds.

    ahead_s: how far the time of measurement may lie ahead of the arrival, in s.

    >>> fits(100.0, 160.0), fits(107.0, 100.0), fits(100.0, 200_000.0)
    (True, False, False)
    """
    return -OLDEST_S <= time - arrived <= ahead_s


def latest_clock_ahead_s(events: Iterable[Event]) -> float:
    """How far the sender's clock was ahead in the latest event about it, in s; 0 where there is none."""
    values = [event.fields.get("ahead_s") for event in events if event.kind == "rig clock"]
    # A recording made elsewhere may hold anything.
    return float(values[-1]) if values and isinstance(values[-1], int | float) else 0.0


@dataclass(slots=True)
class _SenderClock:
    """The clock of one sender, learned from the offsets of its packs.

    windows: the largest offset of each window, in s. ahead_s: the correction, negative where the clock is behind.
    counts: the clock counts from its own start.
    """

    windows: deque[float]
    ahead_s: float = 0.0
    counts: bool = False
    window_start: float | None = None
    window_ahead_s: float = 0.0

    def observe(self, arrived: float, ahead_s: float, rate: float) -> None:
        """Takes account of a pack whose latest time was ``ahead_s`` seconds ahead of its arrival (Unix seconds)."""
        if self.window_start is not None and arrived - self.window_start < WINDOW_S * rate:
            self.window_ahead_s = max(self.window_ahead_s, ahead_s)
            return
        if self.window_start is not None:
            self.windows.append(self.window_ahead_s)
            self._settle(rate)
        self.window_start, self.window_ahead_s = arrived, ahead_s

    def correction_s(self, ahead_s: float, tolerance_s: float) -> float:
        """What to subtract from times that are ``ahead_s`` seconds ahead of their arrival.

        tolerance_s: how far a right clock may seem off. A clock that agrees with the arrival, and not at all with what
        was learned, was set right just now.
        """
        set_right = abs(ahead_s) <= tolerance_s < abs(ahead_s - self.ahead_s)
        return 0.0 if set_right else self.ahead_s

    def _settle(self, rate: float) -> None:
        latest = self.windows[-1]
        right = abs(latest) <= AHEAD_S * rate
        queued = -OLDEST_S <= latest < 0.0
        needed = RIGHT_WINDOWS if right else BEHIND_WINDOWS if queued else OFF_WINDOWS
        agreeing = list(self.windows)[-needed:]
        if len(agreeing) < needed or max(agreeing) - min(agreeing) > AGREE_WITHIN_S * rate:
            return
        settled_s = 0.0 if right else max(agreeing)
        if right or abs(settled_s - self.ahead_s) > CORRECTION_STEP_S * rate:
            self.ahead_s = settled_s


class TimestampCorrector:
    """Times packs by their sender's clock or by their arrival.

    rate: seconds of cook time in one real second; every tolerance grows with it.
    ahead_s: how far the sender's clock was known to be ahead before, in s.
    """

    def __init__(self, rate: float = 1.0, ahead_s: float = 0.0) -> None:
        self._rate = max(rate, 1.0)
        self._known_ahead_s = ahead_s
        self._clocks: dict[str, _SenderClock] = {}
        self._rejected = 0
        self._event_ahead_s = ahead_s
        self._event_own_ahead_s = 0.0
        self._event_at: float | None = None

    def corrected(self, pack: Pack) -> Pack:
        """The pack with times that fit its arrival; a time that was replaced is kept as ``sender_time``."""
        if all(record.time is None for record in pack.records):
            return pack
        by_channel: dict[str, list[int]] = {}
        for index, record in enumerate(pack.records):
            if record.time is not None and not self._is_age(record, pack.arrived):
                by_channel.setdefault(record.channel, []).append(index)
        records = list(pack.records)
        changed, believed = False, True
        for channel, indices in by_channel.items():
            sent = [pack.records[index] for index in indices]
            timed, fitting = self._correct_channel(channel, sent, pack.arrived)
            believed &= fitting
            for index, before, after in zip(indices, sent, timed, strict=True):
                if after is not before:
                    records[index], changed = after, True
        self._rejected += not believed
        return replace(pack, records=tuple(records)) if changed else pack

    def _correct_channel(
        self, channel: str, records: Sequence[SenmlRecord], arrived: float
    ) -> tuple[Sequence[SenmlRecord], bool]:
        """The records of one channel with their times, and whether the sender's times were believed."""
        sent = [self._sent_time(record, arrived) for record in records]
        clock = self._clock(channel)
        clock.counts = any(time != record.time for time, record in zip(sent, records, strict=True))
        clock.observe(arrived, max(sent) - arrived, self._rate)
        ahead_s = AHEAD_S * self._rate
        times = [time - clock.correction_s(max(sent) - arrived, ahead_s) for time in sent]
        fitting = [fits(time, arrived, ahead_s) for time in times]
        if not any(fitting):
            # The latest reading is timed by its arrival; the distances to the others are still right.
            times = [time - max(sent) + arrived for time in sent]
        best = [time if fits(time, arrived, ahead_s) else arrived for time in times]
        if best == sent:
            return records, all(fitting)
        return [_with_time(*row) for row in zip(records, best, sent, strict=True)], all(fitting)

    def _is_age(self, record: SenmlRecord, arrived: float) -> bool:
        """Whether the time was sent as an age in seconds, which no wrong clock can spoil."""
        return record.relative and record.time is not None and fits(record.time, arrived, AHEAD_S * self._rate)

    def _sent_time(self, record: SenmlRecord, arrived: float) -> float:
        """The time as the sender meant it. A relative time that lies ahead is a count of seconds since its start."""
        assert record.time is not None
        return record.time - arrived if record.relative and record.time > arrived else record.time

    def _clock(self, channel: str) -> _SenderClock:
        if channel not in self._clocks and len(self._clocks) >= MOST_CHANNELS:
            channel = ""
        clock = self._clocks.get(channel)
        if clock is None:
            clock = self._clocks[channel] = _SenderClock(deque(maxlen=BEHIND_WINDOWS), self._known_ahead_s)
        return clock

    def begin_cook(self) -> None:
        """Has the next recording get its own events about the sender's clock."""
        self._event_ahead_s = self._event_own_ahead_s = 0.0
        self._event_at = None

    def events_due(self, now: float, own_ahead_s: float) -> list[Event]:
        """The events about the sender's clock that are due at ``now`` (Unix seconds): none, or one.

        own_ahead_s: how far this machine's clock has been set ahead of the cook's time since the cook began, in s.
        """
        worst = max(self._clocks.values(), key=lambda clock: abs(clock.ahead_s), default=None)
        if worst is None or (self._event_at is not None and now - self._event_at < EVENT_EVERY_S * self._rate):
            return []
        has_changed = _is_worth_an_event(worst.ahead_s, self._event_ahead_s) or (
            worst.ahead_s != 0.0 and _is_worth_an_event(own_ahead_s, self._event_own_ahead_s)
        )
        if not has_changed:
            return []
        self._event_ahead_s, self._event_own_ahead_s, self._event_at = worst.ahead_s, own_ahead_s, now
        fields: dict[str, object] = {"ahead_s": worst.ahead_s, "own_ahead_s": own_ahead_s}
        if self._rejected:
            fields["count"] = self._rejected
            self._rejected = 0
        if worst.counts:
            fields["counts"] = "from its start"
        return [make_event(str(uuid.uuid4()), "rig clock", now, now, fields, by_logger=True)]


def _is_worth_an_event(now_s: float, before_s: float) -> bool:
    """Whether a clock offset has changed enough for an event; one that vanishes always has."""
    if now_s == 0.0 or before_s == 0.0:
        return now_s != before_s and abs(now_s - before_s) > AHEAD_S
    return abs(now_s - before_s) > max(EVENT_CHANGE_S, EVENT_SHARE * abs(before_s))


def _with_time(record: SenmlRecord, time: float, sent: float) -> SenmlRecord:
    return record if time == record.time else replace(record, time=time, sender_time=sent)
