"""From "beyond the limit" at every reading to the intervals of an alarm, by deadband and delays.

Deadband, on-delay and off-delay are the terms of IEC 62682 (from memory).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from monitor.model import Floats

Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class AlarmInterval:
    """One interval of an alarm.

    name: of the alarm. began, ended: Unix seconds; ended is None while the alarm stands. text: one plain sentence for a
    person while the alarm stands; past_text: the same once it is over.
    """

    name: str
    began: float
    ended: float | None
    text: str
    past_text: str = ""


@dataclass(frozen=True, slots=True)
class Exceedance:
    """From when to when a value was beyond its limit, with the delays applied.

    began, ended: Unix seconds; ended is None while it lasts.
    """

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
    """The exceedances of a limit with a deadband, an on-delay and an off-delay, in order.

    times: Unix seconds, ascending, shape (n,). beyond: whether each value is beyond the limit; back: whether it is on
    the good side of the deadband; shape (n,). on_delay_s, off_delay_s: how long the one and the other must last to
    count, s. A state lasts to the next reading that is otherwise, or to ``now`` (Unix seconds).

    >>> at = np.arange(0.0, 60.0, 10.0)
    >>> hot = np.array([False, True, True, True, False, False])
    >>> debounce(at, hot, ~hot, 15.0, 15.0, 60.0)
    [Exceedance(began=10.0, ended=40.0)]
    """
    if not beyond.any():
        return []
    ends = np.append(times, now)
    on = [(times[i], ends[j]) for i, j in runs(beyond) if ends[j] - times[i] >= on_delay_s]
    if not on:
        return []
    off = [(times[i], times[i] + off_delay_s) for i, j in runs(back) if ends[j] - times[i] >= off_delay_s]
    exceeded: list[Exceedance] = []
    for began, _ in on:
        if exceeded and (exceeded[-1].ended is None or began < exceeded[-1].ended):
            continue
        ended = next((first for first, sure in off if first > began and sure <= now), None)
        exceeded.append(Exceedance(float(began), None if ended is None else float(ended)))
    return exceeded


def duration_text(seconds: float) -> str:
    """A duration as it stands in a sentence.

    >>> duration_text(42), duration_text(600), duration_text(9000)
    ('42 s', '10 min', '2 h')
    """
    if seconds < 120:
        return f"{seconds:.0f} s"
    if seconds < 7200:
        return f"{seconds / 60:.0f} min"
    return f"{seconds / 3600:.0f} h"
