"""A paste that falls for longer than any stir takes: the lid was left off, or the heat is gone.

With two probes the wall tells which: without heat it falls ahead of the paste, under an open lid it stays behind.
With one, the paste's own course does: an open lid cools it at once and ever less, a cold element late and ever more.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from monitor.history import Floats
from monitor.noticing.curve import Curve

# A paste that has lost this much in ten minutes, and still loses in their second half, was not just stirred.
FALL_S = 600.0
FALLEN_C = 2.5
STILL_FALLING_C = 0.9
# It is on its way up again when it gains this much in five minutes.
RISE_S = 300.0
RISEN_C = 0.7
# It has levelled out when it loses less than this in five minutes. Falls that level or rise sooner were stirs.
LEVEL_C = 0.3
LASTS_S = 480.0
# Between wall and paste, six minutes into the fall (degC): how far the gap must have closed, or opened.
GAP_AFTER_S = 360.0
CLOSED_C, OPENED_C = 2.0, 1.0
# Share of the ten minutes' fall that came in the first four: more of it under an open lid.
FIRST_S = 240.0
LID_SHARE = 0.44
SURE_TWO, SURE_ONE = 0.9, 0.65


@dataclass(frozen=True, slots=True)
class Fall:
    """One long fall. began, ended: Unix seconds; ended is None while the paste has not come up again.

    heat: whether the heat was gone, else the lid was off. certainty: of that being so, 0 to 1.
    """

    began: float
    ended: float | None
    heat: bool
    certainty: float


def falls(paste: Curve, wall: Curve | None, settled: float) -> list[Fall]:
    """The long falls that the curves show after ``settled`` (Unix seconds), in order. wall: on the paste's grid."""
    span = round(FALL_S / paste.step_s)
    level = _smooth(paste.value, round(60.0 / paste.step_s))
    count = len(level) - span
    if count < 1:
        return []
    half = span // 2
    lost = level[:count] - level[span:]
    late = level[half : half + count] - level[span:]
    falling = (lost >= FALLEN_C) & (late >= STILL_FALLING_C) & (paste.times[:count] >= settled)
    falling &= paste.seen[:count] & paste.seen[span:]
    found: list[Fall] = []
    after = 0
    while (begin := _first(falling, after)) is not None:
        onset = _onset(level, begin, span)
        end = _rises(level, begin + half, round(RISE_S / paste.step_s))
        heat, certainty = _what(level, None if wall is None else wall.value, onset, paste.step_s)
        if (_levels(level, begin + half, half) - onset) * paste.step_s >= LASTS_S:
            times = paste.times
            found.append(Fall(float(times[onset]), None if end is None else float(times[end]), heat, certainty))
        if end is None:
            break
        after = max(end, begin + 1)
    return found


def _smooth(value: Floats, width: int) -> Floats:
    if width < 2:
        return value
    weights = np.ones(width)
    held: Floats = np.convolve(value, weights, "same") / np.convolve(np.ones(len(value)), weights, "same")
    return held


def _first(flags: NDArray[np.bool_], after: int) -> int | None:
    places = np.flatnonzero(flags[after:])
    return after + int(places[0]) if len(places) else None


def _onset(level: Floats, begin: int, span: int) -> int:
    """Where the curve bends down: the point furthest above the straight line from before to well into the fall."""
    first, last = max(0, begin - span // 2), min(begin + span, len(level) - 1)
    along = np.linspace(level[first], level[last], last - first + 1)
    return first + int(np.argmax(level[first : last + 1] - along))


def _rises(level: Floats, after: int, span: int) -> int | None:
    """Where the paste is lowest before it rises again."""
    count = len(level) - span
    if after >= count:
        return None
    place = _first(level[after + span :] - level[after:count] >= RISEN_C, 0)
    if place is None:
        return None
    low = max(0, after + place - span)
    return low + int(np.argmin(level[low : after + place + span]))


def _levels(level: Floats, after: int, span: int) -> int:
    """Where the paste stops falling, for good or for a while; the last place while it has not."""
    count = len(level) - span
    place = _first(level[after:count] - level[after + span :] < LEVEL_C, 0) if after < count else None
    return len(level) - 1 if place is None else after + place


def _what(level: Floats, wall: Floats | None, onset: int, step_s: float) -> tuple[bool, float]:
    """Whether it is the heat that is gone, and how surely."""
    behind = max(0, onset - round(120.0 / step_s))
    if wall is not None:
        here = min(onset + round(GAP_AFTER_S / step_s), len(level) - 1)
        opened = (wall[here] - level[here]) - (wall[behind] - level[behind])
        if opened <= -CLOSED_C:
            return True, SURE_TWO
        if opened >= OPENED_C:
            return False, SURE_TWO
    four = min(onset + round(FIRST_S / step_s), len(level) - 1)
    ten = min(onset + round(FALL_S / step_s), len(level) - 1)
    share = (level[onset] - level[four]) / max(float(level[onset] - level[ten]), 0.1)
    return bool(share < LID_SHARE), SURE_ONE
