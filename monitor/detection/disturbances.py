"""What disturbed a cook, read from its curve and its events: the plateau, the warm-up and the spells of lost heat.

A spell is a fall that the detector found. Whether the lid was off or the heat was gone is what the person logged, else
what the detector says of it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from monitor.detection.cause_text import WORDS
from monitor.detection.cooling import Cause, Fall
from monitor.model import Event, Floats

GRID_S = 60.0
# The exotherm's peak settles in the first half hour without anything being wrong.
SETTLING_S = 1500.0
# How fast a paste that was disturbed while warming would have gone on (science, section 6: lags of 20 to 60 min).
USUAL_LAG_S = 2400.0
# What the reaction heats a paste above its plateau goes as slowly as the reaction does.
EXOTHERM_S = 7200.0
LAGS_S = tuple(60.0 * minutes for minutes in range(20, 76, 5))
# What is short by less no longer counts; just after the turn the way back is rounded, for so many minutes.
LEAST_SHORT_C, TURNING = 0.2, 10
# The plateau of a disturbed cook may be so much higher than it looks. A paste strays by so much from its plateau, for
# so many minutes alike; the plateaus of one kitchen differ by so much (judgement).
HIGHER_C = (0.0, 0.5, 1.0, 1.5, 2.0, 3.0)
UNEVEN_C, SAME_FOR, SCATTER_C = 1.0, 10.0, 1.0
# A paste that began hot comes down to its plateau in this share of the cook.
LATE_SHARE = 0.4
WARM_UP_S = 2700.0
WARM_WITHIN_C = 1.5
# A stir or a sample lifts the lid for a moment; the paste is back under its curve after this.
BEFORE_OPENING_S, AFTER_OPENING_S = 150.0, 600.0
# What a person logs and what the curve shows belong together within this.
NEAR_S = 600.0

LID, HEAT = WORDS[Cause.LID_OPEN].ledger, WORDS[Cause.HEAT_LOST].ledger


@dataclass(frozen=True)
class Disturbance:
    """A stretch that cost heat. kind: a line of the ledger.

    begins, turned, ends: Unix seconds; begins to turned is the fall, to ends the way back.

    logged: whether a person said so. brief: a lid lifted for a stir or a sample. short_c: by how much the paste is
    short of where it would have been on its way back, degC for each minute from turned on.
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
    """plateau_c: where the paste settled when nothing was wrong. warm: Unix seconds when it first came there."""

    plateau_c: float
    warm: float
    spells: tuple[Disturbance, ...]


def find_disturbances(
    times: Floats, temperatures_c: Floats, found: Sequence[Fall], events: tuple[Event, ...], usual_c: float
) -> DisturbanceReport:
    """What disturbed the cook. times (Unix seconds), temperatures_c: from the start to the end, shape (n,), n >= 2.

    found: the falls of the cook; events: both in order. usual_c: where the kitchen's paste settles, which counts where
    a spell leaves doubt.
    """
    grid = np.arange(times[0], times[-1], GRID_S)
    level = _smooth(np.interp(grid, times, temperatures_c))
    placed = _places(grid, level, found)
    falls = [place[:3] for place in placed]
    plateau_c = _plateau(grid, level, falls)
    backs: list[Floats] = []
    if falls:
        plateau_c, backs = _likeliest(grid, level, falls, plateau_c, usual_c)
        falls = [(begins, low, low + len(short)) for (begins, low, _), short in zip(falls, backs, strict=True)]
    warm = _warm(grid, level, falls, plateau_c)
    spells = [
        _spell(grid, fall, place[3], events, short) for fall, place, short in zip(falls, placed, backs, strict=True)
    ]
    spells += _openings(events, spells, float(times[0]), float(times[-1]))
    return DisturbanceReport(plateau_c, warm, tuple(sorted(spells, key=lambda spell: spell.begins)))


def _smooth(level: Floats) -> Floats:
    padded = np.pad(level, 2, mode="edge")
    result: Floats = np.median(np.lib.stride_tricks.sliding_window_view(padded, 5), axis=1)
    return result


def _places(grid: Floats, level: Floats, found: Sequence[Fall]) -> list[tuple[int, int, int, Fall]]:
    """Where each fall begins, turns and is back, as places on the minute grid."""
    places: list[tuple[int, int, int, Fall]] = []
    for fall in found:
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
    # One that begins before the last is back ends it.
    ends = [*(place[0] for place in places), len(level)][1:]
    return [
        (begins, min(low, end), min(back, end), fall)
        for (begins, low, back, fall), end in zip(places, ends, strict=True)
    ]


def _likeliest(
    grid: Floats, level: Floats, falls: list[tuple[int, int, int]], seen_c: float, usual_c: float
) -> tuple[float, list[Floats]]:
    """The plateau of a disturbed cook, and what each spell still costs on the way back.

    A slow way back to a high plateau looks much like a quick one to a low plateau. The one is taken that leaves the
    levelest curve when what is missing is put back, and lies near where the kitchen's paste settles.
    """
    best: tuple[float, float, list[Floats]] | None = None
    for over_c in HIGHER_C:
        plateau_c = seen_c + over_c
        backs = [_way_back(level, falls, k, plateau_c) for k in range(len(falls))]
        mended = level.copy()
        for (_, low, _), short in zip(falls, backs, strict=True):
            mended[low : low + len(short)] += short
        late = _late(grid, [(begins, low, low + TURNING) for begins, low, _ in falls])
        off_c = mended[late] - plateau_c
        unlike = float(np.sum(off_c**2)) / (UNEVEN_C**2 * SAME_FOR) + ((plateau_c - usual_c) / SCATTER_C) ** 2
        if best is None or unlike < best[0]:
            best = unlike, plateau_c, backs
    assert best is not None
    return best[1], best[2]


def _way_back(level: Floats, falls: list[tuple[int, int, int]], k: int, plateau_c: float) -> Floats:
    """By how much the paste is short of where it would have been, degC for each minute from the turn of a fall.

    What is missing at the turn fades, as fast as leads it back to the curve it would have followed.
    """
    begins, low, _ = falls[k]
    latest = falls[k + 1][0] if k + 1 < len(falls) else len(level)
    since_s: Floats = np.arange(max(latest - low, 1), dtype=np.float64) * GRID_S
    would_be = going_on(float(level[begins]), plateau_c, since_s + (low - begins) * GRID_S)
    missing_c = max(float(would_be[0] - level[low]), 0.0)
    ways: list[Floats] = [missing_c * np.exp(-since_s / lag_s) for lag_s in LAGS_S]
    off = [float(np.mean((level[low : low + len(short)] + short - would_be) ** 2)) for short in ways]
    best = ways[int(np.argmin(off))] if len(since_s) > TURNING else ways[LAGS_S.index(USUAL_LAG_S)]
    return best[: max(int(np.count_nonzero(best > LEAST_SHORT_C)), 1)]


def going_on(from_c: float, plateau_c: float, seconds: Floats) -> Floats:
    """The temperature, degC, of a paste left alone for so long, on its way to the plateau."""
    lag_s = USUAL_LAG_S if from_c < plateau_c else EXOTHERM_S
    result: Floats = plateau_c + (from_c - plateau_c) * np.exp(-seconds / lag_s)
    return result


def _undisturbed(size: int, falls: list[tuple[int, int, int]]) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    calm = np.ones(size, dtype=bool)
    for begins, _, back in falls:
        calm[begins : back + 1] = False
    return calm


def _late(grid: Floats, falls: list[tuple[int, int, int]]) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Where the curve stands on its plateau unless something is wrong."""
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


def _spell(
    grid: Floats, place: tuple[int, int, int], fall: Fall, events: tuple[Event, ...], short: Floats
) -> Disturbance:
    begins, low, back = (float(grid[min(i, len(grid) - 1)]) for i in place)
    logged = [
        event
        for event in events
        if event.kind in ("lid off", "heat", "heat off") and begins - NEAR_S <= event.measured <= low
    ]
    kind = WORDS[fall.cause].ledger
    if logged:
        nearest = min(logged, key=lambda event: abs(event.measured - begins))
        kind = LID if nearest.kind == "lid off" else HEAT
    return Disturbance(kind, begins, low, back, bool(logged) or fall.stirred, short_c=tuple(short))


def _openings(events: tuple[Event, ...], spells: list[Disturbance], start: float, end: float) -> list[Disturbance]:
    """The lid lifted for a stir or a sample, or logged as off, where no deeper spell tells of it already."""
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
    kept: list[Disturbance] = []
    for spell in sorted(found, key=lambda spell: (spell.brief, spell.begins)):
        taken = [*spells, *kept]
        begins, ends = spell.begins, spell.ends
        for other in taken:
            if other.begins <= begins < other.ends:
                begins = other.ends
            elif begins < other.begins < ends:
                ends = other.begins
        if ends - begins >= GRID_S:
            kept.append(Disturbance(spell.kind, begins, min(max(spell.turned, begins), ends), ends, True, spell.brief))
    return kept
