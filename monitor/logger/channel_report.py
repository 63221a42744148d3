"""The logger's report on the channels that arrive, and on what they lack for a cook to be watched."""

from monitor.model import ArrivingChannel, arriving_channel, missing_paste_text, unit_problem_texts
from monitor.protocol import Pack
from monitor.runtime import Clock, Level, Report

MOST_CHANNELS = 32
# Channels may come in packs of their own, some more seldom than others; only then are they judged together.
CHECK_AFTER_S = 5.0


class ChannelReport:
    """Reports each new channel, and 5 s after the last new one what is wrong with the names and units of all."""

    def __init__(self, clock: Clock, report: Report) -> None:
        self._clock = clock
        self._report = report
        # By name and unit: a channel that comes in another unit is another.
        self._channels: dict[tuple[str, str], ArrivingChannel] = {}
        self._check_at_s: float | None = None

    def note_pack(self, pack: Pack) -> None:
        """Takes account of the channels in a pack."""
        before = set(self._channels)
        names = {channel for channel, _ in before}
        for record in pack.records:
            key = record.channel, record.unit
            if key in before or len(self._channels) < MOST_CHANNELS:
                self._channels[key] = arriving_channel(*key, record.value)
        new = set(self._channels) - before
        if {channel for channel, _ in new} - names:
            names |= {channel for channel, _ in new}
            self._report(f"Readings come from: {', '.join(sorted(names))[:400]}.")
        if new:
            self._check_at_s = self._clock.real_s() + CHECK_AFTER_S
        elif self._check_at_s is not None and self._clock.real_s() >= self._check_at_s:
            self._check_at_s = None
            channels = list(self._channels.values())
            no_paste = missing_paste_text(channels)
            for text in ([] if no_paste is None else [no_paste]) + unit_problem_texts(channels):
                self._report(text, Level.WARNING)
