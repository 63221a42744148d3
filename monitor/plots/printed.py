"""A course as a picture that needs neither script nor browser to be drawn: an SVG document, for paper.

It knows what a course is made of, a time axis, lines, fills, hatched stretches, ticks, rings, glasses and words, and
refuses anything else, so that nothing is silently missing on paper.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from html import escape
from typing import Any, TypeAlias
from urllib.parse import quote

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from monitor.model import Floats
from monitor.plots.alternative import alt_text
from monitor.plots.style import scheme_pairs

WIDTH_PX, HEIGHT_PX = 720.0, 280.0
AXIS_WORDS_PX = 14.0
_TICK_STEPS_MIN = (5, 10, 15, 30, 60, 120, 240, 480, 1440)
_TICK_ROOM_PX = 64.0
_DASHES = {"dash": "9 4", "dot": "2 4", "solid": ""}
_ANCHORS = {"left": "start", "center": "middle", "right": "end"}
# From the middle of a letter to its foot, px.
_HALF_LETTER = 4.5
_HATCHED, _DOTTED = "hatched", "dotted"
_PATTERNS = {"/": _HATCHED, ".": _DOTTED}
Points: TypeAlias = list[tuple[float, float]]


@dataclass(frozen=True)
class _Space:
    """Where things of a figure lie in the picture, px.

    across: of a moment; up: of a value on an axis; floor: of an axis.
    """

    left: float
    right: float
    top: float
    foot: float
    across: Callable[[Any], float]
    up: Callable[[str, float], float]
    floor: Callable[[str], float]


def course_svg(figure: go.Figure, width_px: float = WIDTH_PX) -> str:
    """A figure of ``plots.course`` as an SVG document, 280 px high; its sentence is its title.

    It follows the scheme of the page that shows it as an image. Raises ValueError for what it cannot draw.
    """
    space = _space(figure, width_px)
    parts = [*_axes(figure, space), '<g clip-path="url(#strip)">', *_traces(figure, space), "</g>"]
    parts += [*_shapes(figure, space), *_words(figure, space)]
    font = figure.layout.font
    clip = _box(space.left, 0, space.right, HEIGHT_PX)
    ink = escape(str(font.color))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width_px:g} {HEIGHT_PX:g}" '
        f'width="{width_px:g}" height="{HEIGHT_PX:g}" role="img" '
        f'font-family="{escape(str(font.family))}" font-size="{font.size:g}" fill="none">'
        f"<title>{escape(alt_text(figure))}</title><style>{_style()}</style>"
        f'<defs><clipPath id="strip">{clip}</clipPath>'
        f'<pattern id="{_HATCHED}" width="8" height="8" patternUnits="userSpaceOnUse">'
        f'<path d="M0 8L8 0" stroke="{ink}" stroke-width="0.7"/></pattern>'
        f'<pattern id="{_DOTTED}" width="8" height="8" patternUnits="userSpaceOnUse">'
        f'<circle cx="4" cy="4" r="0.8" fill="{ink}"/></pattern></defs>{"".join(parts)}</svg>'
    )


def course_address(figure: go.Figure, width_px: float = WIDTH_PX) -> str:
    """The same as an address that holds the whole picture, for an image's ``src`` or ``srcset``. Raises ValueError."""
    return "data:image/svg+xml," + quote(course_svg(figure, width_px), safe="~()*!.'=:/")


def _style() -> str:
    dark = "".join(
        f'[{name}="{light}"]{{{name}:{partner}}}'
        for light, partner in scheme_pairs().items()
        for name in ("fill", "stroke")
    )
    return f"@media screen and (prefers-color-scheme:dark){{{dark}}}"


def _space(figure: go.Figure, width_px: float) -> _Space:
    layout = figure.layout
    # The margin of a phone is widened by itself where an axis's words need it; this one is not.
    left, right = layout.margin.l + AXIS_WORDS_PX, width_px - layout.margin.r
    top, foot = float(layout.margin.t), HEIGHT_PX - layout.margin.b
    first, last = (_ms(end) for end in layout.xaxis.range)

    def across(moment: Any) -> float:
        return float(left + (right - left) * (_ms(moment) - first) / (last - first))

    def up(name: str, value: float) -> float:
        if name == "paper":
            return float(foot - (foot - top) * value)
        axis = layout[name.replace("y", "yaxis")]
        (low, high), (begin, end) = axis.range, axis.domain or layout.yaxis.domain
        return float(foot - (foot - top) * (begin + (end - begin) * (value - low) / (high - low)))

    def floor(name: str) -> float:
        return up(name, layout[name.replace("y", "yaxis")].range[0])

    return _Space(left, right, top, foot, across, up, floor)


def _ms(moment: Any) -> float:
    """A place on the time axis, which plotly takes as milliseconds or as text."""
    return float(moment) if isinstance(moment, int | float | np.number) else pd.Timestamp(moment).value / 1e6


def _axes(figure: go.Figure, space: _Space) -> list[str]:
    layout = figure.layout
    ink, rule = layout.font.color, layout.yaxis.gridcolor
    low, high = layout.yaxis.range
    values = np.arange(low, high + 1e-9, layout.yaxis.dtick)
    parts = []
    for value in values:
        y = space.up("y", value)
        suffix = layout.yaxis.ticksuffix if value == values[-1] else ""
        parts += [_line((space.left, y), (space.right, y), rule, 1.0)]
        parts += [_text(f"{value:.0f}{suffix}", space.left - 6.0, y + _HALF_LETTER, "end", ink)]
    foot = space.up("y", low)
    parts.append(_line((space.left, foot), (space.right, foot), ink, 1.0))
    first, last = (_ms(end) for end in layout.xaxis.range)
    for moment in _ticks(first, last, int((space.right - space.left) // _TICK_ROOM_PX)):
        x = space.across(moment)
        parts.append(_line((x, foot), (x, foot + 4.0), ink, 1.0))
        parts.append(_text(f"{pd.Timestamp(moment, unit='ms'):%H:%M}", x, foot + 18.0, "middle", ink))
    return parts


def _ticks(first_ms: float, last_ms: float, most: int) -> Floats:
    span_min = (last_ms - first_ms) / 60_000.0
    days = _TICK_STEPS_MIN[-1] * math.ceil(span_min / _TICK_STEPS_MIN[-1] / most)
    step_ms = 60_000.0 * next((step for step in _TICK_STEPS_MIN if span_min / step <= most), days)
    return np.arange(math.ceil(first_ms / step_ms) * step_ms, last_ms + 1.0, step_ms)


def _traces(figure: go.Figure, space: _Space) -> list[str]:
    parts: list[str] = []
    before: Points = []
    for trace in figure.data:
        if trace.marker.opacity == 0:
            # A place to touch, which paper has not.
            continue
        points = _points(trace, space)
        whole = [point for point in points if math.isfinite(point[1])]
        if trace.fill is not None:
            parts.append(_filled(trace, whole, before, space))
        if trace.mode == "markers":
            parts += [_marker(trace, point) for point in whole]
        elif trace.line.width != 0:
            dash = _DASHES[trace.line.dash or "solid"]
            parts += [_polyline(piece, trace.line.color, trace.line.width, dash) for piece in _pieces(points)]
        before = whole
    return parts


def _points(trace: Any, space: _Space) -> Points:
    levels = np.asarray(trace.y, dtype=np.float64)
    if trace.x is None:
        first = _ms(trace.x0)
        places = [space.across(first + number * float(trace.dx)) for number in range(len(levels))]
    else:
        places = [space.across(moment) for moment in trace.x]
    axis = trace.yaxis or "y"
    return [(x, space.up(axis, float(level))) for x, level in zip(places, levels, strict=True)]


def _pieces(points: Points) -> list[Points]:
    """The runs of points between holes."""
    found: list[Points] = [[]]
    for point in points:
        if math.isfinite(point[1]):
            found[-1].append(point)
        elif found[-1]:
            found.append([])
    return [piece for piece in found if piece]


def _filled(trace: Any, points: Points, before: Points, space: _Space) -> str:
    pattern = trace.fillpattern.shape
    fill = trace.fillcolor if pattern is None else f"url(#{_PATTERNS[pattern]})"
    if trace.fill == "tozeroy":
        foot = space.floor(trace.yaxis or "y")
        outline = [(points[0][0], foot), *points, (points[-1][0], foot)] if points else []
    elif trace.fill == "tonexty":
        outline = [*points, *reversed(before)]
    elif trace.fill == "toself":
        outline = points
    else:
        raise ValueError(f"fill is {trace.fill!r}, which cannot be printed")
    return f'<path d="{_path(outline)}Z" fill="{escape(str(fill))}"/>' if outline else ""


def _marker(trace: Any, at: tuple[float, float]) -> str:
    marker, (x, y) = trace.marker, at
    half = marker.size / 2.0
    if marker.symbol == "line-ns":
        return _line((x, y - half), (x, y + half), marker.line.color, marker.line.width)
    if marker.symbol == "circle":
        return (
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{half:g}" fill="{marker.color}" stroke="{marker.line.color}" '
            f'stroke-width="{marker.line.width:g}"/>'
        )
    raise ValueError(f"a marker is {marker.symbol!r}, which cannot be printed")


def _shapes(figure: go.Figure, space: _Space) -> list[str]:
    parts = []
    for shape in figure.layout.shapes:
        if shape.type != "path" or shape.xsizemode != "pixel":
            raise ValueError(f"a shape is {shape.type!r}, which cannot be printed")
        x, y = space.across(shape.xanchor), space.up(shape.yref, float(shape.yanchor))
        # Its own y runs up.
        parts.append(
            f'<path transform="translate({x:.1f} {y:.1f}) scale(1 -1)" d="{escape(shape.path)}" '
            f'fill="{shape.fillcolor or "none"}" stroke="{shape.line.color}" stroke-width="{shape.line.width:g}" '
            'stroke-linejoin="round"/>'
        )
    return parts


def _words(figure: go.Figure, space: _Space) -> list[str]:
    return [_annotation(one, space, figure.layout.font.color) for one in figure.layout.annotations]


def _annotation(one: Any, space: _Space, ink: str) -> str:
    x = space.across(one.x) + (one.xshift or 0.0)
    y = space.up(one.yref or "y", float(one.y)) - (one.yshift or 0.0)
    y += {"bottom": -4.0, "top": 2.0 * _HALF_LETTER}.get(one.yanchor or "middle", _HALF_LETTER)
    anchor = _ANCHORS[one.xanchor or "center"]
    halo = f' stroke="{one.bgcolor}" stroke-width="4" paint-order="stroke"' if one.bgcolor else ""
    turned = f' transform="rotate({one.textangle:g} {x:.1f} {y:.1f})"' if one.textangle else ""
    return _text(str(one.text), x, y, anchor, ink, halo + turned)


def _text(words: str, x: float, y: float, anchor: str, colour: str, more: str = "") -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" fill="{colour}"{more}>{escape(words)}</text>'


def _line(begin: tuple[float, float], end: tuple[float, float], colour: str, width: float) -> str:
    return f'<path d="{_path([begin, end])}" stroke="{colour}" stroke-width="{width:g}"/>'


def _polyline(points: Points, colour: str, width: float, dash: str) -> str:
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return f'<path d="{_path(points)}" stroke="{colour}" stroke-width="{width:g}" stroke-linejoin="round"{dashes}/>'


def _box(left: float, top: float, right: float, foot: float) -> str:
    return f'<path d="{_path([(left, top), (right, top), (right, foot), (left, foot)])}Z"/>'


def _path(points: Sequence[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points)
