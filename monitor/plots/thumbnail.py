"""The paste's course as a strip the height of two lines of text, for a row in a list of cooks."""

from collections.abc import Sequence

import numpy as np

from monitor.model import Floats
from monitor.plots.style import DARK, LIGHT, SCALE_C

# Units of the drawing, each about a pixel of a phone.
WIDTH, HEIGHT = 240.0, 44.0
# The foot below the curve, in which the hours are ticked.
FOOT = 5.0
MOST_POINTS = 120
# The line is broken where more than this is missing, s.
GAP_S = 900.0


def course_thumbnail(
    times: Floats, temperatures_c: Floats, begin: float, span_s: float, *, clear: float | None = None
) -> str:
    """A course as an SVG document whose ink follows the phone's scheme.

    times: Unix seconds; temperatures_c: degC, both of shape (n,) and ordered, NaN at a fault. begin: of the axis, Unix
    seconds. span_s: its length, the same for all strips that are to be compared; what lies beyond is cut. clear: when
    the paste read clear (Unix seconds), which gets a stroke from top to foot. Ticks at its foot count the hours. At
    most 120 points. It has no words: the row's own say what it is.

    >>> text = course_thumbnail(np.array([0.0, 600.0]), np.array([20.0, 90.0]), 0.0, 3600.0, clear=600.0)
    >>> text.count("<path")
    4
    """
    pieces = _pieces(times, temperatures_c, begin, span_s)
    area, line = "".join(map(_closed, pieces)), "".join(map(_line, pieces))
    parts = [f'<path class="area" d="{area}"/><path d="{line}"/>'] if pieces else []
    hours = range(1, int(span_s / 3600.0) + 1)
    marks = "".join(f"M{WIDTH * 3600.0 * hour / span_s:.1f} {HEIGHT - FOOT:g}V{HEIGHT:g}" for hour in hours)
    parts.append(f'<path class="rule" d="M0 {HEIGHT - FOOT:g}H{WIDTH:g}{marks}"/>')
    if clear is not None and begin <= clear <= begin + span_s:
        at = WIDTH * (clear - begin) / span_s
        parts.append(f'<path class="clear" d="M{min(max(at, 1.5), WIDTH - 1.5):.1f} 0V{HEIGHT:g}"/>')
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:g} {HEIGHT:g}" preserveAspectRatio="none" '
        f'fill="none" stroke-width="2"><style>{_rules()}</style>{"".join(parts)}</svg>'
    )


def _rules() -> str:
    """Colours by the scheme; strokes keep their width however the strip is stretched."""
    written = [
        f"path{{stroke:{one.series[0]};vector-effect:non-scaling-stroke}}.area{{fill:{one.area};stroke:none}}"
        f".rule{{stroke:{one.faint};stroke-width:1}}.clear{{stroke:{one.series[1]};stroke-width:3}}"
        for one in (LIGHT, DARK)
    ]
    return f"{written[0]}@media(prefers-color-scheme:dark){{{written[1]}}}"


def _pieces(times: Floats, temperatures_c: Floats, begin: float, span_s: float) -> list[list[tuple[float, float]]]:
    """The curve as unbroken lines of points of the drawing: the median of each part of the axis."""
    shown = np.isfinite(temperatures_c) & (times >= begin) & (times <= begin + span_s)
    moments, values = times[shown], temperatures_c[shown]
    if not len(moments):
        return []
    places = ((moments - begin) / span_s * (MOST_POINTS - 1)).round().astype(np.int64)
    first = np.concatenate([[0], np.flatnonzero(np.diff(places)) + 1])
    last = np.append(first[1:], len(places))
    low, high = SCALE_C
    points: list[list[tuple[float, float]]] = []
    before = -np.inf
    for begins, ends in zip(first.tolist(), last.tolist(), strict=True):
        if moments[begins] - before > GAP_S:
            points.append([])
        level = (float(np.median(values[begins:ends])) - low) / (high - low)
        y = (HEIGHT - FOOT) * (1.0 - min(max(level, 0.0), 1.0))
        points[-1].append((WIDTH * places[begins] / (MOST_POINTS - 1), y))
        before = moments[ends - 1]
    return points


def _line(piece: Sequence[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in piece)


def _closed(piece: Sequence[tuple[float, float]]) -> str:
    foot = HEIGHT - FOOT
    return f"{_line(piece)}V{foot:g}H{piece[0][0]:.1f}Z"
