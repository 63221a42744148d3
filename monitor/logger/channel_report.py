"""Which channels speak, said by the logger, and what they lack for a cook to be watched."""

from monitor.model import ArrivingChannel, arriving_channel, missing_paste_text, unit_problem_texts
from monitor.protocol import Pack
from monitor.runtime import Clock, Level, Report

MOST_CHANNELS = 32
# Channels may come in packs of their own, some more seldom than others.
JUDGED_AFTER_S = 5.0


class ChannelReport:
    """Says each channel that is new, and soon after what is wrong with the names and units of all."""

    def __init__(self, clock: Clock, say: Report) -> None:
        self._clock = clock
        self._say = say
        # A channel that comes in another unit is another.
        self._channels: dict[tuple[str, str], ArrivingChannel] = {}
        self._judge_s: float | None = None

    def take(self, pack: Pack) -> None:
        """Takes note of what a pack brings."""
        before = set(self._channels)
        names = {channel for channel, _ in before}
        for record in pack.records:
            key = record.channel, record.unit
            if key in before or len(self._channels) < MOST_CHANNELS:
                self._channels[key] = arriving_channel(*key, record.value)
        new = set(self._channels) - before
        if {channel for channel, _ in new} - names:
            names |= {channel for channel, _ in new}
            self._say(f"Readings come from: {', '.join(sorted(names))[:400]}.")
        if new:
            self._judge_s = self._clock.real_s() + JUDGED_AFTER_S
        elif self._judge_s is not None and self._clock.real_s() >= self._judge_s:
            self._judge_s = None
            channels = list(self._channels.values())
            no_paste = missing_paste_text(channels)
            for words in ([] if no_paste is None else [no_paste]) + unit_problem_texts(channels):
                self._say(words, Level.WARNING)
