"""A planned day in plain lines: what each hour asks for, under its date."""

from collections.abc import Iterable, Iterator
from textwrap import wrap

from monitor.cli.sums_layout import WIDTH, wrapped
from monitor.model import clock_time, local
from monitor.planning import DayPlan, DayStep

INDENT = " " * 9


def day_lines(plan: DayPlan, *, known: bool) -> list[str]:
    """The plan of a day. known: whether the batch is, by its sheet."""
    low, middle, high = plan.clear_at
    lines = [f"{plan.title}: start at {clock_time(plan.start)} on {_date(plan.start)}"]
    lines += wrapped(
        [
            f"Clear between {clock_time(low)} and {_later(high, plan.start)} in 8 cooks of 10, in half of them by "
            f"{_later(middle, plan.start)}; in bottles on {_date(plan.bottled_at)}."
        ]
    )
    day = ""
    for at, text in _entries(plan):
        if not text:
            continue
        if _date(at) != day:
            day = _date(at)
            lines += ["", day]
        lines += wrap(text, WIDTH, initial_indent=f"  {clock_time(at)}  ", subsequent_indent=INDENT)
    return [*lines, "", *wrapped(_attendance(plan, known))]


def _entries(plan: DayPlan) -> Iterator[tuple[float, str]]:
    """When, and what to do then; stirs are told once."""
    stirs = [step for step in plan.steps if step.kind == "stir"]
    for step in plan.steps:
        if step.kind == "prepare":
            yield step.at, f"{step.what}: about {_minutes(step)} of work."
        elif step.kind == "stir":
            if step is stirs[0]:
                yield step.at, _stirring(stirs)
        elif step.kind == "check":
            yield step.at, _checking(plan, step)
        elif step.kind == "dilute":
            yield step.at, f"{step.what}: about {_minutes(step)}. In a late cook from {_later(_end(plan), step.at)}."
        elif step.kind == "look":
            yield step.at, f"{step.what}; neutralise in parts if it asks for it."
        else:
            yield step.at, f"{step.what}."


def _stirring(stirs: list[DayStep]) -> str:
    wanted = [step for step in stirs if step.need != "perhaps"]
    more = [step for step in stirs if step.need == "perhaps"]
    if not wanted:
        return f"Stir, if it is not clear by then: {_times(more)}."
    text = f"Stir: {_times(wanted)}"
    return f"{text}; in a late cook also {_times(more)}." if more else f"{text}."


def _checking(plan: DayPlan, step: DayStep) -> str:
    if step.need == "sure":
        tenth = min(max(round(10 * plan.first_clear), 1), 9)
        return f"First clarity check, about {_minutes(step)}: it reads clear in {tenth} cooks of 10."
    if step.need == "likely":
        return "Clarity check again, if the one before was not clear."
    more = [one for one in plan.steps if one.kind == "check" and one.need == "perhaps"]
    return f"In a late cook further clarity checks: {_times(more)}." if step is more[0] else ""


def _attendance(plan: DayPlan, known: bool) -> list[str]:
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
        sentences.append("No batch is named with --batch, so a usual one is taken.")
    return [*sentences, "What follows the cook is common practice: a night covered, then a week's rest."]


def _end(plan: DayPlan) -> float:
    return max(step.until for step in plan.steps if step.kind == "check")


def _minutes(step: DayStep) -> str:
    return f"{(step.until - step.at) / 60.0:.0f} min"


def _times(steps: Iterable[DayStep]) -> str:
    return ", ".join(clock_time(step.at) for step in steps)


def _date(moment: float) -> str:
    at = local(moment)
    return f"{at:%A} {at.day} {at:%B}"


def _later(moment: float, beside: float) -> str:
    """A time of day, with its date where that is another than the one beside it."""
    return clock_time(moment) if _date(moment) == _date(beside) else f"{clock_time(moment)} on {_date(moment)}"
