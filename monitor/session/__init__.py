"""One cook and the library of cooks, live and as of any moment; a cook told line by line.

The names are loaded on first use, so that a command that only asks for the kitchen's units stays quick.
"""

from typing import TYPE_CHECKING

from monitor.runtime import lazy_exports

if TYPE_CHECKING:
    from monitor.session.batch_standing import (
        StepState,
        is_in_hand,
        next_step,
        stage_of,
        standing,
        steps_of,
    )
    from monitor.session.batch_steps import (
        AFTER_CLEAR,
        BEFORE_LID,
        DOSE,
        PROBE,
        REST,
        SETTLING,
    )
    from monitor.session.cook import (
        Cook,
    )
    from monitor.session.finished import (
        is_sample,
    )
    from monitor.session.kitchen_batch import (
        plan_cost,
    )
    from monitor.session.kitchen_day import (
        day_frame,
        plan_kitchen_day,
    )
    from monitor.session.kitchen_file import (
        KitchenFileError,
        believed_kitchen_units,
        read_kitchen_costs,
        read_kitchen_units,
        set_kitchen_costs,
        set_kitchen_units,
    )
    from monitor.session.learning import (
        kitchen_model,
        kitchen_models,
    )
    from monitor.session.library import (
        CookLibrary,
    )
    from monitor.session.live_cook import (
        LiveCook,
        LiveState,
    )
    from monitor.session.outcome_table import (
        kitchen_outcomes,
        outcome_words,
        outcomes_picture,
    )
    from monitor.session.outlook import (
        Outlook,
    )
    from monitor.session.ph_learning import (
        kitchen_ph_offset,
    )
    from monitor.session.review import (
        IDEAL,
        USUAL,
        cook_time_loss,
        interval_coverage,
    )
    from monitor.session.search import (
        matches,
        summary_line,
    )
    from monitor.session.stream import (
        LineError,
        StreamSession,
    )

__all__ = [
    "AFTER_CLEAR",
    "BEFORE_LID",
    "DOSE",
    "IDEAL",
    "PROBE",
    "REST",
    "SETTLING",
    "USUAL",
    "Cook",
    "CookLibrary",
    "KitchenFileError",
    "LineError",
    "LiveCook",
    "LiveState",
    "Outlook",
    "StepState",
    "StreamSession",
    "believed_kitchen_units",
    "cook_time_loss",
    "day_frame",
    "interval_coverage",
    "is_in_hand",
    "is_sample",
    "kitchen_model",
    "kitchen_models",
    "kitchen_outcomes",
    "kitchen_ph_offset",
    "matches",
    "next_step",
    "outcome_words",
    "outcomes_picture",
    "plan_cost",
    "plan_kitchen_day",
    "read_kitchen_costs",
    "read_kitchen_units",
    "set_kitchen_costs",
    "set_kitchen_units",
    "stage_of",
    "standing",
    "steps_of",
    "summary_line",
]

if not TYPE_CHECKING:
    __getattr__ = lazy_exports(
        __name__,
        {
            "batch_standing": (
                "StepState",
                "is_in_hand",
                "next_step",
                "stage_of",
                "standing",
                "steps_of",
            ),
            "batch_steps": (
                "AFTER_CLEAR",
                "BEFORE_LID",
                "DOSE",
                "PROBE",
                "REST",
                "SETTLING",
            ),
            "cook": ("Cook",),
            "finished": ("is_sample",),
            "kitchen_batch": ("plan_cost",),
            "kitchen_day": (
                "day_frame",
                "plan_kitchen_day",
            ),
            "kitchen_file": (
                "KitchenFileError",
                "believed_kitchen_units",
                "read_kitchen_costs",
                "read_kitchen_units",
                "set_kitchen_costs",
                "set_kitchen_units",
            ),
            "learning": (
                "kitchen_model",
                "kitchen_models",
            ),
            "library": ("CookLibrary",),
            "live_cook": (
                "LiveCook",
                "LiveState",
            ),
            "outcome_table": (
                "kitchen_outcomes",
                "outcome_words",
                "outcomes_picture",
            ),
            "outlook": ("Outlook",),
            "ph_learning": ("kitchen_ph_offset",),
            "review": (
                "IDEAL",
                "USUAL",
                "cook_time_loss",
                "interval_coverage",
            ),
            "search": (
                "matches",
                "summary_line",
            ),
            "stream": (
                "LineError",
                "StreamSession",
            ),
        },
    )
