"""The day of a batch planned on the bench: when to start, what each hour asks for, and when it is in bottles."""

import re
from collections.abc import Mapping
from datetime import datetime, time, timedelta
from pathlib import Path
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from dashboard.bench.form import Form
from dashboard.bench.plan import refused_plan
from dashboard.components.bench_words import Answer
from monitor.model import Batch, clock_time, local
from monitor.planning import DayPlan, PlanError, day_attendance, day_entries, day_headline, day_name
from monitor.plots import day
from monitor.session import day_frame, plan_kitchen_day

WAYS = ("start", "clear", "bottled")
# A start of now leaves a moment to read it, and falls on a round time, s.
ROUND_S = 300.0
LAST_MINUTE = time(23, 59)
_TIME = re.compile(r"(\d{1,2})(?:[:.,h ]?(\d{2}))?\Z", re.ASCII)


def answer(form: Form, batch: Batch | None, recordings: Path, now: float, zone: ZoneInfo) -> Answer:
    """The day of what was typed. batch: what goes in, None where it is not known. Raises FieldError."""
    plan = planned_day(form, batch, recordings, now, zone)
    said = Answer()
    said.show["day"] = True
    low, _, high = plan.clear_at
    said.out["start"] = f"{local(plan.start, zone):%a} {clock_time(plan.start, zone)}"
    # No finer than it is known.
    rounded = [clock_time(ROUND_S * round(moment / ROUND_S), zone) for moment in (low, high)]
    said.out["clear"] = "–".join(rounded)
    bottled = local(plan.bottled_at, zone)
    said.out["bottled"] = f"{bottled:%a} {bottled.day} {bottled:%b}"
    said.say["headline"] = [
        f"Start at {clock_time(plan.start, zone)} on {day_name(plan.start, zone)}. {day_headline(plan, zone)}"
    ]
    _say_visits(said, plan)
    for at, text in day_entries(plan, zone):
        said.rows.setdefault(day_name(at, zone), []).append((clock_time(at, zone), text))
    said.say["attendance"] = day_attendance(plan, known=batch is not None)
    said.out["query"] = urlencode(
        {name: form.text(name, name, 250) for name in ("base", "prepare_min", "rest_days")}
        | {"start": f"{plan.start:.0f}"}
    )
    said.figure = day(day_frame(plan, zone))
    return said


def planned_day(form: Form, batch: Batch | None, recordings: Path, now: float, zone: ZoneInfo) -> DayPlan:
    """The plan of what was typed; a form with ``start`` as Unix seconds is that of a plan already made.

    Raises FieldError.
    """
    prepare_min = form.number("prepare_min", "From the oils to the lid", 5.0, 480.0, "min", empty=45.0)
    rest_days = form.number("rest_days", "The rest before the bottles", 0.0, 60.0, "days", empty=7.0)
    how, moment = _asked_for(form, now, zone)
    named = {"start": "start", "clear": "clear_by", "bottled": "bottled_by"}
    try:
        return plan_kitchen_day(
            recordings, batch, now=now, prepare_min=prepare_min, rest_days=rest_days, zone=zone, **{named[how]: moment}
        )
    except PlanError as error:
        raise refused_plan(form, error) from None


def coming_days(now: float, zone: ZoneInfo) -> Mapping[str, str]:
    """The days of the next three weeks: date (ISO 8601) -> what it is called."""
    today = local(now, zone).date()
    dates = [today + timedelta(days=ahead) for ahead in range(22)]
    called = [f"{date:%A} {date.day} {date:%B}" for date in dates]
    return dict(
        zip(
            (date.isoformat() for date in dates),
            [f"today, {called[0]}", f"tomorrow, {called[1]}", *called[2:]],
            strict=True,
        )
    )


def _asked_for(form: Form, now: float, zone: ZoneInfo) -> tuple[str, float]:
    """By what the day is told, and the moment of it, Unix seconds."""
    fixed = form.maybe("start", "The start", 0.0, 1e11)
    if fixed is not None:
        return "start", fixed
    how = form.choice("how", "By what", WAYS)
    typed = form.text("day", "The day") or local(now, zone).date().isoformat()
    try:
        date = datetime.strptime(typed, "%Y-%m-%d").replace(tzinfo=zone)
    except ValueError:
        raise form.refuse("time", f"the day is {typed!r}; choose one of the list") from None
    if how == "bottled":
        return how, datetime.combine(date, LAST_MINUTE, zone).timestamp()
    text = form.text("time", "The time")
    if not text and how == "start" and date.date() == local(now, zone).date():
        return how, (now // ROUND_S + 2) * ROUND_S
    found = _TIME.match(text)
    hours, minutes = (int(found[1]), int(found[2] or 0)) if found else (24, 0)
    if hours > 23 or minutes > 59:
        told = f"is {text!r}" if text else "is empty"
        raise form.refuse("time", f"the time {told}; write it like 14:00, 14.00 or 1400")
    return how, date.replace(hour=hours, minute=minutes).timestamp()


def _say_visits(said: Answer, plan: DayPlan) -> None:
    early, usual, late = plan.visits
    said.out["visits"] = f"about {usual} times ({min(early, usual)} to {max(late, usual)})"
    said.out["away"] = f"{plan.longest_away_s / 60.0:.0f} min"
    for kind in ("stir", "check"):
        steps = [step for step in plan.steps if step.kind == kind]
        expected = sum(step.need != "perhaps" for step in steps)
        sure = sum(step.need == "sure" for step in steps)
        said.out[kind] = f"{expected} ({sure} to {len(steps)})"
