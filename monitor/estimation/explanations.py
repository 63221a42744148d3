"""One sentence why: what a maker reads under each due time."""

from monitor.estimation.clear_time import ClearTimeDistribution
from monitor.model import Event


def stir_reason(start: float, events: tuple[Event, ...], due: float | None) -> str:
    """Why the next stir is when it is."""
    if due is None:
        return "No more stirring: the sample read clear."
    stirs = [event.measured for event in events if event.kind == "stirred" and event.measured >= start]
    since = "the last stir" if stirs else "the start"
    minutes = (due - max([start, *stirs])) / 60.0
    return f"{minutes:.0f} minutes after {since}; every 30 to 40 is common practice."


def tenths(chance: float) -> str:
    """A chance as people say it.

    >>> tenths(0.62), tenths(0.02), tenths(0.99)
    ('6 in 10', 'less than 1 in 10', 'more than 9 in 10')
    """
    if chance < 0.05:
        return "less than 1 in 10"
    if chance > 0.95:
        return "more than 9 in 10"
    return f"{round(chance * 10)} in 10"


def check_reason(
    clearing: ClearTimeDistribution,
    now: float,
    due: float | None,
    cold: bool,
    read_clear: bool,
    over: bool,
    last_result: str | None,
    doubts: tuple[str, ...],
) -> str:
    """Why the next check is when it is; now and due in Unix seconds.

    last_result: of the last check, where there was one that was not clear.
    """
    if read_clear:
        return "The last sample read clear."
    if over:
        return "The cook is finished."
    if cold or due is None:
        return " ".join(["At this temperature it would not come clear within a day.", *doubts])
    at_due = clearing.chance_by(max(due, now))
    later = clearing.chance_by(max(due, now) + 600.0)
    when = "now" if due <= now else "then"
    beside = ""
    if last_result is not None:
        beside = f" The last sample was {last_result}; common practice is to look again 30 minutes after it."
    chance, after = tenths(at_due), tenths(later)
    more = "adds little" if after == chance else f"makes it {after}"
    sentence = f"{chance} chance of clear {when}; ten minutes more {more}."
    return " ".join([sentence[0].upper() + sentence[1:] + beside, *doubts])
