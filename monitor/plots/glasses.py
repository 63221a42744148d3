"""The clarity sample, drawn: a glass before three lines of print.

The looks differ by the print behind the glass and by the hatching before it, never by colour: sharp print without a
veil is clear, and where nothing can be read the sample is cloudy. One drawing serves the charts and the answer buttons.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import TypeAlias
from urllib.parse import quote

from monitor.plots.style import DARK, LIGHT

Line: TypeAlias = Sequence[tuple[float, float]]

# The drawing's box; y runs down, as in SVG.
WIDTH, HEIGHT = 24.0, 30.0
# Pixels a unit of the box in a figure: as large as checks of half an hour stand side by side on a phone.
SCALE = 1.2
HALF_GLASS_PX = 14
_RIM, _FOOT, _LEVEL = 2.0, 28.0, 7.0
_SLANT = 0.1
_GLASS: Line = ((2.5, _RIM), (5.1, _FOOT), (18.9, _FOOT), (21.5, _RIM))
_SURFACE: Line = ((3.0, _LEVEL), (21.0, _LEVEL))
_LIQUID: Line = ((3.0, _LEVEL), (5.1, _FOOT), (18.9, _FOOT), (21.0, _LEVEL))
_PRINT: tuple[Line, ...] = (
    ((6.5, 12.0), (11.0, 12.0)),
    ((13.2, 12.0), (17.5, 12.0)),
    ((6.8, 17.5), (8.6, 17.5)),
    ((10.8, 17.5), (17.2, 17.5)),
    ((7.2, 23.0), (13.0, 23.0)),
    ((15.2, 23.0), (16.8, 23.0)),
)
# A planned check: the glass is there, and nothing in it yet.
PLANNED = "planned"


@dataclass(frozen=True, slots=True)
class _Look:
    """print_width: of its strokes, 0 where it cannot be read. veil: distance between the lines of hatching, or none.

    full: whether the sample hides all behind it.
    """

    print_width: float
    veil: float | None
    full: bool = False


_LOOKS: Mapping[str, _Look] = MappingProxyType(
    {
        "clear": _Look(2.6, None),
        "nearly clear": _Look(2.2, 10.0),
        "hazy": _Look(1.0, 4.2),
        "cloudy": _Look(0.0, None, full=True),
        PLANNED: _Look(0.0, None),
    }
)


@dataclass(frozen=True, slots=True)
class Stroke:
    """Lines of one width (in units of the box); full: whether the shape that they enclose is inked too."""

    lines: tuple[Line, ...]
    width: float
    full: bool = False


def strokes(look: str) -> tuple[Stroke, ...]:
    """The drawing of a look: one of ``model``'s CHECK_RESULTS, or PLANNED. Raises ValueError for another.

    The first stroke is the glass itself.
    """
    if look not in _LOOKS:
        raise ValueError(f"look is {look!r}; it must be one of {', '.join(_LOOKS)}")
    drawn = _LOOKS[look]
    found = [Stroke((_GLASS,), 1.8) if look == PLANNED else Stroke((_GLASS, _SURFACE), 2.0)]
    if drawn.full:
        found.append(Stroke((_LIQUID,), 0.5, full=True))
    if drawn.print_width:
        found.append(Stroke(_PRINT, drawn.print_width))
    if drawn.veil is not None:
        found.append(Stroke(_hatching(drawn.veil), 1.0))
    return tuple(found)


def _hatching(step: float) -> tuple[Line, ...]:
    """Slanting lines x + y = c that fill the liquid. step: from one c to the next."""
    left, right = 2.3, 21.7
    lines = []
    c = _LEVEL + left + step
    while c < _FOOT + right:
        # The walls lean inward by _SLANT, so the ends lie where x = left + slant y and x = right - slant y.
        top = max(_LEVEL, (c - right) / (1.0 - _SLANT))
        bottom = min(_FOOT, (c - left) / (1.0 + _SLANT))
        if bottom > top:
            lines.append(((round(c - top, 1), round(top, 1)), (round(c - bottom, 1), round(bottom, 1))))
        c += step
    return tuple(lines)


def glass_svg(look: str) -> str:
    """A glass as an SVG document, for an answer button; its ink is the text colour of the phone's scheme.

    look: "clear", "nearly clear", "hazy", "cloudy" or "planned". Raises ValueError for another. As an image it follows
    the scheme by itself; as a mask it takes the colour of the text. It has no words: the button's own say what it is.
    """
    parts = []
    for stroke in strokes(look):
        path = "".join("M" + "L".join(f"{x:g} {y:g}" for x, y in line) for line in stroke.lines)
        fill = ' fill="currentColor"' if stroke.full else ""
        parts.append(f'<path d="{path}" stroke-width="{stroke.width:g}"{fill}/>')
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:g} {HEIGHT:g}" fill="none" stroke="currentColor" '
        'stroke-linecap="round" stroke-linejoin="round">'
        f"<style>svg{{color:{LIGHT.ink}}}@media(prefers-color-scheme:dark){{svg{{color:{DARK.ink}}}}}</style>"
        f"{''.join(parts)}</svg>"
    )


def glass_address(look: str) -> str:
    """The same as an address that holds the whole image, for ``src`` or a mask. Raises ValueError as ``glass_svg``."""
    return "data:image/svg+xml," + quote(glass_svg(look), safe="~()*!.'=:/")


def glass_shapes(look: str, at: str | float, foot: float, yref: str, ink: str, paper: str) -> list[dict[str, object]]:
    """A glass of fixed size in a figure: its foot stands at (``at``, ``foot``) of the axes x and ``yref``.

    Shapes for ``layout.shapes``. Raises ValueError as ``glass_svg``.
    """
    place = {"xref": "x", "yref": yref, "xsizemode": "pixel", "ysizemode": "pixel", "xanchor": at, "yanchor": foot}
    shapes: list[dict[str, object]] = []
    for number, stroke in enumerate(strokes(look)):
        path = "".join(
            "M" + "L".join(f"{SCALE * (x - WIDTH / 2):.1f},{SCALE * (_FOOT - y):.1f}" for x, y in line)
            for line in stroke.lines
        )
        line = {"color": ink, "width": round(0.9 * stroke.width, 1)}
        # The glass itself hides what is behind it, or its print would be lost on a fill.
        ground = {"fillcolor": paper} if number == 0 else {"fillcolor": ink} if stroke.full else {}
        shapes.append({"type": "path", "path": path, "line": line, **ground, **place})
    return shapes
