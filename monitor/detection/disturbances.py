"""What disturbed a cook, by its curve and its events: the plateau, the warm-up and the stretches of lost heat.

A disturbance is a fall that the detector found, or a lid that was logged as lifted. Its cause is what a person logged,
else what the detector found.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from monitor.detection.cause_text import CAUSE_TEXT
from monitor.detection.cooling import Cause, Fall
from monitor.model import Event, Floats

GRID_S = 60.0
# The peak of the exotherm settles in the first half hour although nothing is wrong.
SETTLING_S = 1500.0
# The thermal lag with which a disturbed paste would have gone on warming (household cookers: 20 to 60 min, judgement).
USUAL_LAG_S = 2400.0
# A paste that the reaction heated above its plateau comes down as slowly as the reaction fades.
EXOTHERM_S = 7200.0
LAGS_S = tuple(60.0 * minutes for minutes in range(20, 76, 5))
# A shortfall below this no longer counts. Just after the turn the recovery is rounded, for this many minutes.
LEAST_SHORT_C, TURNING = 0.2, 10
# The plateau of a disturbed cook may be higher than it looks by one of these.
HIGHER_C = (0.0, 0.5, 1.0, 1.5, 2.0, 3.0)
# Standard deviation of a paste about its plateau, degC; minutes for which it strays alike; standard deviation of the
# plateaus of one kitchen, degC (judgement).
UNEVEN_C, SAME_FOR, SCATTER_C = 1.0, 10.0, 1.0
# A paste that began hot comes down to its plateau in this share of the cook.
LATE_SHARE = 0.4
WARM_UP_S = 2700.0
WARM_WITHIN_C = 1.5
# A stir or a sample lifts the lid for a moment; the paste is back under its curve after this.
BEFORE_OPENING_S, AFTER_OPENING_S = 150.0, 600.0
# What a person logs and what the curve shows belong together within this.
NEAR_S = 600.0

LID, HEAT = CAUSE_TEXT[Cause.LID_OPEN].loss, CAUSE_TEXT[Cause.HEAT_LOST].loss


@dataclass(frozen=True)
class Disturbance:
    """A stretch that cost heat.

    kind: name of its loss. begins, turned, ends: Unix seconds; the paste falls from begins to turned and recovers until
    ends. logged: whether a person logged it. brief: a lid lifted for a stir or a sample. short_c: how far the paste is
    below the temperature it would have had, degC, for each minute from turned on.
    """

    kind: str
    begins: float
    turned: float
    ends: float
    logged: bool
    brief: bool = False
    short_c: tuple[float, ...] = ()


@dataclass(frozen=True)
class DisturbanceReport:
    """What disturbed a cook.

    plateau_c: temperature at which the paste settled when nothing was wrong, degC. warm: when it first came there, Unix
    seconds. disturbances: in order of time.
    """

    plateau_c: float
    warm: float
    disturbances: tuple[Disturbance, ...]


def find_disturbances(
    times: Floats, temperatures_c: Floats, seen: Sequence[Fall], events: tuple[Event, ...], usual_c: float
) -> DisturbanceReport:
    """What disturbed a cook.

    times (Unix seconds), temperatures_c: of the paste from the start to the end, shape (n,), n >= 2. seen: the falls
    that the detector found, in order. events: of the cook, in order. usual_c: plateau of the kitchen, degC, which
    decides where a disturbance leaves the plateau of this cook open.
    """
    grid = np.arange(times[0], times[-1], GRID_S)
    level = _smooth(np.interp(grid, times, temperatures_c))
    placed = _places(grid, level, seen)
    falls = [place[:3] for place in placed]
    plateau_c = _plateau(grid, level, falls)
    shortfalls: list[Floats] = []
    if falls:
        plateau_c, shortfalls = _likeliest_plateau(grid, level, falls, plateau_c, usual_c)
        falls = [(begins, low, low + len(short)) for (begins, low, _), short in zip(falls, shortfalls, strict=True)]
    warm = _warm(grid, level, falls, plateau_c)
    disturbances = [
        _disturbance(grid, fall, place[3], events, short)
        for fall, place, short in zip(falls, placed, shortfalls, strict=True)
    ]
    disturbances += _openings(events, disturbances, float(times[0]), float(times[-1]))
    return DisturbanceReport(plateau_c, warm, tuple(sorted(disturbances, key=lambda disturbance: disturbance.begins)))


def _smooth(level: Floats) -> Floats:
    padded = np.pad(level, 2, mode="edge")
    result: Floats = np.median(np.lib.stride_tricks.sliding_window_view(padded, 5), axis=1)
    return result


def _places(grid: Floats, level: Floats, seen: Sequence[Fall]) -> list[tuple[int, int, int, Fall]]:
    """Where each fall begins, turns and has recovered, as places on the minute grid, with the fall itself."""
    places: list[tuple[int, int, int, Fall]] = []
    for fall in seen:
        begins = round((fall.begins - grid[0]) / GRID_S)
        if not 0 <= begins < len(level) - 1:
            continue
        until = len(level) - 1 if fall.turned is None else round((fall.turned - grid[0]) / GRID_S)
        low = max(begins + 1, min(until, len(level) - 1))
        back = low
        while back < len(level) - 1 and level[back] < level[begins] - 0.5:
            back += 1
        settles = begins * GRID_S < SETTLING_S and level[back] < level[begins] - 0.5
        if not settles:
            places.append((begins, low, back, fall))
    # A fall that begins before the last has recovered ends it.
    ends = [*(place[0] for place in places), len(level)][1:]
    return [
        (begins, min(low, end), min(back, end), fall)
        for (begins, low, back, fall), end in zip(places, ends, strict=True)
    ]


def _likeliest_plateau(
    grid: Floats, level: Floats, falls: list[tuple[int, int, int]], seen_c: float, usual_c: float
) -> tuple[float, list[Floats]]:
    """The plateau of a disturbed cook, degC, and the shortfall of each fall while it recovers, degC.

    A slow recovery to a high plateau looks much like a quick one to a low plateau. The plateau is taken that leaves the
    most even curve once the shortfall is added back, and that lies near the kitchen's. seen_c: as it looks, degC.
    """
    best: tuple[float, float, list[Floats]] | None = None
    for over_c in HIGHER_C:
        plateau_c = seen_c + over_c
        shortfalls = [_shortfall(level, falls, k, plateau_c) for k in range(len(falls))]
        restored = level.copy()
        for (_, low, _), short in zip(falls, shortfalls, strict=True):
            restored[low : low + len(short)] += short
        late = _late(grid, [(begins, low, low + TURNING) for begins, low, _ in falls])
        off_c = restored[late] - plateau_c
        unlike = float(np.sum(off_c**2)) / (UNEVEN_C**2 * SAME_FOR) + ((plateau_c - usual_c) / SCATTER_C) ** 2
        if best is None or unlike < best[0]:
            best = unlike, plateau_c, shortfalls
    assert best is not None
    return best[1], best[2]


def _shortfall(level: Floats, falls: list[tuple[int, int, int]], k: int, plateau_c: float) -> Floats:
    """How far the paste is below the temperature it would have had, degC, for each minute from the turn of fall ``k``.

    The shortfall at the turn fades exponentially, with the lag that leads back to the undisturbed curve.
    """
    begins, low, _ = falls[k]
    latest = falls[k + 1][0] if k + 1 < len(falls) else len(level)
    since_s: Floats = np.arange(max(latest - low, 1), dtype=np.float64) * GRID_S
    would_be = going_on(float(level[begins]), plateau_c, since_s + (low - begins) * GRID_S)
    missing_c = max(float(would_be[0] - level[low]), 0.0)
    candidates: list[Floats] = [missing_c * np.exp(-since_s / lag_s) for lag_s in LAGS_S]
    off = [float(np.mean((level[low : low + len(short)] + short - would_be) ** 2)) for short in candidates]
    best = candidates[int(np.argmin(off))] if len(since_s) > TURNING else candidates[LAGS_S.index(USUAL_LAG_S)]
    return best[: max(int(np.count_nonzero(best > LEAST_SHORT_C)), 1)]


def going_on(from_c: float, plateau_c: float, seconds: Floats) -> Floats:
    """The temperature, degC, of a paste that was left alone for ``seconds`` (any shape), on its way to the plateau."""
    lag_s = USUAL_LAG_S if from_c < plateau_c else EXOTHERM_S
    result: Floats = plateau_c + (from_c - plateau_c) * np.exp(-seconds / lag_s)
    return result


def _undisturbed(size: int, falls: list[tuple[int, int, int]]) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    calm = np.ones(size, dtype=bool)
    for begins, _, back in falls:
        calm[begins : back + 1] = False
    return calm


def _late(grid: Floats, falls: list[tuple[int, int, int]]) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Where on the grid the curve stands on its plateau unless something is wrong, shape (n,)."""
    length_s = grid[-1] - grid[0]
    late: np.ndarray[tuple[int], np.dtype[np.bool_]] = _undisturbed(len(grid), falls) & (
        grid - grid[0] > max(min(WARM_UP_S, 0.6 * length_s), LATE_SHARE * length_s)
    )
    return late


def _plateau(grid: Floats, level: Floats, falls: list[tuple[int, int, int]]) -> float:
    calm = _undisturbed(len(grid), falls)
    late = _late(grid, falls)
    if np.count_nonzero(late) >= 10:
        return float(np.quantile(level[late], 0.7))
    return float(np.max(level[calm])) if calm.any() else float(np.max(level))


def _warm(grid: Floats, level: Floats, falls: list[tuple[int, int, int]], plateau_c: float) -> float:
    there = np.flatnonzero(_undisturbed(len(grid), falls) & (level >= plateau_c - WARM_WITHIN_C))
    return float(grid[there[0]]) if len(there) else float(grid[-1])


def _disturbance(
    grid: Floats, place: tuple[int, int, int], fall: Fall, events: tuple[Event, ...], short: Floats
) -> Disturbance:
    begins, low, back = (float(grid[min(i, len(grid) - 1)]) for i in place)
    logged = [
        event
        for event in events
        if event.kind in ("lid off", "heat", "heat off") and begins - NEAR_S <= event.measured <= low
    ]
    kind = CAUSE_TEXT[fall.cause].loss
    if logged:
        nearest = min(logged, key=lambda event: abs(event.measured - begins))
        kind = LID if nearest.kind == "lid off" else HEAT
    return Disturbance(kind, begins, low, back, bool(logged) or fall.stirred, short_c=tuple(short))


def _openings(events: tuple[Event, ...], falls: list[Disturbance], start: float, end: float) -> list[Disturbance]:
    """The lid lifted for a stir or a sample, or logged as off, where no fall covers it already."""
    found: list[Disturbance] = []
    offs = [event for event in events if event.kind == "lid off" and start < event.measured < end]
    for event in offs:
        on = next((e.measured for e in events if e.kind == "lid on" and e.measured > event.measured), end)
        on = min(on, end)
        found.append(Disturbance(LID, event.measured, on, min(on + AFTER_OPENING_S, end), True))
    for event in events:
        if event.kind in ("stirred", "checked") and start < event.measured < end:
            begins, ends = event.measured - BEFORE_OPENING_S, min(event.measured + AFTER_OPENING_S, end)
            found.append(Disturbance(LID, max(begins, start), event.measured, ends, True, True))
    openings: list[Disturbance] = []
    for one in sorted(found, key=lambda opening: (opening.brief, opening.begins)):
        begins, ends = one.begins, one.ends
        for other in (*falls, *openings):
            if other.begins <= begins < other.ends:
                begins = other.ends
            elif begins < other.begins < ends:
                ends = other.begins
        if ends - begins >= GRID_S:
            openings.append(Disturbance(one.kind, begins, min(max(one.turned, begins), ends), ends, True, one.brief))
    return openings
