"""The one sentence of reason that a maker reads under each due time."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from monitor.estimation.clear_time import ClearTimeDistribution
from monitor.estimation.estimate import NOTHING_YET
from monitor.estimation.scheduling import Costs
from monitor.model import Event

NO_CHECK_YET = "A check means something once the cook has started."


def reasons_before_start(events: Sequence[Event]) -> Mapping[str, str]:
    """What is missing before a cook has started, as the reasons of an estimate. events: of the cook."""
    kinds = {event.kind for event in events}
    if "thick trace" in kinds or "lid on" in kinds:
        return {"stir": "Log the lid when it goes on; the cook counts from there.", "check": NO_CHECK_YET}
    if "lye in" in kinds:
        missing = "Log thick trace when it is reached, and the lid when it goes on; the cook counts from the lid."
        return {"stir": missing, "check": NO_CHECK_YET}
    return NOTHING_YET


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


@dataclass(frozen=True, slots=True)
class CheckOutlook:
    """What the reason of the next check is told from.

    due: Unix seconds, None where no check is due. cold: whether the paste would not come clear within a day for want of
    heat. read_clear: whether the last sample read clear. over: whether the cook is finished. last_result: of the last
    check, None where there was none. costs: what was weighed. teaches: whether this is the first check of a cook in a
    kitchen that is still being learned.
    """

    due: float | None
    cold: bool
    read_clear: bool
    over: bool
    last_result: str | None
    costs: Costs
    teaches: bool = False


def check_reason(clear_time: ClearTimeDistribution, now: float, check: CheckOutlook, caveats: Sequence[str]) -> str:
    """Why the next check is due when it is, or why none is.

    clear_time: of the paste. now: Unix seconds. caveats: sentences to add.
    """
    if check.read_clear:
        reason = "The last sample read clear."
    elif check.over:
        reason = "The cook is finished."
    elif check.cold:
        reason = "At this temperature it would not come clear within a day."
    elif check.due is None:
        ever = tenths(float(clear_time.by[-1]))
        reason = f"No check is planned: the chance that it comes clear within a day is {ever}."
    else:
        reason = _weighed(clear_time, now, check.due, check.costs) + _after(check.last_result)
        if check.teaches:
            reason += " It comes a little sooner while this kitchen is new: a sample not yet clear teaches most."
    return " ".join([reason, *caveats])


def _weighed(clear_time: ClearTimeDistribution, now: float, due: float, costs: Costs) -> str:
    """The chance of clear when the check is due, and what was weighed for it."""
    chance = tenths(clear_time.chance_by(max(due, now)))
    when = "now" if due <= now else "then"
    work = "1 minute" if costs.check_min == 1.0 else f"{costs.check_min:g} minutes"
    return (
        f"{chance[0].upper()}{chance[1:]} chance of clear {when}. "
        f"Weighed: {work} of work for a check, {costs.overcook_per_min:g} for a minute over-cooked."
    )


def _after(last_result: str | None) -> str:
    """What the last sample means for the next check."""
    if last_result is None:
        return ""
    if last_result == "nearly clear":
        return (
            " The last sample was nearly clear, which many call done (common practice, no source); "
            "the next check may wait until it is due."
        )
    return f" The last sample was {last_result}; common practice is to look again 30 minutes after it."
