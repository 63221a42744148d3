"""The one sentence of reason that a maker reads under each due time."""

from monitor.estimation.clear_time import ClearTimeDistribution
from monitor.model import Event


def stir_reason(start: float, events: tuple[Event, ...], due: float | None) -> str:
    """Why the next stir is due at this time. start, due: Unix seconds; due is None where no stir is due."""
    if due is None:
        return "No more stirring: the sample read clear."
    stirs = [event.measured for event in events if event.kind == "stirred" and event.measured >= start]
    since = "the last stir" if stirs else "the start"
    minutes = (due - max([start, *stirs])) / 60.0
    return f"{minutes:.0f} minutes after {since}; every 30 to 40 is common practice."


def tenths(chance: float) -> str:
    """A probability (0 to 1) as people say it.

    >>> tenths(0.62), tenths(0.02), tenths(0.99)
    ('6 in 10', 'less than 1 in 10', 'more than 9 in 10')
    """
    if chance < 0.05:
        return "less than 1 in 10"
    if chance > 0.95:
        return "more than 9 in 10"
    return f"{round(chance * 10)} in 10"


def check_reason(
    clear_time: ClearTimeDistribution,
    now: float,
    due: float | None,
    cold: bool,
    read_clear: bool,
    over: bool,
    last_result: str | None,
    caveats: tuple[str, ...],
) -> str:
    """Why the next check is due at this time.

    clear_time: of the paste. now, due: Unix seconds; due is None where no check is due. cold: whether the paste would
    not come clear within a day. read_clear: whether the last sample read clear. over: whether the cook is finished.
    last_result: of the last check, None where there was none. caveats: sentences to add.
    """
    if read_clear:
        return "The last sample read clear."
    if over:
        return "The cook is finished."
    if cold or due is None:
        return " ".join(["At this temperature it would not come clear within a day.", *caveats])
    at_due = clear_time.chance_by(max(due, now))
    later = clear_time.chance_by(max(due, now) + 600.0)
    when = "now" if due <= now else "then"
    after_last = ""
    if last_result is not None:
        after_last = f" The last sample was {last_result}; common practice is to look again 30 minutes after it."
    chance, after = tenths(at_due), tenths(later)
    more = "adds little" if after == chance else f"makes it {after}"
    sentence = f"{chance} chance of clear {when}; ten minutes more {more}."
    return " ".join([sentence[0].upper() + sentence[1:] + after_last, *caveats])
