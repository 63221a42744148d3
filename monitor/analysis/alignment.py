"""Cooks aligned with each other: at lid on, at thick trace, or by equivalent time."""

from dataclasses import dataclass

import numpy as np

from monitor.analysis.reference import ReferencePace
from monitor.estimation import MIXING_FADE_S, accumulate, arrhenius_factor, block_medians, mixing_factor
from monitor.model import Floats, History, clear_bracket, cook_start

LID, TRACE, EQUIVALENT = "lid on", "thick trace", "equivalent time"
ALIGNMENTS = (LID, TRACE, EQUIVALENT)
MARKED = ("lid on", "lid off", "stirred", "checked", "heat off", "finished")


@dataclass(frozen=True)
class AlignedCourse:
    """One cook along the common axis.

    zero: Unix seconds where the axis begins. at: seconds from there, or equivalent seconds at 95 degC, shape (n,),
    never falling. moments: Unix seconds of each, shape (n,). temperature_c: degC, shape (n,). marks: (place on the
    axis, kind, result of a check or ""). clear: place on the axis at which the paste read clear, or None.
    """

    zero: float
    at: Floats
    moments: Floats
    temperature_c: Floats
    marks: tuple[tuple[float, str, str], ...]
    clear: float | None


def align(history: History, alignment: str, reference: ReferencePace) -> AlignedCourse | None:
    """A cook along one of ALIGNMENTS; None where it has no such beginning or no temperatures.

    reference: the pace by which equivalent time is counted, the same for all cooks that are compared.
    Raises ValueError for another alignment.
    """
    if alignment not in ALIGNMENTS:
        raise ValueError(f"alignment is {alignment!r}; it must be one of {', '.join(ALIGNMENTS)}")
    times, level_c = block_medians(history)
    zero = _zero(history, alignment)
    if zero is None or not np.any(times >= zero):
        return None
    if alignment == EQUIVALENT:
        keep = times >= zero
        moments = np.concatenate([[zero], times[keep]])
        temperature_c = np.concatenate([[np.interp(zero, times, level_c)], level_c[keep]])
        at = _equivalent(history, moments, temperature_c, reference)
    else:
        moments, temperature_c = times, level_c
        at = times - zero

    def place(moment: float) -> float:
        return float(np.interp(moment, moments, at)) if alignment == EQUIVALENT else moment - zero

    marks = tuple(
        (place(event.measured), event.kind, str(event.fields.get("result", "")))
        for event in history.events
        if event.kind in MARKED and event.measured >= zero
    )
    bracket = clear_bracket(history)
    return AlignedCourse(zero, at, moments, temperature_c, marks, None if bracket is None else place(bracket[1]))


def _zero(history: History, alignment: str) -> float | None:
    if alignment == EQUIVALENT:
        return cook_start(history)
    events = history.events_of(alignment)
    return events[0].measured if events else None


def _equivalent(history: History, moments: Floats, temperature_c: Floats, reference: ReferencePace) -> Floats:
    """Equivalent time up to each moment, s at 95 degC, just stirred; shape (n,)."""
    stirs = np.array([moments[0], *(e.measured for e in history.events_of("stirred") if e.measured > moments[0])])
    since = moments - stirs[np.maximum(np.searchsorted(stirs, moments, side="right") - 1, 0)]
    rate = arrhenius_factor(temperature_c, reference.ea_j_mol) * mixing_factor(since, reference.floor, MIXING_FADE_S)
    return accumulate(moments, rate)
