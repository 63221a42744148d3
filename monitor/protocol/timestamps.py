"""Whose time is believed: a sender's own time only where it fits the arrival of what it sent.

A right clock can be behind by as much as its sender may have kept a pack waiting, and ahead by next to nothing. What
fits neither is timed by its arrival. A clock that is off by the same amount for a while is learned and that much
taken off, so that readings sent late keep their distances. Pure: packs and the moment go in.
"""

import uuid
from collections import deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from monitor.model import Event, make_event
from monitor.protocol.senml import Pack, SenmlRecord

# A time may be this far ahead of its arrival, and this much older: as long as a rig may queue (interfaces, section 7).
AHEAD_S = 5.0
OLDEST_S = 86_400.0
# A delay on the way only makes a clock seem further behind, so of each stretch of this length the least delay counts.
STRETCH_S = 2.0
# Off by the same to within this. A queue that is sent out faster than it grew changes by more in the longer time.
SAME_S = 2.0
# So many stretches alike settle it: that a clock is right; that it is off as no queue can be; that it is behind, which
# the first packs of a queue look like too.
RIGHT_STRETCHES, OFF_STRETCHES, BEHIND_STRETCHES = 2, 3, 6
# A clock that runs fast or slow is followed in such steps, before it no longer fits.
FOLLOWED_S = 4.0
# A change of the difference that is worth an event, seconds and share, and the least time from one to the next.
TOLD_CHANGE_S, TOLD_SHARE, TOLD_EVERY_S = 30.0, 0.05, 60.0
# Channels beyond so many share what is learned.
MOST_CHANNELS = 256


def fits(time: float, arrived: float, ahead_s: float = AHEAD_S) -> bool:
    """Whether something that arrived then can have been measured at this time, both Unix seconds.

    >>> fits(100.0, 160.0), fits(107.0, 100.0), fits(100.0, 200_000.0)
    (True, False, False)
    """
    return -OLDEST_S <= time - arrived <= ahead_s


def latest_clock_ahead_s(events: Iterable[Event]) -> float:
    """How far the sender's clock was ahead by the latest of these events, in s."""
    known = [event.fields.get("ahead_s") for event in events if event.kind == "rig clock"]
    # A recording made elsewhere may hold anything.
    return float(known[-1]) if known and isinstance(known[-1], int | float) else 0.0


@dataclass(slots=True)
class _SenderClock:
    """How far one sender's clock is ahead, in s; negative is behind. counts: it counts from its own start."""

    stretches: deque[float]
    ahead_s: float = 0.0
    counts: bool = False
    began: float | None = None
    most_ahead_s: float = 0.0

    def note(self, arrived: float, ahead_s: float, rate: float) -> None:
        """Takes in by how much the latest time of a pack was ahead of its arrival (Unix seconds)."""
        if self.began is not None and arrived - self.began < STRETCH_S * rate:
            self.most_ahead_s = max(self.most_ahead_s, ahead_s)
            return
        if self.began is not None:
            self.stretches.append(self.most_ahead_s)
            self._settle(rate)
        self.began, self.most_ahead_s = arrived, ahead_s

    def off_s(self, ahead_s: float, near_s: float) -> float:
        """What is to be taken off times that seem to be so far ahead. near_s: as far as a right clock may seem off.

        One that fits its arrival as it stands, and not at all with what was learned, was set right just now.
        """
        set_right = abs(ahead_s) <= near_s < abs(ahead_s - self.ahead_s)
        return 0.0 if set_right else self.ahead_s

    def _settle(self, rate: float) -> None:
        latest = self.stretches[-1]
        right = abs(latest) <= AHEAD_S * rate
        queued = -OLDEST_S <= latest < 0.0
        wanted = RIGHT_STRETCHES if right else BEHIND_STRETCHES if queued else OFF_STRETCHES
        alike = list(self.stretches)[-wanted:]
        if len(alike) < wanted or max(alike) - min(alike) > SAME_S * rate:
            return
        settled_s = 0.0 if right else max(alike)
        if right or abs(settled_s - self.ahead_s) > FOLLOWED_S * rate:
            self.ahead_s = settled_s


class TimestampCorrector:
    """Times packs by their own clock or by their arrival.

    rate: seconds of cook time in one real second; what is a moment in life is so many times longer in a fast cook.
    ahead_s: how far the sender's clock was known to be ahead before, in s.
    """

    def __init__(self, rate: float = 1.0, ahead_s: float = 0.0) -> None:
        self._rate = max(rate, 1.0)
        self._known_ahead_s = ahead_s
        self._clocks: dict[str, _SenderClock] = {}
        self._not_believed = 0
        self._told_s = ahead_s
        self._told_own_s = 0.0
        self._told_at: float | None = None

    def corrected(self, pack: Pack) -> Pack:
        """The pack with times that fit its arrival; a time that had to give way is kept as ``sender_time``."""
        if all(record.time is None for record in pack.records):
            return pack
        by_channel: dict[str, list[int]] = {}
        for place, record in enumerate(pack.records):
            if record.time is not None and not self._is_age(record, pack.arrived):
                by_channel.setdefault(record.channel, []).append(place)
        records = list(pack.records)
        changed, believed = False, True
        for channel, places in by_channel.items():
            own = [pack.records[place] for place in places]
            timed, good = self._timed_alike(channel, own, pack.arrived)
            believed &= good
            for place, before, after in zip(places, own, timed, strict=True):
                if after is not before:
                    records[place], changed = after, True
        self._not_believed += not believed
        return replace(pack, records=tuple(records)) if changed else pack

    def _timed_alike(
        self, channel: str, records: Sequence[SenmlRecord], arrived: float
    ) -> tuple[Sequence[SenmlRecord], bool]:
        """Records of one channel, timed; and whether their own times were believed."""
        said = [self._said(record, arrived) for record in records]
        clock = self._clock(channel)
        clock.counts = any(time != record.time for time, record in zip(said, records, strict=True))
        clock.note(arrived, max(said) - arrived, self._rate)
        ahead_s = AHEAD_S * self._rate
        times = [time - clock.off_s(max(said) - arrived, ahead_s) for time in said]
        fitting = [fits(time, arrived, ahead_s) for time in times]
        if not any(fitting):
            # No more is known than when the latest of them came, but their distances are.
            times = [time - max(said) + arrived for time in said]
        best = [time if fits(time, arrived, ahead_s) else arrived for time in times]
        if best == said:
            return records, all(fitting)
        return [_with_time(*row) for row in zip(records, best, said, strict=True)], all(fitting)

    def _is_age(self, record: SenmlRecord, arrived: float) -> bool:
        """Whether a time was sent as so many seconds ago, which no clock can spoil."""
        return record.relative and record.time is not None and fits(record.time, arrived, AHEAD_S * self._rate)

    def _said(self, record: SenmlRecord, arrived: float) -> float:
        """The time as the sender meant it. What was measured cannot lie ahead, so that is a count from its start."""
        assert record.time is not None
        return record.time - arrived if record.relative and record.time > arrived else record.time

    def _clock(self, channel: str) -> _SenderClock:
        if channel not in self._clocks and len(self._clocks) >= MOST_CHANNELS:
            channel = ""
        clock = self._clocks.get(channel)
        if clock is None:
            clock = self._clocks[channel] = _SenderClock(deque(maxlen=BEHIND_STRETCHES), self._known_ahead_s)
        return clock

    def begin_cook(self) -> None:
        """A new recording knows nothing of the sender's clock yet."""
        self._told_s = self._told_own_s = 0.0
        self._told_at = None

    def events_due(self, now: float, own_ahead_s: float) -> list[Event]:
        """What is to be recorded of the sender's clock at ``now`` (Unix seconds).

        own_ahead_s: how far this machine's clock has been set ahead of the cook's time since the cook began, in s.
        """
        worst = max(self._clocks.values(), key=lambda clock: abs(clock.ahead_s), default=None)
        if worst is None or (self._told_at is not None and now - self._told_at < TOLD_EVERY_S * self._rate):
            return []
        moved = _tells(worst.ahead_s, self._told_s) or (worst.ahead_s != 0.0 and _tells(own_ahead_s, self._told_own_s))
        if not moved:
            return []
        self._told_s, self._told_own_s, self._told_at = worst.ahead_s, own_ahead_s, now
        fields: dict[str, object] = {"ahead_s": worst.ahead_s, "own_ahead_s": own_ahead_s}
        if self._not_believed:
            fields["count"] = self._not_believed
            self._not_believed = 0
        if worst.counts:
            fields["counts"] = "from its start"
        return [make_event(str(uuid.uuid4()), "rig clock", now, now, fields, by_logger=True)]


def _tells(now_s: float, told_s: float) -> bool:
    """Whether a difference has changed by enough to be told; that it is gone always is."""
    if now_s == 0.0 or told_s == 0.0:
        return now_s != told_s and abs(now_s - told_s) > AHEAD_S
    return abs(now_s - told_s) > max(TOLD_CHANGE_S, TOLD_SHARE * abs(told_s))


def _with_time(record: SenmlRecord, time: float, said: float) -> SenmlRecord:
    return record if time == record.time else replace(record, time=time, sender_time=said)
