"""Plotly figures of frames, pure, and character charts for terminals.

``cook``, ``compare``, ``time_loss`` and ``need`` take frames as ``monitor.OpenedCook`` and ``need_frame`` give them and
return plotly figures in one style; ``write_figure`` writes one to a file.
"""

from typing import TYPE_CHECKING

from monitor.runtime import lazy_exports

if TYPE_CHECKING:
    from monitor.plots.comparisons import compare, need, time_loss
    from monitor.plots.cook_figure import cook
    from monitor.plots.day_figure import day
    from monitor.plots.image_file import PlotError, write_figure
    from monitor.plots.learned_report import kitchen_report, kitchen_text, need_frame
    from monitor.plots.sparkline import cook_sparkline, curve, kitchen_sparkline

__all__ = [
    "PlotError",
    "compare",
    "cook",
    "cook_sparkline",
    "curve",
    "day",
    "kitchen_report",
    "kitchen_sparkline",
    "kitchen_text",
    "need",
    "need_frame",
    "time_loss",
    "write_figure",
]

if not TYPE_CHECKING:
    __getattr__ = lazy_exports(
        __name__,
        {
            "cook_figure": ("cook",),
            "image_file": ("PlotError", "write_figure"),
            "learned_report": ("kitchen_report", "kitchen_text", "need_frame"),
            "comparisons": ("compare", "need", "time_loss"),
            "sparkline": ("cook_sparkline", "curve", "kitchen_sparkline"),
            "day_figure": ("day",),
        },
    )
