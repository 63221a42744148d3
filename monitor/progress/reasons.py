"""One sentence why: what a maker reads under each due time."""

from monitor.history import Floats
from monitor.records import Event


def stir_reason(start: float, events: tuple[Event, ...], due: float | None) -> str:
    """Why the next stir is when it is."""
    if due is None:
        return "No more stirring: the sample read clear."
    stirs = [event.measured for event in events if event.kind == "stirred" and event.measured >= start]
    since = "the last stir" if stirs else "the lid went on"
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
    moments: Floats,
    weights: Floats,
    now: float,
    due: float | None,
    cold: bool,
    read_clear: bool,
    over: bool,
    doubts: tuple[str, ...],
) -> str:
    """Why the next check is when it is.

    moments (Unix seconds, inf where never), weights: when the paste may come clear.
    """
    if read_clear:
        return "The last sample read clear."
    if over:
        return "The cook is finished."
    if cold or due is None:
        return " ".join(["At this temperature it would not come clear within a day.", *doubts])
    at_due = float(weights[moments <= max(due, now)].sum())
    later = float(weights[moments <= max(due, now) + 600.0].sum())
    when = "now" if due <= now else "then"
    sentence = f"{tenths(at_due)} chance of clear {when}; ten minutes more makes it {tenths(later)}."
    return " ".join([sentence[0].upper() + sentence[1:], *doubts])
