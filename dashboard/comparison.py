"""The comparison of several cooks: their temperature curves on one time axis, as a drawing."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from monitor.analysis import AlignedCourse
from monitor.session import Cook
from monitor.storage import RecordingError

# CSS pixels of a phone, so that text keeps its size there.
WIDTH, HEIGHT = 380, 280
LEFT, RIGHT, TOP, BOTTOM = 34.0, 10.0, 14.0, 28.0
# More points than this a phone's width cannot show.
MAX_POINTS = 240
LOW_C, HIGH_C = 20.0, 100.0
_STEPS_H = (0.25, 0.5, 1.0, 2.0, 4.0, 8.0)
# Lines differ by stroke as well as by colour.
DASHES = ("", "9 4", "2 4", "14 4 2 4", "5 3", "1 6")


@dataclass(frozen=True, slots=True)
class ComparedCook:
    """One cook's line.

    began: its zero on the axis, Unix seconds. lines: SVG points of a polyline for each unbroken piece. marks: (x, y,
    whether it read clear) of each check.
    """

    name: str
    title: str
    number: int
    dash: str
    began: int
    clear_words: str
    lines: tuple[str, ...]
    marks: tuple[tuple[float, float, bool], ...]


@dataclass(frozen=True, slots=True)
class ComparisonChart:
    """cooks: those that are drawn. left_out: (title, why) of the others. across, up: (position, label) of the ticks."""

    cooks: tuple[ComparedCook, ...]
    left_out: tuple[tuple[str, str], ...]
    across: tuple[tuple[float, str], ...]
    up: tuple[tuple[float, str], ...]
    width: int = WIDTH
    height: int = HEIGHT


def comparison_chart(cooks: Sequence[Cook], alignment: str) -> ComparisonChart:
    """The cooks on one time axis, aligned by one of ``monitor.analysis.ALIGNMENTS``."""
    tracks, left_out = _aligned_courses(cooks, alignment)
    if not tracks:
        return ComparisonChart((), tuple(left_out), (), ())
    last_s = max(600.0, *(float(one.at[-1]) for _, one in tracks))
    # Before the zero at most half an hour is shown, for the warm-up.
    first_s = min(0.0, *(max(-1800.0, float(one.at[0])) for _, one in tracks))
    levels = [one.temperature_c[one.at >= first_s] for _, one in tracks]
    low = min(LOW_C, *(10.0 * np.floor(float(level.min()) / 10) for level in levels))
    high = max(HIGH_C, *(10.0 * np.ceil(float(level.max()) / 10) for level in levels))

    def x(at_s: float) -> float:
        return round(LEFT + (WIDTH - LEFT - RIGHT) * (at_s - first_s) / (last_s - first_s), 1)

    def y(value_c: float) -> float:
        return float(round(HEIGHT - BOTTOM - (HEIGHT - TOP - BOTTOM) * (value_c - low) / (high - low), 1))

    drawn = []
    for number, (cook, one) in enumerate(tracks):
        marks = tuple(
            (x(at), y(float(np.interp(at, one.at, one.temperature_c))), result == "clear")
            for at, kind, result in one.marks
            if kind == "checked" and at >= 0
        )
        clear = "" if one.clear is None else _hours(one.clear)
        drawn.append(
            ComparedCook(
                cook.name,
                cook.title(),
                number,
                DASHES[number],
                round(one.zero),
                clear,
                _pieces(one, first_s, x, y),
                marks,
            )
        )
    span_h = (last_s - first_s) / 3600
    step_h = next((step for step in _STEPS_H if span_h / step <= 6), max(_STEPS_H[-1], float(np.ceil(span_h / 6))))
    hours = np.arange(np.ceil(first_s / 3600 / step_h) * step_h, last_s / 3600 + 1e-9, step_h)
    return ComparisonChart(
        tuple(drawn),
        tuple(left_out),
        tuple((x(float(hour) * 3600), f"{hour + 0.0:g} h") for hour in hours),
        tuple((y(value), f"{value:.0f}") for value in np.arange(low, high + 1, 20.0)),
    )


def _aligned_courses(
    cooks: Sequence[Cook], alignment: str
) -> tuple[list[tuple[Cook, AlignedCourse]], list[tuple[str, str]]]:
    """Each cook with its aligned course; then (title, why) of those that cannot be aligned so."""
    tracks: list[tuple[Cook, AlignedCourse]] = []
    left_out: list[tuple[str, str]] = []
    for cook in cooks:
        try:
            found = cook.track(alignment)
        except RecordingError as error:
            left_out.append((cook.name, error.why))
            continue
        if found is None:
            left_out.append((cook.title(), "it has no temperatures after such a beginning"))
        else:
            tracks.append((cook, found))
    return tracks, left_out


def _pieces(
    one: AlignedCourse, first_s: float, x: Callable[[float], float], y: Callable[[float], float]
) -> tuple[str, ...]:
    """The line, broken where more than five minutes are missing."""
    keep = one.at >= first_s
    at, level, moments = one.at[keep], one.temperature_c[keep], one.moments[keep]
    pieces = []
    for piece in np.split(np.arange(len(at)), np.flatnonzero(np.diff(moments) > 300.0) + 1):
        some = piece if len(piece) <= MAX_POINTS else piece[np.linspace(0, len(piece) - 1, MAX_POINTS).astype(int)]
        pieces.append(" ".join(f"{x(float(at[i]))},{y(float(level[i]))}" for i in some))
    return tuple(piece for piece in pieces if piece)


def _hours(seconds: float) -> str:
    minutes = round(seconds / 60)
    return f"{minutes // 60} h {minutes % 60:02d} min"
