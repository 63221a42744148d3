"""Charts of a cook and of what a kitchen has learned."""

from monitor.plots.cook import cook_sparkline, cook_svg, curve
from monitor.plots.kitchen import kitchen_report, kitchen_sparkline, kitchen_svg, kitchen_text

__all__ = [
    "cook_sparkline",
    "cook_svg",
    "curve",
    "kitchen_report",
    "kitchen_sparkline",
    "kitchen_svg",
    "kitchen_text",
]
