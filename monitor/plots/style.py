"""What all figures share: colours, line styles, marker shapes, fonts, axes.

Nothing is told apart by colour alone: lines differ by their dashes, events by their marker, and both are named in the
legend. Each figure brings its own background, so that it reads the same on a light and on a dark page.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import plotly.graph_objects as go

WIDTH_PX, HEIGHT_PX = 860, 520
DASHES = ("solid", "dash", "dot", "dashdot", "longdash", "longdashdot")
# An event's kind, with a check's result -> the shape of its marker.
SYMBOLS: Mapping[str, str] = MappingProxyType(
    {
        "stirred": "triangle-up",
        "checked: clear": "circle",
        "checked: hazy": "diamond",
        "checked: cloudy": "square",
        "lid on": "triangle-down",
        "lid off": "triangle-down-open",
        "lye in": "star",
        "thick trace": "hexagram",
        "heat": "cross",
        "heat off": "x",
        "finished": "star-square",
    }
)


@dataclass(frozen=True)
class Palette:
    """Colours as CSS writes them. series: for one line after another, each 4.5 to 1 against ``paper`` (WCAG 2.2)."""

    paper: str
    ink: str
    rule: str
    band: str
    series: tuple[str, ...]


LIGHT = Palette("#fbf8f2", "#2a2622", "#d8d0c2", "rgba(140, 53, 8, 0.16)", ("#8c3508", "#0b4a86", "#3d5a1e", "#6a2a78"))
DARK = Palette("#1d1a17", "#f1ebe0", "#4a4540", "rgba(243, 178, 124, .2)", ("#f3b27c", "#9fd0ff", "#b9d98f", "#e0b0ea"))


def palette(dark: bool) -> Palette:
    """The colours for a light or a dark background."""
    return DARK if dark else LIGHT


def styled_figure(title: str, x_title: str, y_title: str, dark: bool) -> go.Figure:
    """An empty figure in the shared style."""
    colours = palette(dark)
    axis = {"gridcolor": colours.rule, "linecolor": colours.ink, "zeroline": False, "ticks": "outside"}
    return go.Figure(
        layout={
            "title": {"text": title, "font": {"size": 17}},
            "paper_bgcolor": colours.paper,
            "plot_bgcolor": colours.paper,
            "font": {"color": colours.ink, "family": "sans-serif", "size": 14},
            "xaxis": {**axis, "title": {"text": x_title}},
            "yaxis": {**axis, "title": {"text": y_title}},
            "legend": {"orientation": "h", "yanchor": "top", "y": -0.24, "x": 0, "traceorder": "normal"},
            "margin": {"l": 60, "r": 24, "t": 64, "b": 130},
            "hovermode": "closest",
        }
    )
