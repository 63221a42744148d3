"""The cook's curve as a drawing that prints: lines and words, no script."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from dashboard.figures import curve_points, grid_for
from monitor.model import Event, History

WIDTH, HEIGHT = 720.0, 260.0
LEFT, RIGHT, TOP, BOTTOM = 46.0, 12.0, 34.0, 30.0
DRAWN = {"lid on": "lid on", "stirred": "s", "checked": "", "heat off": "off", "thick trace": "trace"}
_HOUR_STEPS = (0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 24.0)


@dataclass(frozen=True, slots=True)
class Tick:
    """A place on an axis, in the drawing's units, and its words."""

    at: float
    words: str


@dataclass(frozen=True, slots=True)
class Drawing:
    """The curve in a box of 720 by 260 units.

    lines: polylines, broken where readings are missing, as SVG points. across: hours since the start. up: degC.
    marks: what was logged, at its time.
    """

    lines: tuple[str, ...]
    across: tuple[Tick, ...]
    up: tuple[Tick, ...]
    marks: tuple[Tick, ...]


def drawing(history: History, end: float) -> Drawing | None:
    """The paste's curve up to ``end`` (Unix seconds); None where there is no reading of the paste."""
    times, values_c = history.temperature_c("paste")
    grid = grid_for(history.started, end)
    points = curve_points(times, values_c, grid)
    pairs = list(zip(points[::2], points[1::2], strict=True))
    seen = [tenths / 10.0 for _, tenths in pairs if tenths is not None]
    if not seen:
        return None
    low = 10.0 * (min(seen) // 10.0)
    high = max(10.0 * -(-max(seen) // 10.0), low + 10.0)
    span_s = max(end - grid.origin, 60.0)

    def across(offset_s: float) -> float:
        return LEFT + (WIDTH - LEFT - RIGHT) * offset_s / span_s

    def up(value_c: float) -> float:
        return HEIGHT - BOTTOM - (HEIGHT - TOP - BOTTOM) * (value_c - low) / (high - low)

    lines: list[list[str]] = [[]]
    for offset, tenths in pairs:
        if tenths is None:
            lines.append([])
        else:
            lines[-1].append(f"{across(offset or 0):.1f},{up(tenths / 10.0):.1f}")
    span_h = span_s / 3600.0
    step_h = next((step for step in _HOUR_STEPS if span_h / step <= 8), max(_HOUR_STEPS[-1], math.ceil(span_h / 8)))
    before_h = (grid.origin - history.started) / 3600.0
    first_tick = math.ceil(before_h / step_h)
    hours = [step_h * n for n in range(first_tick, math.floor((before_h + span_h) / step_h) + 1)]
    # A probe may say anything.
    every_c = 10.0 if high - low <= 60.0 else max(20.0, math.ceil((high - low) / 12.0))
    return Drawing(
        tuple(" ".join(line) for line in lines if line),
        tuple(Tick(across((hour - before_h) * 3600.0), f"{hour:g} h") for hour in hours),
        tuple(Tick(up(low + every_c * n), f"{low + every_c * n:.0f}") for n in range(int((high - low) / every_c) + 1)),
        tuple(_marks(history.events, grid.origin, end, across)),
    )


def _marks(events: Sequence[Event], origin: float, end: float, across: Callable[[float], float]) -> list[Tick]:
    return [
        Tick(across(event.measured - origin), str(event.fields.get("result", "")) or DRAWN[event.kind])
        for event in events
        if event.kind in DRAWN and origin <= event.measured <= end
    ]
