"""The temperature-history integral of one cook, for every activation energy and mixing floor of the grid.

Equivalent time is the time at 95 degC, just stirred, that does as much as the real history did:

    W(t) = integral of f(T) m(s) dt,  f = exp(-(Ea/R)(1/T - 1/T95)),  m = floor + (1 - floor) exp(-s/fade),

with T the paste's temperature and s the time since the last stir. The first factor is the equivalent age of ASTM
C1074; the second is judgement, no source.
"""

from dataclasses import dataclass

import numpy as np

from monitor.estimation.kinetics import arrhenius_factor, mixing_factor
from monitor.estimation.prior import EA, MIXING_FADE_S, MIXING_FLOORS
from monitor.model import INTEGRAL_GAP_S, Event, Floats, longest_step_s

# Every 35 minutes: the middle of common practice (no source).
STIR_INTERVAL_S = 2100.0
# A cook's own interval is believed after two stirs as much as common practice, and only within these bounds.
COMMON_STIRS = 2
SHORTEST_STIR_INTERVAL_S, LONGEST_STIR_INTERVAL_S = 900.0, 7200.0


@dataclass(frozen=True)
class EquivalentTime:
    """Equivalent time along a cook, for every activation energy (6) and mixing floor (3) of the grid.

    times: Unix seconds, shape (n,), from the cook's start on. equivalent_s: s at 95 degC, shape (n, 6, 3), 0 at the
    start and never falling. guessed_share: share of the last row that rests on guessed temperatures, 0 to 1.
    stir_interval_s: how often this cook has been stirred, drawn towards common practice.
    """

    times: Floats
    equivalent_s: Floats
    guessed_share: float
    stir_interval_s: float

    def at(self, moment: float) -> Floats:
        """Equivalent time, s, at a moment (Unix seconds), shape (6, 3); constant outside the history."""
        times, rows = self.times, self.equivalent_s
        inside = float(np.clip(moment, times[0], times[-1]))
        i = min(max(int(np.searchsorted(times, inside, side="right")), 1), len(times) - 1)
        if i == 0:
            return rows[:1].reshape(rows.shape[1:])
        share = (inside - times[i - 1]) / (times[i] - times[i - 1])
        result: Floats = rows[i - 1] + share * (rows[i] - rows[i - 1])
        return result

    def covers(self, moment: float) -> bool:
        """Whether a sample taken at this moment (Unix seconds) belongs to the history.

        It was taken after the start, and no gap lies between the last temperature and the sample.
        """
        return bool(float(self.times[0]) < moment <= float(self.times[-1]) + INTEGRAL_GAP_S)


def integrate_equivalent_time(
    times: Floats, temperatures_c: Floats, events: tuple[Event, ...], start: float
) -> EquivalentTime:
    """Equivalent time from the start on, by the trapezoid rule for the rate and the midpoint for the mixing.

    times: Unix seconds of the block medians, ascending, shape (n,), n >= 1. temperatures_c: degC, shape (n,).
    events: of the cook, in order; only stirs count. start: Unix seconds from which the integral runs; the temperature
    there is interpolated, or that of the nearest block.

    Between blocks the temperature is a straight line, also across a gap, whose share is ``guessed_share``.

    >>> minutes = 60.0 * np.arange(61.0)
    >>> done = integrate_equivalent_time(minutes, np.full(61, 95.0), (), 0.0)
    >>> done.equivalent_s[-1].round().tolist()[0]
    [2272.0, 2783.0, 3293.0]
    """
    after = times > start
    at = np.concatenate([[start], times[after]])
    level_c = np.concatenate([[np.interp(start, times, temperatures_c)], temperatures_c[after]])
    if len(at) == 1:
        return EquivalentTime(at, np.zeros((1, len(EA), len(MIXING_FLOORS))), 0.0, STIR_INTERVAL_S)
    stirs = np.array([start, *(e.measured for e in events if e.kind == "stirred" and start < e.measured <= at[-1])])
    # A stir between two readings must not wait for the next one to count.
    at, level_c = _with_points(at, level_c, stirs[1:])
    rate = arrhenius_factor(level_c[:, None], EA[None, :])
    middle = 0.5 * (at[1:] + at[:-1])
    since_stir_s = middle - stirs[np.searchsorted(stirs, middle, side="right") - 1]
    mixing = mixing_factor(since_stir_s[:, None], MIXING_FLOORS[None, :], MIXING_FADE_S)
    steps = np.diff(at)[:, None] * 0.5 * (rate[1:] + rate[:-1])
    equivalent_s = np.zeros((len(at), len(EA), len(MIXING_FLOORS)))
    np.cumsum(steps[:, :, None] * mixing[:, None, :], axis=0, out=equivalent_s[1:])
    gaps = np.diff(at) > longest_block_step_s(times)
    guessed_share = float(steps[gaps].sum() / max(steps.sum(), 1e-9)) if gaps.any() else 0.0
    interval_s = (at[-1] - start + COMMON_STIRS * STIR_INTERVAL_S) / (len(stirs) - 1 + COMMON_STIRS)
    interval_s = float(np.clip(interval_s, SHORTEST_STIR_INTERVAL_S, LONGEST_STIR_INTERVAL_S))
    return EquivalentTime(at, equivalent_s, guessed_share, interval_s)


def longest_block_step_s(times: Floats) -> float:
    """The longest step between blocks that is no gap, s. times: Unix seconds, shape (n,)."""
    return longest_step_s(float(np.median(np.diff(times))) if len(times) > 1 else 0.0, INTEGRAL_GAP_S)


def _with_points(at: Floats, level_c: Floats, extra: Floats) -> tuple[Floats, Floats]:
    """Times and temperatures with further moments put in on the straight lines between them."""
    new = np.setdiff1d(extra, at)
    if not len(new):
        return at, level_c
    merged = np.sort(np.concatenate([at, new]))
    return merged, np.interp(merged, at, level_c)
