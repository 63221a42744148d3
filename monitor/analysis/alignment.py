"""Cooks laid over each other: from lid on, from thick trace, or by equivalent time."""

from dataclasses import dataclass

import numpy as np

from monitor.analysis.coverage import clear_bracket
from monitor.analysis.time_loss import ReferencePace
from monitor.estimation import FADE_S, BlockMedian, accumulate, arrhenius_factor, mixing_factor
from monitor.model import Floats, History, cook_start

LID, TRACE, EQUIVALENT = "lid on", "thick trace", "equivalent time"
ALIGNMENTS = (LID, TRACE, EQUIVALENT)
MARKED = ("lid on", "lid off", "stirred", "checked", "heat off", "finished")


@dataclass(frozen=True)
class AlignedCourse:
    """One cook along the common axis.

    zero: Unix seconds where the axis begins. at: seconds from there, or equivalent seconds at 95 degC, shape (n,),
    never falling. moments: Unix seconds of each. temperature_c: shape (n,). marks: (place on the axis, kind, result of
    a check or ""). clear: place of the first clear check, or None.
    """

    zero: float
    at: Floats
    moments: Floats
    temperature_c: Floats
    marks: tuple[tuple[float, str, str], ...]
    clear: float | None


def align(history: History, way: str, stick: ReferencePace) -> AlignedCourse | None:
    """A cook laid along one of WAYS; None where it has no such beginning or no temperatures.

    stick: the pace that equivalent time is counted by, the same for all cooks that are compared.
    Raises ValueError for another way.
    """
    if way not in ALIGNMENTS:
        raise ValueError(f"way is {way!r}; it must be one of {', '.join(ALIGNMENTS)}")
    blocks = BlockMedian()
    blocks.extend(*history.temperature_c("paste"))
    times, level = blocks.arrays()
    zero = _zero(history, way)
    if zero is None or not np.any(times >= zero):
        return None
    if way == EQUIVALENT:
        keep = times >= zero
        moments = np.concatenate([[zero], times[keep]])
        temperature_c = np.concatenate([[np.interp(zero, times, level)], level[keep]])
        at = _equivalent(history, moments, temperature_c, stick)
    else:
        moments, temperature_c = times, level
        at = times - zero

    def place(moment: float) -> float:
        return float(np.interp(moment, moments, at)) if way == EQUIVALENT else moment - zero

    marks = tuple(
        (place(event.measured), event.kind, str(event.fields.get("result", "")))
        for event in history.events
        if event.kind in MARKED and event.measured >= zero
    )
    between = clear_bracket(history)
    return AlignedCourse(zero, at, moments, temperature_c, marks, None if between is None else place(between[1]))


def _zero(history: History, way: str) -> float | None:
    if way == EQUIVALENT:
        return cook_start(history)
    events = history.events_of(way)
    return events[0].measured if events else None


def _equivalent(history: History, moments: Floats, temperature_c: Floats, stick: ReferencePace) -> Floats:
    """Seconds at 95 degC, well stirred, that do as much as the history up to each moment."""
    stirs = np.array([moments[0], *(e.measured for e in history.events_of("stirred") if e.measured > moments[0])])
    since = moments - stirs[np.maximum(np.searchsorted(stirs, moments, side="right") - 1, 0)]
    rate = arrhenius_factor(temperature_c, stick.ea_j_mol) * mixing_factor(since, stick.floor, FADE_S)
    return accumulate(moments, rate)
