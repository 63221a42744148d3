"""Plotly figures of frames, pure, and character charts for terminals.

Each takes frames as ``monitor.OpenedCook`` gives them, or what ``estimation`` and ``formulation`` return, and gives a
figure in one style, which tells itself to those who do not see it: ``alt_text`` in one sentence, ``table`` as a frame.
``in_scheme`` turns it light or dark, ``write_figure`` writes it to a file.
"""

from typing import TYPE_CHECKING

from monitor.runtime import lazy_exports

if TYPE_CHECKING:
    from monitor.plots.alternative import (
        alt_text,
        captioned,
        table,
    )
    from monitor.plots.comparisons import (
        compare,
        need,
    )
    from monitor.plots.cook_figure import (
        cook,
    )
    from monitor.plots.course_figure import (
        COURSE_EDGES_PX,
        course,
        course_span,
        shaded,
    )
    from monitor.plots.day_figure import (
        day,
    )
    from monitor.plots.glasses import (
        glass_address,
        glass_svg,
    )
    from monitor.plots.hill import (
        clear_time,
    )
    from monitor.plots.image_file import (
        PlotError,
        write_figure,
    )
    from monitor.plots.jar_figures import (
        jar_ph,
        jar_thickness,
    )
    from monitor.plots.kitchen_figures import (
        need_by_cook,
        true_excess,
        warm_up,
    )
    from monitor.plots.learned_report import (
        kitchen_report,
        kitchen_text,
        need_frame,
        needs_frame,
    )
    from monitor.plots.outcomes_drawn import (
        OutcomeLine,
        outcome_figure,
    )
    from monitor.plots.printed import (
        course_address,
        course_svg,
    )
    from monitor.plots.sparkline import (
        cook_sparkline,
        curve,
        kitchen_sparkline,
    )
    from monitor.plots.stated_figure import (
        stated_against_came,
    )
    from monitor.plots.style import (
        in_scheme,
        scheme_pairs,
    )
    from monitor.plots.thumbnail import (
        course_thumbnail,
    )
    from monitor.plots.time_loss_figure import (
        time_loss,
    )

__all__ = [
    "COURSE_EDGES_PX",
    "OutcomeLine",
    "PlotError",
    "alt_text",
    "captioned",
    "clear_time",
    "compare",
    "cook",
    "cook_sparkline",
    "course",
    "course_address",
    "course_span",
    "course_svg",
    "course_thumbnail",
    "curve",
    "day",
    "glass_address",
    "glass_svg",
    "in_scheme",
    "jar_ph",
    "jar_thickness",
    "kitchen_report",
    "kitchen_sparkline",
    "kitchen_text",
    "need",
    "need_by_cook",
    "need_frame",
    "needs_frame",
    "outcome_figure",
    "scheme_pairs",
    "shaded",
    "stated_against_came",
    "table",
    "time_loss",
    "true_excess",
    "warm_up",
    "write_figure",
]

if not TYPE_CHECKING:
    __getattr__ = lazy_exports(
        __name__,
        {
            "alternative": (
                "alt_text",
                "captioned",
                "table",
            ),
            "comparisons": (
                "compare",
                "need",
            ),
            "cook_figure": ("cook",),
            "course_figure": (
                "COURSE_EDGES_PX",
                "course",
                "course_span",
                "shaded",
            ),
            "day_figure": ("day",),
            "glasses": (
                "glass_address",
                "glass_svg",
            ),
            "hill": ("clear_time",),
            "image_file": (
                "PlotError",
                "write_figure",
            ),
            "jar_figures": (
                "jar_ph",
                "jar_thickness",
            ),
            "kitchen_figures": (
                "need_by_cook",
                "true_excess",
                "warm_up",
            ),
            "learned_report": (
                "kitchen_report",
                "kitchen_text",
                "need_frame",
                "needs_frame",
            ),
            "printed": (
                "course_address",
                "course_svg",
            ),
            "sparkline": (
                "cook_sparkline",
                "curve",
                "kitchen_sparkline",
            ),
            "stated_figure": ("stated_against_came",),
            "style": (
                "in_scheme",
                "scheme_pairs",
            ),
            "thumbnail": ("course_thumbnail",),
            "time_loss_figure": ("time_loss",),
            "outcomes_drawn": (
                "OutcomeLine",
                "outcome_figure",
            ),
        },
    )
