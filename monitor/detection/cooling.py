"""Falls of the paste's temperature that are no drift: when they began and turned, and what made them.

The one detector behind the alarms, the questions on the phone and the ledger. It walks through a cook as the cook
went, so what it says of a fall at one moment rests on nothing later. What made a fall is a sequential test (Wald,
Sequential Analysis, 1947): the evidence is weighed at fixed moments, and the cause of which two in a row are sure
enough for ``SURE`` is kept; one alone may be a stir that nobody logged. Until then it is either. So a later look may
settle what was open, and never turns lid into heat.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from monitor.detection.cooling_model import STEP_S, log_odds_of_lid
from monitor.detection.grid import UniformSeries, uniform_series
from monitor.model import LONGEST_GRID_S, Floats, History, cook_start

# A fall of this much within ten minutes, and of at least DEEP_C in all, is no drift (judgement).
FALL_C, FALL_WITHIN_S = 1.2, 600.0
DEEP_C = 2.0
# It began where the paste last stood this near its top, and has turned when the paste is this far up from its lowest.
NEAR_TOP_C = 0.3
BACK_C = 1.0
# What falls by less in so long, and by no more than this in all, sinks by itself; a deep one has levelled out.
SINKING_S, SINKING_C, SINKS_C = 1500.0, 1.0, 3.0
# A fall lasts, longer than any stir takes, when it goes by this much in each third of nine minutes. Sound virtual
# cooks fall by 0.5 at most; what a lifted lid or a fading reaction may add for one, two or three thirds beside it.
THIRD_S = 180.0
LASTING_C = (0.8, 1.4, 1.4, 2.0)
# How sure the cause must be to be named; the one threshold for everybody.
SURE = 0.95
# The evidence is weighed while the paste falls, and again after it has turned.
WEIGHED_EVERY_S, WEIGHED_FOR_S = 120.0, 1800.0
WEIGHED_AFTER_TURN_S = (300.0, 600.0, 1200.0, 2100.0)
# It looks this far before the begin; and not before the fall is deep and so old.
LOOKS_BACK_S = 600.0
WEIGHED_FROM_S = 480.0
# The wall's probe tells with readings in this share of the bins (judgement).
WALL_FILLED = 0.4
# A logged stir or look explains a short fall that begins so long before it, or after.
STIR_FALLS_BEFORE_S, STIR_FALLS_AFTER_S = 300.0, 180.0
LIFTED = ("stirred", "checked", "looked")
# An open crock settles above this; below it only the heat can be gone (judgement).
COLDEST_OPEN_C = 64.0
# Readings from before the start show how the paste stood.
BEFORE_START_S = 600.0


class Cause(Enum):
    """What made a paste fall, as far as its curve tells."""

    LID_OPEN = "lid open"
    HEAT_LOST = "heat lost"
    EITHER = "either"


@dataclass(frozen=True, slots=True)
class Fall:
    """One fall. Unix seconds: begins to turned, which is None while the paste falls.

    lasting_from: since when it has lasted longer than a stir takes, None while it has not. depth_c: what was lost.
    lid_share: the probability of an open lid, 0 to 1; the rest is that of lost heat. cause: what may be said of it.
    stirred: a stir or a look that was logged explains it.
    """

    begins: float
    turned: float | None
    lasting_from: float | None
    depth_c: float
    lid_share: float
    cause: Cause
    stirred: bool = False

    @property
    def certainty(self) -> float:
        """The probability of what is said, 0 to 1."""
        if self.cause is Cause.EITHER:
            return 1.0
        return self.lid_share if self.cause is Cause.LID_OPEN else 1.0 - self.lid_share


@dataclass(frozen=True, slots=True)
class _Stretch:
    """Places on the grid. deep: where it was first as deep as a fall must be."""

    begins: int
    deep: int
    low: int
    # Where the turn was known; None while it falls.
    known: int | None


def falls(history: History, now: float = math.inf) -> tuple[Fall, ...]:
    """The falls of a cook as known by ``now`` (Unix seconds), in order. Never raises for what a history holds."""
    curves = _curves(history, now)
    if curves is None:
        return ()
    paste, wall = curves
    level = _calmed(paste.value)
    found = []
    for stretch in _stretches(level):
        times = paste.times
        lasting = _lasting(paste, stretch)
        stirred = lasting is None and _stirred(history, paste, stretch)
        lid_share, cause = (1.0, Cause.LID_OPEN) if stirred else _cause(history, paste, wall, stretch)
        turned = None if stretch.known is None else float(times[stretch.low])
        lost_c = float(level[stretch.begins] - level[stretch.low])
        found.append(Fall(float(times[stretch.begins]), turned, lasting, lost_c, lid_share, cause, stirred))
    return tuple(found)


def least_of_thirds(now: Floats, one_back: Floats, two_back: Floats, three_back: Floats) -> Floats:
    """By how much the paste fell at least in each third of ``3 * THIRD_S``, degC; by its temperature at the borders."""
    least: Floats = np.minimum(np.minimum(three_back - two_back, two_back - one_back), one_back - now)
    return least


def cause_at(found: tuple[Fall, ...], moment: float) -> Cause:
    """What is said of the fall that lasts at a moment (Unix seconds); either where the curve shows none there."""
    near = [
        one
        for one in found
        if one.lasting_from is not None
        and one.begins <= moment
        and (one.turned is None or moment <= one.turned + THIRD_S)
    ]
    return near[-1].cause if near else Cause.EITHER


def _curves(history: History, now: float) -> tuple[UniformSeries, UniformSeries | None] | None:
    """Paste and wall on one grid whose bins stay where they are as the cook goes on."""
    start = cook_start(history)
    times, temperatures_c = history.temperature_c("paste")
    if start is None or len(times) < 2:
        return None
    end = min(float(times[-1]), history.as_of, now, history.finished() or math.inf)
    begin = max(start - BEFORE_START_S, float(times[0]), end - LONGEST_GRID_S)
    if not math.isfinite(begin + end):
        return None
    begin = math.floor(begin / STEP_S) * STEP_S
    paste = uniform_series(times, temperatures_c, begin, end, STEP_S)
    if paste is None:
        return None
    wall = uniform_series(*history.temperature_c("wall"), begin, end, STEP_S)
    return paste, wall


def _calmed(value: Floats) -> Floats:
    """The median of each bin and the two before it."""
    padded = np.concatenate([value[:1], value[:1], value])
    calmed: Floats = np.median([padded[:-2], padded[1:-1], padded[2:]], axis=0)
    return calmed


def _stretches(level: Floats) -> Iterator[_Stretch]:
    """Where the curve falls and turns; each known by what came before it was."""
    within, sinking = round(FALL_WITHIN_S / STEP_S), round(SINKING_S / STEP_S)
    if len(level) <= 1:
        return
    padded = np.concatenate([np.full(within, level[0]), level])
    highest = np.lib.stride_tricks.sliding_window_view(padded, within + 1).max(axis=1)
    falling = np.flatnonzero(highest - level >= FALL_C)
    after, i = 0, 0
    while len(ahead := falling[falling >= i]):
        i = int(ahead[0])
        first = max(after, i - within)
        top = first + int(np.argmax(level[first : i + 1]))
        if level[top] - level[i] < FALL_C:
            i += 1
            continue
        begins = top + int(np.flatnonzero(level[top : i + 1] > level[top] - NEAR_TOP_C)[-1])
        found, low = _follow(level, begins, i, sinking)
        if found is not None:
            yield found
        after = max(low, i)
        i = after + 1


def _follow(level: Floats, begins: int, i: int, sinking: int) -> tuple[_Stretch | None, int]:
    """The fall that was seen at ``i``, if it is one, and its lowest place."""
    low, known, sinks = i, None, False
    for j in range(i, len(level)):
        if level[j] < level[low]:
            low = j
        elif level[j] > level[low] + BACK_C:
            known = j
            break
        if j - i >= sinking and level[j - sinking] - level[j] < SINKING_C:
            low = min(low, j - sinking) if level[begins] - level[low] < SINKS_C else low
            sinks, known = level[begins] - level[low] < SINKS_C, j
            break
    deep = np.flatnonzero(level[begins] - level[i : low + 1] >= DEEP_C)
    if sinks or not len(deep):
        return None, low
    return _Stretch(begins, i + int(deep[0]), low, known), low


def _lasting(paste: UniformSeries, stretch: _Stretch) -> float | None:
    third = round(THIRD_S / STEP_S)
    last = stretch.low if stretch.known is not None else len(paste) - 1
    level = 0.5 * (paste.value + np.concatenate([paste.value[:1], paste.value[:-1]]))
    at = np.arange(max(stretch.begins, 3 * third), last + 1)
    if not len(at):
        return None
    least = least_of_thirds(level[at], level[at - third], level[at - 2 * third], level[at - 3 * third])
    long: NDArray[np.intp] = np.flatnonzero((least >= LASTING_C[0]) & paste.seen[at])
    return float(paste.times[at[long[0]]]) if len(long) else None


def _stirred(history: History, paste: UniformSeries, stretch: _Stretch) -> bool:
    begins = float(paste.times[stretch.begins])
    return any(
        -STIR_FALLS_AFTER_S <= event.measured - begins <= STIR_FALLS_BEFORE_S for event in history.events_of(*LIFTED)
    )


def _cause(
    history: History, paste: UniformSeries, wall: UniformSeries | None, stretch: _Stretch
) -> tuple[float, Cause]:
    """The probability of an open lid when last weighed, and what may be said."""
    lid_share, before = 0.5, Cause.EITHER
    for end, turned in _weighed(paste, stretch):
        lid_share = _lid_share(history, paste, wall, stretch.begins, end, turned)
        sure = Cause.LID_OPEN if lid_share >= SURE else Cause.HEAT_LOST if lid_share <= 1.0 - SURE else Cause.EITHER
        if sure is before is not Cause.EITHER:
            return lid_share, sure
        before = sure
    return lid_share, Cause.EITHER


def _weighed(paste: UniformSeries, stretch: _Stretch) -> Iterator[tuple[int, int | None]]:
    """The moments at which the evidence is weighed: one past the last bin that is looked at, and the turn if known.

    Only where the bin after has a reading, by which the ones before are settled for good.
    """
    first = max(stretch.deep, stretch.begins + round(WEIGHED_FROM_S / STEP_S))
    until = min(len(paste), stretch.begins + round(WEIGHED_FOR_S / STEP_S))
    turned = len(paste) if stretch.known is None else stretch.known
    for end in range(first, until, round(WEIGHED_EVERY_S / STEP_S)):
        if end < turned and paste.filled[end]:
            yield end, None
    if stretch.known is None:
        return
    for after_s in WEIGHED_AFTER_TURN_S:
        end = max(stretch.low + round(after_s / STEP_S), stretch.known)
        if end < len(paste) and paste.filled[end]:
            yield end, stretch.low


def _lid_share(
    history: History, paste: UniformSeries, wall: UniformSeries | None, begins: int, end: int, turned: int | None
) -> float:
    first = max(0, begins - round(LOOKS_BACK_S / STEP_S))
    if float(paste.value[begins:end].min()) < COLDEST_OPEN_C:
        return 0.0
    whole = wall is not None and wall.filled[end] and wall.filled[first:end].mean() >= WALL_FILLED
    wall_c = wall.value[first:end] if wall is not None and whole else None
    turn = None if turned is None else turned - first
    odds = log_odds_of_lid(paste.value[first:end], wall_c, begins - first, turn, _stirs(history, paste, first, end))
    return 1.0 / (1.0 + math.exp(-max(-30.0, min(30.0, odds))))


def _stirs(history: History, paste: UniformSeries, first: int, end: int) -> tuple[int, ...]:
    """Where the lid was lifted for a stir or a look, as far as it was logged by the end of what is looked at."""
    begin, known_by = float(paste.times[first]), float(paste.times[end])
    logged = [event for event in history.events_of(*LIFTED) if event.known <= known_by and event.measured >= begin]
    return tuple(sorted({round((event.measured - begin) / STEP_S) for event in logged}))
