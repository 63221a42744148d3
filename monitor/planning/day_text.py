"""A planned day in words: its headline, what each hour asks for, and how often one has to be there."""

from collections.abc import Iterable, Iterator
from datetime import tzinfo

from monitor.model import clock_time
from monitor.planning.day_plan import DayPlan, DayStep, day_name


def day_headline(plan: DayPlan, zone: tzinfo | None = None) -> str:
    """When it is clear and when in bottles. zone: in which times are told, this machine's where None."""
    low, middle, high = plan.clear_at
    return (
        f"Clear between {clock_time(low, zone)} and {_later(high, plan.start, zone)} in 8 cooks of 10, in half of them "
        f"by {_later(middle, plan.start, zone)}; in bottles on {day_name(plan.bottled_at, zone)}."
    )


def day_lines(plan: DayPlan, *, known: bool, zone: tzinfo | None = None) -> list[str]:
    """All of it, a line for each hour under its date. known: whether the batch is, by its sheet."""
    lines = [
        f"{plan.title}: start at {clock_time(plan.start, zone)} on {day_name(plan.start, zone)}",
        day_headline(plan, zone),
    ]
    day = ""
    for at, text in day_entries(plan, zone):
        if day_name(at, zone) != day:
            day = day_name(at, zone)
            lines += ["", day]
        lines.append(f"  {clock_time(at, zone)}  {text}")
    return [*lines, "", *day_attendance(plan, known=known)]


def day_entries(plan: DayPlan, zone: tzinfo | None = None) -> Iterator[tuple[float, str]]:
    """When, and what to do then; stirs are told once, at the first."""
    stirs = [step for step in plan.steps if step.kind == "stir"]
    for step in plan.steps:
        if step.kind == "prepare":
            yield step.at, f"{step.what}: about {_minutes(step)} of work."
        elif step.kind == "stir":
            if step is stirs[0]:
                yield step.at, _stirring(stirs, zone)
        elif step.kind == "check":
            if said := _checking(plan, step, zone):
                yield step.at, said
        elif step.kind == "dilute":
            yield (
                step.at,
                f"{step.what}: about {_minutes(step)}. In a late cook from {_later(_end(plan), step.at, zone)}.",
            )
        elif step.kind == "look":
            yield step.at, f"{step.what}; neutralise in parts if it asks for it."
        else:
            yield step.at, f"{step.what}."


def _stirring(stirs: list[DayStep], zone: tzinfo | None) -> str:
    wanted = [step for step in stirs if step.need != "perhaps"]
    more = [step for step in stirs if step.need == "perhaps"]
    if not wanted:
        return f"Stir, if it is not clear by then: {_times(more, zone)}."
    text = f"Stir: {_times(wanted, zone)}"
    return f"{text}; in a late cook also {_times(more, zone)}." if more else f"{text}."


def _checking(plan: DayPlan, step: DayStep, zone: tzinfo | None) -> str:
    if step.need == "sure":
        tenth = min(max(round(10 * plan.first_clear), 1), 9)
        return f"First clarity check, about {_minutes(step)}: it reads clear in {tenth} cooks of 10."
    if step.need == "likely":
        return "Clarity check again, if the one before was not clear."
    more = [one for one in plan.steps if one.kind == "check" and one.need == "perhaps"]
    return f"In a late cook further clarity checks: {_times(more, zone)}." if step is more[0] else ""


def day_attendance(plan: DayPlan, *, known: bool) -> list[str]:
    """How often one has to be there, what may go otherwise and what is known. known: whether the batch is."""
    early, usual, late = plan.visits
    seldom, often = min(early, usual), max(late, usual)
    sentences = [
        f"From the lid to the clear check you are wanted at the pot about {usual} times ({seldom} to {often}), never "
        f"more than {plan.longest_away_s / 60.0:.0f} min apart. A cooker with hot caustic paste is not left alone."
    ]
    sentences += plan.caveats
    if plan.cooks:
        cooks = "finished cook" if plan.cooks == 1 else "finished cooks"
        sentences.append(f"This is what {plan.cooks} {cooks} of this kitchen taught; each further one sharpens it.")
    else:
        sentences.append("No finished cook of this kitchen has taught anything yet: the first guess is a wide one.")
    if not known:
        sentences.append("No batch is named, so a usual one is taken.")
    return [*sentences, "What follows the cook is common practice: a night covered, then a week's rest."]


def _end(plan: DayPlan) -> float:
    return max(step.until for step in plan.steps if step.kind == "check")


def _minutes(step: DayStep) -> str:
    return f"{(step.until - step.at) / 60.0:.0f} min"


def _times(steps: Iterable[DayStep], zone: tzinfo | None) -> str:
    return ", ".join(clock_time(step.at, zone) for step in steps)


def _later(moment: float, beside: float, zone: tzinfo | None) -> str:
    """A time of day, with its date where that is another than the one beside it."""
    day, at = day_name(moment, zone), clock_time(moment, zone)
    return at if day == day_name(beside, zone) else f"{at} on {day}"
