"""A batch and its day before it is made."""

from typing import TYPE_CHECKING

from monitor.runtime import lazy_exports

if TYPE_CHECKING:
    from monitor.planning.batch_plan import BatchPlan, batch_changes, plan_batch, with_usual_water
    from monitor.planning.day_plan import (
        PREPARE_MIN,
        DayPlan,
        DayStep,
        clear_by_for_bottles,
        day_and_time,
        day_name,
        latest_start,
        plan_day,
    )
    from monitor.planning.day_text import day_attendance, day_entries, day_headline, day_lines
    from monitor.planning.recipe import (
        OilShare,
        PlanError,
        fresh_sheet,
        oil_of,
        oils_by_share,
        same_oil,
        scaled,
        scaled_to_bottles,
        scaled_to_oil,
        scaled_to_pot,
    )

__all__ = [
    "PREPARE_MIN",
    "BatchPlan",
    "DayPlan",
    "DayStep",
    "OilShare",
    "PlanError",
    "batch_changes",
    "clear_by_for_bottles",
    "day_and_time",
    "day_attendance",
    "day_entries",
    "day_headline",
    "day_lines",
    "day_name",
    "fresh_sheet",
    "latest_start",
    "oil_of",
    "oils_by_share",
    "plan_batch",
    "plan_day",
    "same_oil",
    "scaled",
    "scaled_to_bottles",
    "scaled_to_oil",
    "scaled_to_pot",
    "with_usual_water",
]

if not TYPE_CHECKING:
    __getattr__ = lazy_exports(
        __name__,
        {
            "recipe": (
                "OilShare",
                "PlanError",
                "fresh_sheet",
                "oil_of",
                "oils_by_share",
                "same_oil",
                "scaled",
                "scaled_to_bottles",
                "scaled_to_oil",
                "scaled_to_pot",
            ),
            "batch_plan": (
                "BatchPlan",
                "batch_changes",
                "plan_batch",
                "with_usual_water",
            ),
            "day_plan": (
                "PREPARE_MIN",
                "DayPlan",
                "DayStep",
                "clear_by_for_bottles",
                "day_and_time",
                "day_name",
                "latest_start",
                "plan_day",
            ),
            "day_text": ("day_attendance", "day_entries", "day_headline", "day_lines"),
        },
    )
