"""The day of a batch before it comes: from the oils on the stove to the bottles, with what each hour asks for.

All of the cook itself is a forecast of the estimator (``estimation.forecast_cook``); what comes before and after it is
common practice without a source, and can be set.
"""

import itertools
import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo

from monitor.chemistry import check_range
from monitor.estimation import CookForecast
from monitor.formulation import CalendarEntry, calendar_text
from monitor.model import MORNING_HOUR, REST_H, SETTLING_DAYS, clock_time, local
from monitor.planning.recipe import PlanError

# Work before the lid goes on and after the soap is clear, minutes: common practice, no source.
PREPARE_MIN, DILUTE_MIN = 45.0, 60.0
STIR_MIN, CHECK_MIN = 3.0, 15.0
BOTTLING_MIN, LOOK_MIN = 60.0, 45.0
# Nobody starts a cook that is clear later than this hour, where a plan is made from the day of bottling.
EVENING_HOUR = 22
# A stir and a check this near to each other are one visit, s.
ONE_VISIT_S = 420.0
# A start typed to the minute may be as old as this, s.
JUST_NOW_S = 120.0

# A chance that is not worth a sentence.
SELDOM = 0.05

SURE, LIKELY, PERHAPS = "sure", "likely", "perhaps"


@dataclass(frozen=True, slots=True)
class DayStep:
    """Something to do. kind: "prepare", "lid on", "stir", "check", "dilute", "look" or "bottle".

    at, until: Unix seconds. need: "sure", "likely" (a cook of the middle takes it) or "perhaps" (only a late one).
    """

    kind: str
    at: float
    until: float
    need: str
    what: str


@dataclass(frozen=True, slots=True)
class DayPlan:
    """A planned batch from the oils to the bottles. Times are Unix seconds.

    clear_at: the 10, 50 and 90 % points. first_clear: probability that the first check reads clear. visits: how often
    one has to be there from the lid to the clear check, in an early, a usual and a late cook. longest_away_s: the
    longest time between two visits of a usual cook. cooks: finished cooks that taught the kitchen. caveats: sentences
    on what may go otherwise. calendar: an iCalendar file of what is sure or likely.
    """

    title: str
    start: float
    lid_on: float
    clear_at: tuple[float, float, float]
    first_clear: float
    steps: tuple[DayStep, ...]
    visits: tuple[int, int, int]
    longest_away_s: float
    cooks: int
    caveats: tuple[str, ...]
    calendar: str

    @property
    def diluted_at(self) -> float:
        """When the paste of a usual cook is diluted."""
        return self._step("dilute").until

    @property
    def bottled_at(self) -> float:
        """When it is in bottles."""
        return self._step("bottle").until

    def _step(self, kind: str) -> DayStep:
        return next(step for step in self.steps if step.kind == kind)


def plan_day(
    forecast: CookForecast,
    title: str,
    *,
    now: float,
    prepare_min: float = PREPARE_MIN,
    rest_days: float = SETTLING_DAYS,
    zone: tzinfo | None = None,
) -> DayPlan:
    """The day of a cook whose lid goes on as the forecast has it.

    Parameters
    ----------
    forecast : of the cook.
    title : of the batch.
    now : the present, Unix seconds.
    prepare_min : from the start (oils on low) to the lid, minutes, 5 to 480.
    rest_days : from the diluted soap to its bottles, days, 0 to 60; a week is common practice.
    zone : in which nights and mornings are reckoned and times told, this machine's where None.

    Raises PlanError for a start that has passed, OutOfRangeError outside these ranges.
    """
    check_range("prepare_min", prepare_min, 5.0, 480.0, "min")
    check_range("rest_days", rest_days, 0.0, 60.0, "days")
    start = forecast.lid_on - 60.0 * prepare_min
    if start < now - JUST_NOW_S:
        told = f"the start, {day_and_time(start, zone)}, has passed; it is {day_and_time(now, zone)} now"
        raise PlanError(told, "time")
    steps = tuple(sorted(_steps(forecast, start, rest_days, zone), key=lambda step: step.at))
    early, usual, late = (_visits(forecast.lid_on, forecast, n) for n in range(3))
    moments = [forecast.lid_on, *usual]
    away_s = max(after - before for before, after in itertools.pairwise(moments))
    return DayPlan(
        title,
        start,
        forecast.lid_on,
        (forecast.early.clear_at, forecast.middle.clear_at, forecast.late.clear_at),
        forecast.first_clear,
        steps,
        (len(early), len(usual), len(late)),
        away_s,
        forecast.cooks,
        _caveats(forecast),
        _calendar(now, title, steps, zone),
    )


def latest_start(
    forecast_at: Callable[[float], CookForecast],
    clear_by: float,
    *,
    now: float,
    prepare_min: float = PREPARE_MIN,
    purpose: str = "",
    zone: tzinfo | None = None,
) -> float:
    """The latest start (Unix seconds) with which nine cooks of ten are clear by ``clear_by``.

    forecast_at: the forecast of a cook by when its lid goes on. purpose: what it has to be clear for, such as "to be
    in bottles on Saturday", for the refusal. zone: as ``plan_day``. Raises PlanError where that start has passed.
    """
    check_range("prepare_min", prepare_min, 5.0, 480.0, "min")
    takes_s = forecast_at(clear_by).late.clear_at - clear_by
    # To the whole minute before: nobody starts at a second.
    start = 60.0 * math.floor((clear_by - takes_s - 60.0 * prepare_min) / 60.0)
    if start < now - JUST_NOW_S:
        raise PlanError(
            f"{purpose or f'to be clear by {day_and_time(clear_by, zone)}'} in nine cooks of ten it has to start at "
            f"{day_and_time(start, zone)}, and it is {day_and_time(now, zone)} now",
            "time",
        )
    return start


def clear_by_for_bottles(bottled_by: float, rest_days: float = SETTLING_DAYS, zone: tzinfo | None = None) -> float:
    """By when a cook has to be clear (Unix seconds) so that its soap is in bottles on the day of ``bottled_by``.

    It rests a night, then ``rest_days``, and nobody cooks later than ten in the evening.
    """
    day = _midnight(bottled_by, zone) - timedelta(days=rest_days + 1)
    return day.replace(hour=EVENING_HOUR).timestamp()


def day_and_time(moment: float, zone: tzinfo | None = None) -> str:
    """A day and a time of day, as a person says them.

    >>> day_and_time(0.0).endswith("00") or "30" in day_and_time(0.0)
    True
    """
    return f"{day_name(moment, zone)}, {clock_time(moment, zone)}"


def day_name(moment: float, zone: tzinfo | None = None) -> str:
    """The day of a moment, as a person says it.

    >>> from datetime import UTC
    >>> day_name(0.0, UTC)
    'Thursday 1 January'
    """
    at = local(moment, zone)
    return f"{at:%A} {at.day} {at:%B}"


def _steps(forecast: CookForecast, start: float, rest_days: float, zone: tzinfo | None) -> Iterator[DayStep]:
    lid_on = forecast.lid_on
    yield DayStep("prepare", start, lid_on, SURE, "Melt the oils on low, lye in, blend to a thick trace")
    yield DayStep("lid on", lid_on, lid_on, SURE, "Probe in, lid on")
    early, usual, late = forecast.courses
    for at in late.stirs:
        need = SURE if at in early.stirs else LIKELY if at in usual.stirs else PERHAPS
        yield DayStep("stir", at, at + 60.0 * STIR_MIN, need, "Stir")
    for number, check in enumerate(late.checks):
        need = SURE if number < len(early.checks) else LIKELY if number < len(usual.checks) else PERHAPS
        # What comes after an equal sample comes at an equal time, until a usual cook is over.
        at = usual.checks[number].at if number < len(usual.checks) else check.at
        yield DayStep("check", at, at + 60.0 * CHECK_MIN, need, "Clarity check")
    yield from _after(usual.checks[-1].at + 60.0 * CHECK_MIN, rest_days, zone)


def _after(clear: float, rest_days: float, zone: tzinfo | None) -> Iterator[DayStep]:
    """What follows a sample that reads clear at ``clear``, Unix seconds."""
    diluted = clear + 60.0 * DILUTE_MIN
    yield DayStep("dilute", clear, diluted, LIKELY, "Heat off, weigh the paste, boiling water in parts; cover it")
    morning = _midnight(diluted, zone).replace(hour=MORNING_HOUR)
    while morning.timestamp() < diluted + 3600.0 * REST_H:
        morning += timedelta(days=1)
    look = morning.timestamp()
    yield DayStep(
        "look", look, look + 60.0 * LOOK_MIN, LIKELY, "Lumps? Then a little more water; pH of a cooled sample"
    )
    # By the calendar, so that the hour stays when the clocks are changed.
    bottle = (morning + timedelta(days=rest_days)).timestamp()
    if rest_days < 1.0:
        bottle = max(bottle, look + 60.0 * LOOK_MIN)
    yield DayStep(
        "bottle", bottle, bottle + 60.0 * BOTTLING_MIN, LIKELY, "Clear? Then bottle and label it, else filter"
    )


def _caveats(forecast: CookForecast) -> tuple[str, ...]:
    if forecast.never_clear <= SELDOM:
        return ()
    tenths = max(round(10.0 * forecast.never_clear), 1)
    return (
        f"In about {tenths} of 10 such cooks the alkali does not suffice for a clear sample, or a day is too short; "
        "the times are those of the others. More excess, or a certificate's values, make it surer.",
    )


def _midnight(moment: float, zone: tzinfo | None) -> datetime:
    # With the zone itself, or none, and not with today's offset, so that the rules of each day count.
    return local(moment, zone).replace(tzinfo=zone, hour=0, minute=0, second=0, microsecond=0)


def _visits(lid_on: float, forecast: CookForecast, number: int) -> list[float]:
    """When somebody has to be at the pot after the lid went on, in one of the three courses."""
    course = forecast.courses[number]
    visits: list[float] = []
    for at in sorted([*course.stirs, *(check.at for check in course.checks)]):
        if at - (visits[-1] if visits else lid_on) > ONE_VISIT_S:
            visits.append(at)
    return visits


def _calendar(now: float, title: str, steps: tuple[DayStep, ...], zone: tzinfo | None) -> str:
    entries = (
        CalendarEntry(
            f"day-{steps[0].at:.0f}-{step.kind.replace(' ', '-')}-{step.at:.0f}",
            step.at,
            max(step.until, step.at + 60.0),
            f"{title}: {step.what}" if step.need == SURE else f"{title}, expected: {step.what}",
            f"{title}, {clock_time(step.at, zone)}: {step.what}",
        )
        for step in steps
        if step.need != PERHAPS
    )
    return calendar_text(now, "plan", entries)
