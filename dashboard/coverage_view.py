"""How often the stated intervals held the clear time, as a page shows it: a row for each share, a bar for each cook."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from monitor.analysis import NOMINAL_COVERAGE, StatedInterval, Verdict, coverage_counts, coverage_verdict

WIDTH, ROW, TOP, LEFT, RIGHT = 360.0, 26.0, 26.0, 8.0, 8.0
# The bars show what was stated half way: early enough to plan by, late enough to know something.
BAR_SHARE = 0.5
MIN_SPAN_MIN, MAX_SPAN_MIN = 60.0, 240.0


@dataclass(frozen=True, slots=True)
class CoverageRow:
    """Coverage at one share of a cook.

    true: how many of the ``said`` intervals held the clear time. early, late: clear before or after the interval.
    promised: how many should have held it at the nominal coverage. words: the verdict.
    """

    share: str
    true: int
    said: int
    early: int
    late: int
    promised: float
    words: str


@dataclass(frozen=True, slots=True)
class Bar:
    """One cook's stated interval against its clear check, as horizontal positions in the drawing.

    low, middle, high: of the interval. not_yet: the last sample that was not clear, the left edge where there was none.
    clear: the clear check, which is the zero of the axis. good: whether the interval held it.
    """

    name: str
    y: float
    low: float
    middle: float
    high: float
    not_yet: float
    clear: float
    verdict: str
    good: bool


@dataclass(frozen=True, slots=True)
class BarChart:
    """bars: the latest cook first. ticks: (horizontal position, label). width, height: of the drawing."""

    bars: tuple[Bar, ...]
    ticks: tuple[tuple[float, str], ...]
    width: float
    height: float


def coverage_rows(stated: Sequence[tuple[Path, StatedInterval]]) -> list[CoverageRow]:
    """The coverage at each share, in the order of the shares; empty where nothing was stated."""
    return [
        CoverageRow(
            f"{row.share * 100:.0f} %",
            row.true,
            row.stated,
            row.early,
            row.late,
            NOMINAL_COVERAGE * row.stated,
            coverage_verdict(row),
        )
        for row in coverage_counts([interval for _, interval in stated])
        if row.stated
    ]


def interval_bars(stated: Sequence[tuple[Path, StatedInterval]]) -> BarChart:
    """Each cook's interval as it was stated half way, in minutes from its clear check.

    stated: (recording, interval) of the cooks, the latest first.
    """
    shown = [(path, one) for path, one in stated if one.share == BAR_SHARE and one.verdict is not Verdict.OPEN]
    ends = [abs(m - one.clear) / 60 for _, one in shown for m in (*one.stated, one.not_yet) if m is not None]
    span_min = min(max([MIN_SPAN_MIN, *ends]), MAX_SPAN_MIN)
    span_min = 30.0 * -(-span_min // 30.0)

    def x(moment: float, clear: float) -> float:
        offset = min(max((moment - clear) / 60, -span_min), span_min)
        return round(LEFT + (WIDTH - LEFT - RIGHT) * (offset + span_min) / (2 * span_min), 1)

    bars = []
    for number, (path, one) in enumerate(shown):
        low, middle, high = one.stated
        assert low is not None and middle is not None
        bars.append(
            Bar(
                path.stem,
                TOP + ROW * (number + 0.5),
                x(low, one.clear),
                x(middle, one.clear),
                x(high if high is not None else one.clear + 1e6, one.clear),
                x(one.not_yet if one.not_yet is not None else one.clear - 1e6, one.clear),
                x(one.clear, one.clear),
                one.verdict.value,
                one.verdict is Verdict.TRUE,
            )
        )
    ticks = tuple((x(m * 60, 0.0), f"{m:+.0f} min" if m else "clear") for m in (-span_min / 2, 0.0, span_min / 2))
    return BarChart(tuple(bars), ticks, WIDTH, TOP + ROW * len(bars) + 8)
