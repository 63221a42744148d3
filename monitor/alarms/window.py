"""The latest part of a cook's readings, cut and averaged once for all alarms that look at it."""

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from monitor.model import (
    ALARM_BIN_S,
    PASTE_AT_LEAST_C,
    PASTE_AT_MOST_C,
    READING_SPIKE_C,
    Floats,
    History,
    Series,
    is_temperature,
    plausible,
)

IN_POT = ("paste", "wall")
# Alarms on changes of temperature look at means of this many bins.
MINUTE_BINS = 4
# A shorter silence says nothing of a cook in real time, s.
SILENCE_S = 15.0
# Tolerance of a temperature where nobody has said what the probe is: class 2 wire of type K (IEC 60584-1), degC.
UNSTATED_TOLERANCE_C = 2.5
# A temperature is stale when it is older than this many silences and than this many usual intervals.
STALE_SILENCES = 6.0
STALE_READINGS = 4.0


def median(values: Floats) -> float:
    """The upper median of values of shape (n,), n >= 1."""
    return float(np.partition(values, len(values) // 2)[len(values) // 2])


@dataclass(frozen=True, slots=True)
class BinMeans:
    """Means over ALARM_BIN_S.

    at: Unix seconds, the middle of each bin's readings, shape (n,). value: degC, shape (n,). fresh: whether there are
    any and the latest reading still tells how things are.
    """

    at: Floats
    value: Floats
    fresh: bool

    def before(self, seconds: float) -> Floats:
        """The value ``seconds`` before each mean, degC, shape (n,); NaN before the first."""
        earlier: Floats = np.interp(self.at - seconds, self.at, self.value, left=np.nan)
        return earlier

    def over_minute(self) -> "BinMeans":
        """Means of the minute up to each: in a single bin the noise is as large as the changes that count."""
        sums = np.concatenate(([0.0], np.cumsum(self.value)))
        last = np.arange(1, len(self.value) + 1)
        first = np.searchsorted(self.at, self.at - (MINUTE_BINS - 0.5) * ALARM_BIN_S)
        return BinMeans(self.at, (sums[last] - sums[first]) / (last - first), self.fresh)


EMPTY = BinMeans(np.empty(0), np.empty(0), False)


def is_fresh(series: Series, now: float, silence_s: float = SILENCE_S) -> bool:
    """Whether a channel is heard: its latest reading up to ``now`` (Unix seconds) still tells how things are.

    silence_s: the shortest silence that counts, in seconds of the cook.
    """
    return ChannelWindow(series, -math.inf, now, silence_s).fresh


class ChannelWindow:
    """One channel's readings from ``begin`` to ``now`` (Unix seconds).

    at, known: Unix seconds; value: in the series' unit, NaN at a fault; celsius: degC, NaN at a fault and all NaN where
    the channel is no temperature; shape (n,). first: index in the series. fresh: whether the latest reading still tells
    how things are.
    """

    def __init__(self, series: Series, begin: float, now: float, silence_s: float) -> None:
        self.series = series
        self.now = now
        self.first, last = np.searchsorted(series.measured, (begin, now + 1e-6)).tolist()
        places: slice | NDArray[np.intp] = slice(self.first, last)
        self.at = series.measured[places]
        # A reading without a time tells nothing.
        if not math.isfinite(float(self.at.sum())):
            places = self.first + np.flatnonzero(np.isfinite(self.at))
            self.at = series.measured[places]
        self.known = series.known[places]
        self.value = series.value[places]
        self._places = places
        silent_s = now - float(self.at[-1]) if len(self.at) else math.nan
        self.fresh = silent_s <= STALE_SILENCES * silence_s or silent_s <= STALE_READINGS * self.interval_s

    def __len__(self) -> int:
        return len(self.at)

    @cached_property
    def interval_s(self) -> float:
        """The usual step from reading to reading, s, by the latest 120; infinite for fewer than two."""
        recent = self.at[-120:]
        return median(recent[1:] - recent[:-1]) if len(recent) > 1 else math.inf

    @cached_property
    def celsius(self) -> Floats:
        """The values in degC, NaN at faults; all NaN where the channel is no temperature. Shape (n,)."""
        value_c = self.series.celsius
        return np.full(len(self.value), np.nan) if value_c is None else value_c[self._places]

    @cached_property
    def change(self) -> Floats:
        """Size of the change from each reading to the next, degC, NaN beside a fault; shape (n - 1,)."""
        change: Floats = np.abs(self.celsius[1:] - self.celsius[:-1])
        return change

    @cached_property
    def calm(self) -> bool:
        """Whether every reading is plausible, with no fault and no spike among them."""
        # Nothing compares with a fault's NaN, so this is False where there is one.
        lowest, highest, spike = (
            float(value) for value in (self.celsius.min(), self.celsius.max(), self.change.max(initial=0.0))
        )
        return lowest >= PASTE_AT_LEAST_C and highest <= PASTE_AT_MOST_C and spike <= READING_SPIKE_C

    @cached_property
    def means(self) -> BinMeans:
        """Means of the temperature, degC, without spikes and without implausible readings."""
        at, value = self.at, self.celsius
        if not self.calm:
            good = plausible(value)
            leaps = self.change > READING_SPIKE_C
            good[1:-1] &= ~(leaps[:-1] & leaps[1:])
            at, value = at[good], value[good]
        if not len(at):
            return EMPTY
        # From reading to reading and not along an even grid: a silence may last for years.
        bins = np.floor((at - at[0]) / ALARM_BIN_S)
        firsts = np.concatenate(([0], np.flatnonzero(bins[1:] != bins[:-1]) + 1))
        nexts = np.append(firsts[1:], len(at))
        middles = 0.5 * (at[firsts] + at[nexts - 1])
        return BinMeans(middles, np.add.reduceat(value, firsts) / (nexts - firsts), self.fresh)


class Window:
    """Every channel from ``begin`` to ``now`` (Unix seconds).

    silence_s: the shortest silence that counts, in seconds of the cook. start: of the cook, Unix seconds, or None.
    channels: by channel name; those without a reading in the window are left out. in_pot: the whole series of the
    probes in the pot, by their role; only those that have reported a temperature. inside: the readings in the window of
    those probes, by their role. paste, wall: their means.
    """

    def __init__(self, history: History, start: float | None, begin: float, now: float, silence_s: float) -> None:
        self.history = history
        self.start = start
        self.begin = begin
        self.now = now
        self.silence_s = silence_s
        found = {part: history.by_role(part) for part in IN_POT}
        windows = {name: ChannelWindow(one, begin, now, silence_s) for name, one in history.series.items()}
        self.channels = {name: window for name, window in windows.items() if len(window)}
        self.in_pot = {
            part: one
            for part, one in found.items()
            if one is not None and len(one.measured) and is_temperature(one.unit)
        }
        self.inside = {
            part: self.channels[one.channel] for part, one in self.in_pot.items() if one.channel in self.channels
        }
        # Every look needs these, so they are made here and not when they are first asked for.
        self.paste, self.wall = (self.inside[part].means if part in self.inside else EMPTY for part in IN_POT)

    @property
    def paste_tolerance_c(self) -> float:
        """Tolerance of the paste's probe, degC either way."""
        series = self.in_pot.get("paste")
        return UNSTATED_TOLERANCE_C if series is None or series.tolerance_c is None else series.tolerance_c

    @cached_property
    def paste_minutes(self) -> BinMeans:
        """The paste's means over a minute."""
        return self.paste.over_minute()
