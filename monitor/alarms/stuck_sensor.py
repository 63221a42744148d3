"""The alarm of a stuck probe, which repeats one value.

A steady pot and a stuck probe look alike until noise should have moved the reading: a run of one value is stuck
when a run of that length is less likely than ``CHANCE``. A level that lies in the middle of a converter's step repeats
most, so that is assumed:

    repeats = P(|noise| < step / 2) = erf(step / (sqrt(8) noise)), and a run of n has the chance repeats ** n.

Where the noise is less than about half a step, how often a value repeats depends on where the level lies, and the
noise cannot be told from the readings; there only a run counts that outlasts the time from stir to stir and is far
longer than any before it.
"""

import math
from functools import cached_property
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from monitor.alarms.intervals import AlarmInterval, duration_text
from monitor.alarms.window import ChannelWindow
from monitor.model import READING_SPIKE_C, Floats, role

# One value for less than this is nothing.
FROZEN_S, FROZEN_READINGS = 60.0, 8
CHANCE = 1e-9
# The noise is that of a quiet stretch of about STRETCH_S and at least STRETCH readings, a quarter of the way up, for
# lids are lifted in some and the quietest seems quieter than it is; fewer readings than the last tell nothing.
STRETCH_S, STRETCH, FEWEST = 600.0, 60, 120
# Readings that flip between two neighbours look as if their noise were 0.41 steps, however small it is.
TELLING_STEPS = 0.45
# The step is the smallest change but for odd ones: this share of the changes may be smaller.
ODD_SHARE = 0.1
# Where the noise cannot be told: no pot stands still from stir to stir; a curve that flattens says one value ever
# longer, though never so much longer at once.
STILL_S = 2700.0
GROWN = 8
# A curve that kept moving this way for five minutes does not stop dead (degC, in each half and expected since).
MOVING_S, MOVING_C, STOPPED_C = 300.0, 0.5, 2.0
# Two single readings differ from their levels by no more than this together.
NOISY_C = 1.5


def stuck_sensor_alarms(channel: ChannelWindow) -> list[AlarmInterval]:
    """Every run of one value that is longer than chance allows this probe."""
    value, at = channel.celsius, channel.at
    if len(value) < FROZEN_READINGS:
        return []
    # A fault equals nothing, not even another.
    firsts = np.concatenate(([0], np.flatnonzero(value[1:] != value[:-1]) + 1))
    began = at[firsts]
    # Silence after the last reading is no run of one value.
    lasted = np.concatenate((began[1:], at[-1:])) - began
    if float(lasted.max()) < FROZEN_S:
        return []
    edges = np.concatenate((firsts, [len(value)]))
    lengths = edges[1:] - edges[:-1]
    places = np.flatnonzero((lengths >= FROZEN_READINGS) & (lasted >= FROZEN_S))
    lasted = lasted[places]
    alarms: list[AlarmInterval] = []
    noise = _Noise(value, max(STRETCH, int(STRETCH_S / channel.interval_s)))
    # The readings before an earlier interval, and those in it, tell nothing of how the probe reads.
    since = 0
    while len(places):
        for index in np.flatnonzero(_suspect(at, value, edges[places], lasted, noise, since)).tolist():
            place, lasted_s = int(places[index]), float(lasted[index])
            first, last = int(edges[place]), int(edges[place + 1])
            longest = int(lengths[np.searchsorted(edges, since) : place].max(initial=0))
            if (last < len(value) or channel.fresh) and (
                _too_long(last - first, noise.repeats(since, first))
                or (lasted_s >= STILL_S and last - first > GROWN * longest and first - since >= FEWEST)
                or _stopped_dead(at[since:first], value[since:first], lasted_s)
            ):
                alarms.append(_interval(channel, first, last, lasted_s))
                since, places, lasted = last, places[index + 1 :], lasted[index + 1 :]
                break
        else:
            break
    return alarms


def _interval(channel: ChannelWindow, first: int, last: int, lasted_s: float) -> AlarmInterval:
    """The alarm of the run of one value from place ``first`` to before ``last``."""
    plain = role(channel.series.channel)
    over = f"The {plain} probe said {channel.celsius[first]:.2f} °C and nothing else for {duration_text(lasted_s)}."
    text = f"{over[:-1]}: is it still measuring? Unplug it and plug it in again."
    ended = None if last == len(channel) else float(channel.at[last])
    return AlarmInterval(f"{plain} probe frozen", float(channel.at[first]), ended, text, over)


def _suspect(
    at: Floats, value: Floats, firsts: NDArray[np.intp], lasted: Floats, noise: "_Noise", since: int
) -> NDArray[np.bool_]:
    """Which runs are worth a closer look; the rest cannot be frozen. firsts, lasted: shape (m,)."""
    before = np.maximum(firsts - 1, 0)
    earlier = np.searchsorted(at, at[before] - MOVING_S / 2.0)
    # No curve that slows down goes further than on a straight line.
    moved = np.abs(value[before] - value[np.minimum(earlier, before)]) + NOISY_C
    suspect: NDArray[np.bool_] = moved * lasted / MOVING_S >= STOPPED_C
    return suspect | (lasted >= STILL_S) | noise.tells(since, firsts)


class _Noise:
    """What a channel's readings tell of its noise. value: degC, shape (n,). stretch: readings to judge it by."""

    def __init__(self, value: Floats, stretch: int) -> None:
        self._value = value
        self._stretch = stretch

    def tells(self, since: int, firsts: NDArray[np.intp]) -> NDArray[np.bool_]:
        """Before which of these readings the noise may have shown; shape (m,). A quiet stretch is hardly louder."""
        sums, counts = self._sums
        ends = np.maximum(firsts - 2, since)
        squares = (sums[ends] - sums[since]) / np.maximum(counts[ends] - counts[since], 1)
        shows: NDArray[np.bool_] = squares >= (6.0 * TELLING_STEPS**2 + 0.5) * self._step_c**2
        return shows & (firsts - since >= FEWEST)

    def repeats(self, since: int, first: int) -> float | None:
        """The most often that a value may repeat, by the readings from ``since`` to before ``first``; None: unknown."""
        if first - since < FEWEST:
            return None
        sums, counts = self._sums
        edges = np.linspace(since, first - 2, max(1, (first - since) // self._stretch) + 1).astype(np.intp)
        number = counts[edges[1:]] - counts[edges[:-1]]
        squares = (sums[edges[1:]] - sums[edges[:-1]])[number > 0] / number[number > 0]
        step_c = self._step_c
        if not len(squares) or step_c <= 0.0:
            return None
        quiet = np.partition(squares, len(squares) // 4)[len(squares) // 4]
        alike = float(quiet) / _quiet_share(len(squares), float(np.mean(number)))
        # A second difference carries noise 1, -2, 1 and the rounding of three readings, step**2 / 12 each.
        noise_c = math.sqrt(max(0.0, (alike - step_c**2 / 2.0) / 6.0))
        if not noise_c >= TELLING_STEPS * step_c:
            return None
        return math.erf(step_c / (math.sqrt(8.0) * noise_c))

    @cached_property
    def _sums(self) -> tuple[Floats, NDArray[np.intp]]:
        """Squares of the second differences, which leave out whatever moves steadily: running sums and counts."""
        change = self._value[1:] - self._value[:-1]
        squares = (change[1:] - change[:-1]) ** 2
        # A spike is no noise, and nor is a fault.
        plain = squares <= (2.0 * READING_SPIKE_C) ** 2
        counts = np.concatenate(([0], np.cumsum(plain)))
        return np.concatenate(([0.0], np.cumsum(np.where(plain, squares, 0.0)))), counts

    @cached_property
    def _step_c(self) -> float:
        sizes = np.abs(self._value[1:] - self._value[:-1])
        sizes = sizes[(sizes > 0.0) & np.isfinite(sizes)]
        odd = int(ODD_SHARE * len(sizes))
        return float(np.partition(sizes, odd)[odd]) if len(sizes) else 0.0


def _quiet_share(stretches: int, each: float) -> float:
    """How far below the mean a quarter of the way up lies where all stretches are equally noisy, as a share of it.

    The mean of ``each`` squared second differences of white noise, whose neighbours are correlated, scatters by
    sqrt(35 / 9 / each) of itself: the autocovariances are 6, -4, 1. Its place among the sorted ones is Blom's
    (1958, Statistical Estimates and Transformed Beta-Variables, from memory).
    """
    place = (stretches // 4 + 0.625) / (stretches + 0.25)
    return max(0.5, 1.0 + NormalDist().inv_cdf(place) * math.sqrt(35.0 / 9.0 / each))


def _too_long(readings: int, repeats: float | None) -> bool:
    """Whether chance would not repeat a value so often. repeats: the chance that it is repeated once."""
    return repeats is not None and readings * math.log(repeats) < math.log(CHANCE)


def _stopped_dead(at: Floats, before: Floats, lasted_s: float) -> bool:
    """Whether the curve was moving, and would have gone on by more than ``STOPPED_C`` while it says one value."""
    if len(at) < 6 or at[-1] - at[0] < MOVING_S:
        return False
    half_s = MOVING_S / 2.0
    then = at[-1] - np.array([MOVING_S, half_s, 0.0])
    reach = max(20.0, float(at[-1] - at[-4]))
    levels = [float(np.mean(near)) for t in then if len(near := before[np.abs(at - t) <= reach])]
    if len(levels) < 3 or math.isnan(sum(levels)):
        return False
    # Nor does one that was thrown from level to level.
    if float(np.abs(np.diff(before[at >= then[0] - reach])).max()) > 2.0 * READING_SPIKE_C:
        return False
    first, second = levels[1] - levels[0], levels[2] - levels[1]
    if min(abs(first), abs(second)) < MOVING_C or first * second < 0.0:
        return False
    # A curve that slows down keeps doing so: each half moves by this share of the one before.
    keeps, halves = min(second / first, 1.0), lasted_s / half_s
    ahead = halves if keeps == 1.0 else keeps * (1.0 - keeps**halves) / (1.0 - keeps)
    return abs(second) * ahead * 0.5 >= STOPPED_C
