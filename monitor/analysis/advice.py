"""One sentence of advice for each cause of lost time."""

from collections.abc import Sequence

from monitor.analysis.attribution import PAST_CLEAR, PLATEAU, STIRS, WARM_UP
from monitor.detection import CAUSE_TEXT
from monitor.model import span

# A cause that cost less is nothing to act on, and is summed up with others of its kind wherever losses are told.
LITTLE_S = 60.0


def advice(cause: str, seconds: float, brief: bool, logged: bool, plateau_c: float, usual_c: float) -> str:
    """What to do about a loss.

    cause: its name. seconds: what it cost. brief: a lid lifted for a stir or a sample. logged: whether a person logged
    it. plateau_c, usual_c: plateaus of this cook and of the kitchen, degC.
    """
    if cause == WARM_UP:
        if seconds < LITTLE_S:
            return "It warmed quickly; do the same again."
        return "Warm the crock and the oils beforehand, and put the lid on as soon as the trace is thick."
    if cause == PLATEAU:
        if seconds < LITTLE_S:
            return f"It settled at {plateau_c:.0f} °C, which is no colder than usual."
        return (
            f"It settled at {plateau_c:.0f} °C against a usual {usual_c:.0f}: look at the heat setting, the lid's seat "
            "and draughts."
        )
    for text in CAUSE_TEXT.values():
        if cause == text.loss:
            if brief:
                return "A lid lifted to stir or to take a sample; be quick, and put it straight back."
            return text.advice[0].upper() + text.advice[1:] if logged else text.not_logged + text.advice
    if cause == STIRS:
        if seconds < LITTLE_S:
            return "Stirred often enough."
        return "Stir about every 35 minutes; the longest wait is the stretch shown."
    if cause == PAST_CLEAR:
        if seconds < LITTLE_S:
            return "Checked as soon as it could be clear."
        return (
            f"It was probably clear about {span(seconds)} before the check that showed it: look when the check is due."
        )
    return "What is left for the batch, its oils and its alkali; compare the sheets."


def in_doubt(causes: Sequence[str]) -> str:
    """The sentence on causes that may have cost as much as the first; empty where there are none.

    >>> in_doubt(["low plateau", "late stirs"])
    'By what is known of this kitchen, low plateau or late stirs may have cost as much as the first.'
    """
    if not causes:
        return ""
    named = " or ".join(dict.fromkeys(causes))
    return f"By what is known of this kitchen, {named} may have cost as much as the first."
