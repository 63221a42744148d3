"""The day of a batch planned by what this kitchen's own cooks have taught."""

from dataclasses import replace
from datetime import tzinfo
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.chemistry import check_range
from monitor.estimation import CookForecast, Prior, forecast_cook
from monitor.model import SETTLING_DAYS, Batch, local
from monitor.planning import PREPARE_MIN, DayPlan, PlanError, clear_by_for_bottles, day_name, latest_start, plan_day
from monitor.session.kitchen_file import believed_kitchen_costs
from monitor.session.learning import kitchen_model
from monitor.session.ph_learning import kitchen_ph_offset

if TYPE_CHECKING:
    import pandas as pd

# What a kitchen has taught says little of a cook that is farther away.
FARTHEST_S = 2 * 366 * 86_400.0


def plan_kitchen_day(
    folder: Path,
    batch: Batch | None,
    *,
    now: float,
    start: float | None = None,
    clear_by: float | None = None,
    bottled_by: float | None = None,
    prepare_min: float = PREPARE_MIN,
    rest_days: float = SETTLING_DAYS,
    zone: tzinfo | None = None,
) -> DayPlan:
    """The day of a batch in the kitchen whose recordings are in this folder.

    batch: what goes in, None where it is not known. now: the present, Unix seconds. Exactly one of: start, when the
    work begins; clear_by, by when it is clear in nine cooks of ten; bottled_by, the day on which it is in bottles; all
    Unix seconds, and the latter two make the start as late as it may be. prepare_min, rest_days, zone: as ``plan_day``.

    Raises OutOfRangeError outside the ranges there, PlanError for a time that has passed, or a kitchen in which no
    paste comes clear within a day.
    """
    check_range("rest_days", rest_days, 0.0, 60.0, "days")
    if [start, clear_by, bottled_by].count(None) != 2:
        raise PlanError("a day is told in exactly one way: by its start, by when it is clear, or by when it is bottled")
    for moment in (start, clear_by, bottled_by):
        if moment is not None and moment > now + FARTHEST_S:
            raise PlanError(
                f"{local(moment, zone):%Y-%m-%d} is more than two years ahead; plan it when it is nearer", "time"
            )
    model = kitchen_model(folder)
    prior = replace(model.prior(), ph_offset=kitchen_ph_offset(folder))
    costs, _ = believed_kitchen_costs(folder)

    def at(lid_on: float) -> CookForecast:
        found = forecast_cook(prior, costs, batch, lid_on, model.start_c)
        if found is None:
            raise PlanError(_never_clear(prior))
        return found

    purpose = ""
    if bottled_by is not None:
        clear_by = clear_by_for_bottles(bottled_by, rest_days, zone)
        purpose = f"to be in bottles on {day_name(bottled_by, zone)}"
    if clear_by is not None:
        start = latest_start(at, clear_by, now=now, prepare_min=prepare_min, purpose=purpose, zone=zone)
    assert start is not None
    forecast = at(start + 60.0 * prepare_min)
    title = batch.title if batch else "The batch"
    return plan_day(forecast, title, now=now, prepare_min=prepare_min, rest_days=rest_days, zone=zone)


def _never_clear(prior: Prior) -> str:
    return (
        f"nothing comes clear within a day at about {prior.plateau_c:.0f} °C, where this kitchen's paste settles, or "
        "the alkali is too short for it"
    )


def day_frame(plan: DayPlan, zone: tzinfo | None = None) -> "pd.DataFrame":
    """The steps of a plan for ``plots.day``: indexed by when they begin, in a zone, this machine's where None.

    Columns: until, kind, need, what. attrs: title, and clear_at, the 10, 50 and 90 % points.
    """
    # Loaded only here, because planning in words does without.
    import pandas as pd

    zone = zone or local(plan.start).tzinfo

    def moments(seconds: list[float]) -> pd.DatetimeIndex:
        return pd.to_datetime(seconds, unit="s", utc=True).tz_convert(zone)

    frame = pd.DataFrame(
        {
            "until": moments([step.until for step in plan.steps]),
            "kind": [step.kind for step in plan.steps],
            "need": [step.need for step in plan.steps],
            "what": [step.what for step in plan.steps],
        },
        index=pd.DatetimeIndex(moments([step.at for step in plan.steps]), name="at"),
    )
    frame.attrs["title"] = plan.title
    frame.attrs["clear_at"] = list(moments(list(plan.clear_at)))
    return frame
