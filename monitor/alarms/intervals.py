"""From "beyond the limit" at every reading to spells of a condition, by deadband and delays (IEC 62682)."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from monitor.model import Floats

Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class AlarmInterval:
    """A condition's stay. began: when it was first beyond its limit; ended: when it was back, None while it stands.

    Unix seconds. words: one plain sentence for a person, as long as it stands; over: the same once it is past.
    """

    name: str
    began: float
    ended: float | None
    words: str
    over: str = ""


@dataclass(frozen=True, slots=True)
class Exceedance:
    """From when to when something was beyond its limit, its delays served. Unix seconds; ended None while it lasts."""

    began: float
    ended: float | None


def runs(flags: Flags) -> list[tuple[int, int]]:
    """Where flags are set: (first, one past the last) of each run; flags of shape (n,).

    >>> runs(np.array([True, True, False, True]))
    [(0, 2), (3, 4)]
    """
    if not flags.any():
        return []
    edges = np.flatnonzero(np.diff(np.concatenate(([False], flags, [False])).astype(np.int8)))
    return list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True))


def debounce(
    times: Floats, beyond: Flags, back: Flags, on_delay_s: float, off_delay_s: float, now: float
) -> list[Exceedance]:
    """The stays of a condition, in order.

    times: Unix seconds, shape (n,). beyond: past the limit; back: on the good side of the deadband; shape (n,).
    on_delay_s, off_delay_s: how long the one or the other must last to count; a state lasts to the next reading that
    is otherwise, or to ``now``.
    """
    if not beyond.any():
        return []
    ends = np.append(times, now)
    on = [(times[i], ends[j]) for i, j in runs(beyond) if ends[j] - times[i] >= on_delay_s]
    if not on:
        return []
    off = [(times[i], times[i] + off_delay_s) for i, j in runs(back) if ends[j] - times[i] >= off_delay_s]
    found: list[Exceedance] = []
    for began, _ in on:
        if found and (found[-1].ended is None or began < found[-1].ended):
            continue
        ended = next((first for first, sure in off if first > began and sure <= now), None)
        found.append(Exceedance(float(began), None if ended is None else float(ended)))
    return found


def duration_text(seconds: float) -> str:
    """A length of time in a sentence.

    >>> duration_text(42), duration_text(600), duration_text(9000)
    ('42 s', '10 min', '2 h')
    """
    if seconds < 120:
        return f"{seconds:.0f} s"
    if seconds < 7200:
        return f"{seconds / 60:.0f} min"
    return f"{seconds / 3600:.0f} h"
