"""A whole cook drawn: as a row of bars for the terminal, and as a picture people save. Readable in light and dark."""

import math
from collections.abc import Callable
from typing import TypeAlias
from xml.sax.saxutils import escape

import numpy as np

from monitor.estimation import BlockMedian
from monitor.model import Floats, History, clock_time, cook_start

_Place: TypeAlias = Callable[[float], float]

_BARS = "▁▂▃▄▅▆▇█"
_WIDTH, _HEIGHT = 860, 430
_LEFT, _RIGHT, _TOP, _BOTTOM = 56, 20, 70, 330
_LOWEST_C, _LEAST_SPAN_C = 20.0, 20.0
_EVENT_ROWS = 4
# The width of a letter of the events' words, from above: sans serif of 12 px.
_LETTER = 7.0
# What is drawn along the curve; the rest stands in the words.
_DRAWN = ("lye in", "thick trace", "lid on", "lid off", "heat", "heat off", "stirred", "checked", "finished")


def curve(history: History) -> tuple[Floats, Floats]:
    """Block times (Unix seconds) and temperatures (degC) of the paste, shapes (n,)."""
    blocks = BlockMedian()
    blocks.extend(*history.temperature_c("paste"))
    return blocks.arrays()


def cook_sparkline(times: Floats, temperatures_c: Floats, width: int = 60) -> str:
    """The temperature as one row of bars from its lowest to its highest; a blank where nothing was measured.

    times: Unix seconds, shape (n,).

    >>> cook_sparkline(np.array([0.0, 30.0, 90.0]), np.array([20.0, 60.0, 90.0]), 4)
    '▁▅ █'
    """
    if not len(times):
        return ""
    low, high = float(temperatures_c.min()), float(temperatures_c.max())
    place = np.minimum(((times - times[0]) / max(times[-1] - times[0], 1.0) * width).astype(np.int64), width - 1)
    bars = []
    for column in range(width):
        inside = temperatures_c[place == column]
        share = (float(inside.mean()) - low) / max(high - low, 1e-9) if len(inside) else math.nan
        bars.append(" " if math.isnan(share) else _BARS[round(share * (len(_BARS) - 1))])
    return "".join(bars)


def cook_svg(history: History, title: str, clear_at: tuple[float | None, float | None, float | None]) -> str:
    """The cook as SVG: the paste's curve, the events, and when the paste came or should come clear.

    clear_at: the 10, 50 and 90 % points in Unix seconds, None where nothing can be said.
    """
    times, level = curve(history)
    events = [event for event in history.events if event.kind in _DRAWN]
    moments = [*times[:1], *times[-1:], *(event.measured for event in events), *(m for m in clear_at if m is not None)]
    first = float(min(moments, default=history.started))
    last = float(max([*moments, first + 600.0]))
    low_c = min(_LOWEST_C, float(level.min())) if len(level) else _LOWEST_C
    high_c = max(low_c + _LEAST_SPAN_C, float(level.max()) + 4.0) if len(level) else 100.0

    def x(moment: float) -> float:
        return _LEFT + (moment - first) / (last - first) * (_WIDTH - _LEFT - _RIGHT)

    def y(temperature_c: float) -> float:
        return _BOTTOM - (temperature_c - low_c) / (high_c - low_c) * (_BOTTOM - _TOP)

    parts = [_axes(first, last, low_c, high_c, x, y)]
    low, middle, high = clear_at
    if low is not None and middle is not None:
        to = high if high is not None else last
        parts.append(
            f'<rect class="clear" x="{x(low):.1f}" y="{_TOP}" width="{max(x(to) - x(low), 1.5):.1f}" '
            f'height="{_BOTTOM - _TOP}"/><line class="clear" x1="{x(middle):.1f}" y1="{_TOP}" x2="{x(middle):.1f}" '
            f'y2="{_BOTTOM}"/><text x="{min(x(middle), _WIDTH - _RIGHT - 16):.1f}" y="{_TOP - 6}" '
            'text-anchor="middle">clear</text>'
        )
    parts += [f'<path class="paste" d="{path}"/>' for path in _paths(times, level, x, y)]
    taken = [-math.inf] * _EVENT_ROWS
    for event in events:
        words = str(event.fields.get("result", event.fields.get("setting", event.kind)))
        at = x(event.measured)
        width = _LETTER * len(words)
        left = min(max(at - width / 2, 4.0), _WIDTH - 4.0 - width)
        row = next((row for row, ends in enumerate(taken) if ends + _LETTER <= left), None)
        foot = _BOTTOM + 44 + 15 * (_EVENT_ROWS - 1 if row is None else row)
        parts.append(f'<line class="event" x1="{at:.1f}" y1="{_BOTTOM + 23}" x2="{at:.1f}" y2="{foot - 11}"/>')
        # Where there is no room for its words the stroke alone has to do.
        if row is not None:
            taken[row] = left + width
            parts.append(f'<text class="event" x="{left:.1f}" y="{foot}">{escape(words)}</text>')
    start = cook_start(history)
    since = "" if start is None else f"; lid on at {clock_time(start)}"
    return f"""<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH} {_HEIGHT}" role="img" \
aria-label="{escape(title, {'"': "&quot;"})}">
<style>
svg {{ color: #2a2622; background: #fbf8f2; font: 14px sans-serif }} text {{ fill: currentColor }}
line, path {{ stroke: currentColor; fill: none }} .paste {{ stroke-width: 2.5 }} .rule {{ opacity: .2 }}
.event {{ font-size: 12px; opacity: .8 }} rect.clear {{ fill: currentColor; opacity: .14 }}
line.clear {{ stroke-dasharray: 6 4 }}
@media (prefers-color-scheme: dark) {{ svg {{ color: #f1ebe0; background: #1d1a17 }} }}
</style>
<text x="{_LEFT}" y="24" font-size="17">{escape(title)}</text>
<text x="{_LEFT}" y="44">paste, °C, over the hour{since}; shaded: 8 in 10 sure to come clear</text>
{"".join(parts)}
</svg>
"""


def _axes(first: float, last: float, low_c: float, high_c: float, x: _Place, y: _Place) -> str:
    rules = []
    for temperature_c in range(math.ceil(low_c / 20) * 20, math.floor(high_c) + 1, 20):
        at = y(temperature_c)
        rules.append(
            f'<line class="rule" x1="{_LEFT}" y1="{at:.1f}" x2="{_WIDTH - _RIGHT}" y2="{at:.1f}"/>'
            f'<text x="{_LEFT - 8}" y="{at + 5:.1f}" text-anchor="end">{temperature_c}</text>'
        )
    hours = (last - first) / 3600.0
    step_s = 3600.0 if hours > 2 else 900.0
    for moment in np.arange(math.ceil(first / step_s) * step_s, last, step_s * max(1.0, math.ceil(hours / 12))):
        at = x(float(moment))
        rules.append(
            f'<line class="rule" x1="{at:.1f}" y1="{_TOP}" x2="{at:.1f}" y2="{_BOTTOM}"/>'
            f'<text x="{at:.1f}" y="{_BOTTOM + 18}" text-anchor="middle">{clock_time(float(moment))}</text>'
        )
    return "".join(rules)


def _paths(times: Floats, level: Floats, x: _Place, y: _Place) -> list[str]:
    """The curve in pieces, broken where more than five minutes are missing."""
    if not len(times):
        return []
    cuts = np.flatnonzero(np.diff(times) > 300.0) + 1
    return [
        "M" + " L".join(f"{x(float(t)):.1f},{y(float(c)):.1f}" for t, c in zip(at, values, strict=True))
        for at, values in zip(np.split(times, cuts), np.split(level, cuts), strict=True)
    ]
