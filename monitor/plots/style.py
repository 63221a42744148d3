"""What all figures share: colours, line styles, marker shapes, fonts, axes, scales.

Nothing is told apart by colour alone: lines differ by their dashes, events by their marker, shaded stretches by their
hatching. Each colour has a partner in the other scheme, so that one figure serves light and dark pages: the server
cannot know which of the two a phone shows, and the browser exchanges the colours by ``scheme_pairs``.
"""

from collections.abc import Mapping
from dataclasses import astuple, dataclass
from types import MappingProxyType
from typing import TypeAlias

import plotly.graph_objects as go

Json: TypeAlias = dict[str, "Json"] | list["Json"] | str | float | int | bool | None

WIDTH_PX, HEIGHT_PX = 860, 520
DASHES = ("solid", "dash", "dot", "dashdot", "longdash", "longdashdot")
# The scale of every temperature: a room's to a little below boiling, wider only where a reading lies outside.
SCALE_C = (20.0, 100.0)
# An event's kind, with a check's result -> the shape of its marker.
SYMBOLS: Mapping[str, str] = MappingProxyType(
    {
        "stirred": "triangle-up",
        "checked: clear": "circle",
        "checked: nearly clear": "hexagon",
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
    """Colours as CSS writes them, the pages' own.

    ink and faint (lesser text): 7 to 1 against ``paper``; the series, for one line after another: 4.5 to 1 (WCAG 2.2).
    The first of the series is the paste's, the second that of checks and of what is expected of them. area, band, hill:
    fills under the temperature, between its likely ends, and under the clear time.
    """

    paper: str
    ink: str
    faint: str
    rule: str
    area: str
    band: str
    hill: str
    series: tuple[str, ...]


LIGHT = Palette(
    paper="#f7f0e1",
    ink="#231d15",
    faint="#574c3c",
    rule="#d8cbb0",
    area="rgba(140, 53, 8, 0.14)",
    band="rgba(87, 76, 60, 0.2)",
    hill="rgba(11, 74, 134, 0.22)",
    series=("#8c3508", "#0b4a86", "#3d5a1e", "#6a2a78"),
)
DARK = Palette(
    paper="#1c2321",
    ink="#f4f0e4",
    faint="#bfc4b8",
    rule="#414b47",
    area="rgba(243, 178, 124, 0.18)",
    band="rgba(191, 196, 184, 0.24)",
    hill="rgba(159, 208, 255, 0.28)",
    series=("#f3b27c", "#9fd0ff", "#b9d98f", "#e0b0ea"),
)


def palette(dark: bool) -> Palette:
    """The colours for a light or a dark background."""
    return DARK if dark else LIGHT


def _colours(one: Palette) -> list[str]:
    *single, series = astuple(one)
    return [*single, *series]


def scheme_pairs() -> dict[str, str]:
    """Each colour of a light figure -> its partner in a dark one, for a browser that exchanges them.

    >>> scheme_pairs()["#f7f0e1"]
    '#1c2321'
    """
    return dict(zip(_colours(LIGHT), _colours(DARK), strict=True))


def in_scheme(figure: go.Figure, *, dark: bool) -> go.Figure:
    """The same figure in the colours of a dark or a light page, whichever it had before."""
    pairs = scheme_pairs()
    wanted = pairs if dark else {partner: colour for colour, partner in pairs.items()}
    return go.Figure(_exchanged(figure.to_plotly_json(), wanted))


def _exchanged(part: Json, wanted: Mapping[str, str]) -> Json:
    if isinstance(part, dict):
        return {key: _exchanged(value, wanted) for key, value in part.items()}
    if isinstance(part, list | tuple):
        return [_exchanged(value, wanted) for value in part]
    return wanted.get(part, part) if isinstance(part, str) else part


def styled_figure(title: str, x_title: str, y_title: str, dark: bool) -> go.Figure:
    """An empty figure in the shared style, which neither zooms nor holds up a finger that scrolls the page."""
    colours = palette(dark)
    axis = {
        "gridcolor": colours.rule,
        "linecolor": colours.ink,
        "tickcolor": colours.ink,
        "zeroline": False,
        "ticks": "outside",
        "ticklen": 4,
        "fixedrange": True,
        "automargin": True,
    }
    return go.Figure(
        layout={
            # An own, empty one: that of the library weighs 7 kB in each figure.
            "template": {},
            "title": {
                "text": title,
                "font": {"size": 17},
                "x": 0,
                "xref": "container",
                "xanchor": "left",
                "pad": {"l": 12},
            },
            "paper_bgcolor": colours.paper,
            "plot_bgcolor": colours.paper,
            "font": {"color": colours.ink, "family": "system-ui, sans-serif", "size": 13},
            "xaxis": {**axis, "title": {"text": x_title, "standoff": 6, "font": {"size": 13}}},
            "yaxis": {**axis, "title": {"text": y_title, "standoff": 6, "font": {"size": 13}}},
            "legend": {"orientation": "h", "yanchor": "top", "y": -0.2, "x": 0, "traceorder": "normal"},
            "margin": {"l": 44, "r": 14, "t": 52 if title else 16, "b": 44},
            "hovermode": "closest",
            "hoverlabel": {"bgcolor": colours.paper, "bordercolor": colours.ink, "font": {"color": colours.ink}},
            "dragmode": False,
        }
    )


def temperature_range(lowest_c: float, highest_c: float) -> tuple[float, float]:
    """The scale of a temperature axis, degC: the common one, widened by tens to hold what was read.

    >>> temperature_range(64.0, 97.0), temperature_range(12.0, 101.5)
    ((20.0, 100.0), (10.0, 110.0))
    """
    return min(SCALE_C[0], 10.0 * (lowest_c // 10.0)), max(SCALE_C[1], 10.0 * -(-highest_c // 10.0))
