"""One sentence of advice for each cause of lost time."""

from collections.abc import Sequence

from monitor.detection import WORDS
from monitor.model import span

# Below this a cause is nothing to act on.
LITTLE_S = 60.0


def advice(cause: str, seconds: float, brief: bool, logged: bool, plateau_c: float, usual_c: float) -> str:
    """What to do about an entry. seconds: what it cost; plateau_c, usual_c: of this cook and of the kitchen, degC."""
    if cause == "slow warm-up":
        if seconds < LITTLE_S:
            return "It warmed quickly; do the same again."
        return "Warm the crock and the oils beforehand, and put the lid on as soon as the trace is thick."
    if cause == "low plateau":
        if seconds < LITTLE_S:
            return f"It settled at {plateau_c:.0f} °C, which is no colder than usual."
        return (
            f"It settled at {plateau_c:.0f} °C against a usual {usual_c:.0f}: look at the heat setting, the lid's seat "
            "and draughts."
        )
    for words in WORDS.values():
        if cause == words.ledger:
            if brief:
                return "A lid lifted to stir or to take a sample; be quick, and put it straight back."
            return words.advice[0].upper() + words.advice[1:] if logged else words.looks + words.advice
    if cause == "late stirs":
        if seconds < LITTLE_S:
            return "Stirred often enough."
        return "Stir about every 35 minutes; the longest wait is the stretch shown."
    if cause == "late check":
        if seconds < LITTLE_S:
            return "Checked as soon as it could be clear."
        return (
            f"It was probably clear about {span(seconds)} before the check that showed it: look when the check is due."
        )
    return "What is left for the batch, its oils and its alkali; compare the sheets."


def in_doubt(causes: Sequence[str]) -> str:
    """What to say of causes that may have cost as much as the first; nothing where there are none.

    >>> in_doubt(["low plateau", "late stirs"])
    'By what is known of this kitchen, low plateau or late stirs may have cost as much as the first.'
    """
    if not causes:
        return ""
    named = " or ".join(dict.fromkeys(causes))
    return f"By what is known of this kitchen, {named} may have cost as much as the first."
