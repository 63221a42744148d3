"""Falls of the paste's temperature that are no drift: when they began and turned, and their cause.

The one detector behind the alarms, the suggestions and the time-loss report. It walks through a cook in the order of
time, so its result at one moment rests on nothing later. The cause is found by a sequential test (Wald, Sequential
Analysis, 1947): the evidence is evaluated at fixed moments, and the cause that reaches the probability ``SURE`` at two
of them in a row is kept; one alone may be a stir that nobody logged. Until then the cause is ``EITHER``. So a later
evaluation may settle an open cause, and never turns an open lid into lost heat.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from monitor.detection.cooling_model import STEP_S, log_odds_of_lid
from monitor.detection.grid import UniformSeries, searched_curves
from monitor.model import Event, Floats, History

# A fall of this much within ten minutes, and of at least DEEP_C in all, is no drift (judgement).
FALL_C, FALL_WITHIN_S = 1.2, 600.0
DEEP_C = 2.0
# A fall begins where the paste was last this near its top, and has turned when the paste is this far above its lowest.
NEAR_TOP_C = 0.3
BACK_C = 1.0
# A paste that falls by less than the second value (degC) within the first (s) has levelled out; if it fell by less than
# the third in all, it sinks by itself and that is no fall.
SINKING_S, SINKING_C, SINKS_C = 1500.0, 1.0, 3.0
# A fall lasts, longer than any stir takes, when it goes by this much in each third of nine minutes. Sound virtual
# cooks fall by 0.5 at most; what a lifted lid or a fading reaction may add for one, two or three thirds beside it.
THIRD_S = 180.0
LASTING_C = (0.8, 1.4, 1.4, 2.0)
# The probability that a cause needs to be named: the one threshold for alarms, suggestions and time loss.
SURE = 0.95
# The evidence is evaluated while the paste falls, and again after it has turned, s.
EVALUATED_EVERY_S, EVALUATED_FOR_S = 120.0, 1800.0
EVALUATED_AFTER_TURN_S = (300.0, 600.0, 1200.0, 2100.0)
# The evidence begins this long before the fall; it is not evaluated before the fall is deep and this old.
LOOKS_BACK_S = 600.0
EVALUATED_FROM_S = 480.0
# The wall's probe counts with readings in this share of the bins (judgement).
WALL_FILLED = 0.4
# A logged stir or look explains a short fall that begins at most this long before it, or after it.
STIR_FALLS_BEFORE_S, STIR_FALLS_AFTER_S = 300.0, 180.0
LIFTED = ("stirred", "checked", "looked")
# An open crock settles above this; below it only the heat can be gone (judgement).
COLDEST_OPEN_C = 64.0


class Cause(Enum):
    """The cause of a fall of the paste's temperature, as far as its curve shows it."""

    LID_OPEN = "lid open"
    HEAT_LOST = "heat lost"
    EITHER = "either"


@dataclass(frozen=True, slots=True)
class Fall:
    """One fall of the paste's temperature.

    begins, turned: Unix seconds; turned is None while the paste falls. lasting_from: since when the fall has lasted
    longer than a stir takes, Unix seconds; None while it has not. depth_c: temperature lost, degC. lid_share:
    probability of an open lid, 0 to 1; the rest is that of lost heat. cause: as far as it is known. stirred: whether a
    logged stir or look explains the fall.
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
        """The probability of the cause, 0 to 1."""
        if self.cause is Cause.EITHER:
            return 1.0
        return self.lid_share if self.cause is Cause.LID_OPEN else 1.0 - self.lid_share


@dataclass(frozen=True, slots=True)
class _GridFall:
    """A fall as places on the grid. deep: where it was first as deep as a fall must be."""

    begins: int
    deep: int
    low: int
    # Where the turn became known; None while the paste falls.
    known: int | None


def falls(history: History, now: float = math.inf) -> tuple[Fall, ...]:
    """The falls of a cook as known by ``now`` (Unix seconds), in order. Never raises for what a history holds."""
    curves = searched_curves(history, STEP_S, now)
    if curves is None:
        return ()
    paste, wall = curves.paste, curves.wall
    lifted = [event for event in history.events if event.kind in LIFTED]
    times = paste.times
    level = _median_of_three(paste.value)
    found = []
    for fall in _falls_on_grid(level):
        lasting = _lasting(paste, fall)
        stirred = lasting is None and _stirred(lifted, float(times[fall.begins]))
        lid_share, cause = (1.0, Cause.LID_OPEN) if stirred else _cause(lifted, paste, wall, fall)
        turned = None if fall.known is None else float(times[fall.low])
        depth_c = float(level[fall.begins] - level[fall.low])
        found.append(Fall(float(times[fall.begins]), turned, lasting, depth_c, lid_share, cause, stirred))
    return tuple(found)


def least_of_thirds(now: Floats, one_back: Floats, two_back: Floats, three_back: Floats) -> Floats:
    """The least fall in any third of ``3 * THIRD_S``, degC, shape (n,).

    now, one_back, two_back, three_back: temperature now and one, two and three times THIRD_S earlier, degC, (n,).
    """
    least: Floats = np.minimum(np.minimum(three_back - two_back, two_back - one_back), one_back - now)
    return least


def cause_at(seen: tuple[Fall, ...], moment: float) -> Cause:
    """The cause of the lasting fall at a moment (Unix seconds); EITHER where there is none."""
    near = [
        fall
        for fall in seen
        if fall.lasting_from is not None
        and fall.begins <= moment
        and (fall.turned is None or moment <= fall.turned + THIRD_S)
    ]
    return near[-1].cause if near else Cause.EITHER


def _median_of_three(value: Floats) -> Floats:
    """The median of each bin and the two before it."""
    padded = np.concatenate([value[:1], value[:1], value])
    result: Floats = np.median([padded[:-2], padded[1:-1], padded[2:]], axis=0)
    return result


def _falls_on_grid(level: Floats) -> Iterator[_GridFall]:
    """The falls of a curve (degC, shape (n,)), in order; each rests on nothing later than its ``known``."""
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
        fall, low = _follow(level, begins, i, sinking)
        if fall is not None:
            yield fall
        after = max(low, i)
        i = after + 1


def _follow(level: Floats, begins: int, i: int, sinking: int) -> tuple[_GridFall | None, int]:
    """The fall that shows at place ``i``, if it is deep enough, and its lowest place. sinking: steps of SINKING_S."""
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
    return _GridFall(begins, i + int(deep[0]), low, known), low


def _lasting(paste: UniformSeries, fall: _GridFall) -> float | None:
    """Since when (Unix seconds) a fall has lasted longer than a stir takes, or None."""
    third = round(THIRD_S / STEP_S)
    last = fall.low if fall.known is not None else len(paste.value) - 1
    level = 0.5 * (paste.value + np.concatenate([paste.value[:1], paste.value[:-1]]))
    at = np.arange(max(fall.begins, 3 * third), last + 1)
    if not len(at):
        return None
    least = least_of_thirds(level[at], level[at - third], level[at - 2 * third], level[at - 3 * third])
    long: NDArray[np.intp] = np.flatnonzero((least >= LASTING_C[0]) & paste.seen[at])
    return float(paste.times[at[long[0]]]) if len(long) else None


def _stirred(lifted: Sequence[Event], begins: float) -> bool:
    """Whether a logged stir or look explains a fall. begins: Unix seconds."""
    return any(-STIR_FALLS_AFTER_S <= event.measured - begins <= STIR_FALLS_BEFORE_S for event in lifted)


def _cause(
    lifted: Sequence[Event], paste: UniformSeries, wall: UniformSeries | None, fall: _GridFall
) -> tuple[float, Cause]:
    """The probability of an open lid when last evaluated, and the cause. lifted: the logged stirs and looks."""
    lid_share, before = 0.5, Cause.EITHER
    for end, turned in _evaluations(paste, fall):
        lid_share = _lid_share(lifted, paste, wall, fall.begins, end, turned)
        sure = Cause.LID_OPEN if lid_share >= SURE else Cause.HEAT_LOST if lid_share <= 1.0 - SURE else Cause.EITHER
        if sure is before is not Cause.EITHER:
            return lid_share, sure
        before = sure
    return lid_share, Cause.EITHER


def _evaluations(paste: UniformSeries, fall: _GridFall) -> Iterator[tuple[int, int | None]]:
    """When the evidence is evaluated: the place one past the last bin that counts, and the turn if it is known.

    Only where the bin after has a reading, by which the ones before are settled for good.
    """
    first = max(fall.deep, fall.begins + round(EVALUATED_FROM_S / STEP_S))
    until = min(len(paste.value), fall.begins + round(EVALUATED_FOR_S / STEP_S))
    turned = len(paste.value) if fall.known is None else fall.known
    for end in range(first, until, round(EVALUATED_EVERY_S / STEP_S)):
        if end < turned and paste.filled[end]:
            yield end, None
    if fall.known is None:
        return
    for after_s in EVALUATED_AFTER_TURN_S:
        end = max(fall.low + round(after_s / STEP_S), fall.known)
        if end < len(paste.value) and paste.filled[end]:
            yield end, fall.low


def _lid_share(
    lifted: Sequence[Event], paste: UniformSeries, wall: UniformSeries | None, begins: int, end: int, turned: int | None
) -> float:
    first = max(0, begins - round(LOOKS_BACK_S / STEP_S))
    if float(paste.value[begins:end].min()) < COLDEST_OPEN_C:
        return 0.0
    whole = wall is not None and wall.filled[end] and wall.filled[first:end].mean() >= WALL_FILLED
    wall_c = wall.value[first:end] if wall is not None and whole else None
    turn = None if turned is None else turned - first
    odds = log_odds_of_lid(paste.value[first:end], wall_c, begins - first, turn, _stirs(lifted, paste, first, end))
    return 1.0 / (1.0 + math.exp(-max(-30.0, min(30.0, odds))))


def _stirs(lifted: Sequence[Event], paste: UniformSeries, first: int, end: int) -> tuple[int, ...]:
    """Places where the lid was lifted for a stir or a look, as far as that was logged by place ``end``."""
    begin, known_by = float(paste.times[first]), float(paste.times[end])
    logged = [event for event in lifted if event.known <= known_by and event.measured >= begin]
    return tuple(sorted({round((event.measured - begin) / STEP_S) for event in logged}))
