"""Whether the stated times came true, for a page: a row for each share of a cook and a bar for each cook."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from monitor.analysis import NOMINAL_COVERAGE, StatedInterval, Verdict, coverage_counts, coverage_verdict

WIDTH, ROW, TOP, LEFT, RIGHT = 360.0, 26.0, 26.0, 8.0, 8.0
# The bars tell of the half way: early enough to plan by, late enough to know something.
DRAWN_SHARE = 0.5
LEAST_SPAN_MIN, MOST_SPAN_MIN = 60.0, 240.0


@dataclass(frozen=True, slots=True)
class TrustRow:
    """One share of a cook: when, how many of how many came true, and what to make of it."""

    share: str
    true: int
    said: int
    early: int
    late: int
    promised: float
    words: str


@dataclass(frozen=True, slots=True)
class Bar:
    """One cook's stated interval against its clear check at 0. Places along the drawing.

    low, middle, high: of the interval; not_yet: of the last sample that was not clear, the left edge where none was.
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
class Bars:
    """bars: the latest first; ticks: (place, words)."""

    bars: tuple[Bar, ...]
    ticks: tuple[tuple[float, str], ...]
    width: float
    height: float


def trust_rows(said: Sequence[tuple[Path, StatedInterval]]) -> list[TrustRow]:
    """How often what was said came true, in the order of the shares; empty where nothing was said."""
    return [
        TrustRow(
            f"{row.share * 100:.0f} %",
            row.true,
            row.stated,
            row.early,
            row.late,
            NOMINAL_COVERAGE * row.stated,
            coverage_verdict(row),
        )
        for row in coverage_counts([saying for _, saying in said])
        if row.stated
    ]


def said_rows(said: Sequence[tuple[Path, StatedInterval]]) -> Bars:
    """Each cook's interval as it was stated half way, in minutes from its clear check."""
    shown = [(path, one) for path, one in said if one.share == DRAWN_SHARE and one.verdict is not Verdict.OPEN]
    ends = [abs(m - one.clear) / 60 for _, one in shown for m in (*one.stated, one.not_yet) if m is not None]
    span_min = min(max([LEAST_SPAN_MIN, *ends]), MOST_SPAN_MIN)
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
    return Bars(tuple(bars), ticks, WIDTH, TOP + ROW * len(bars) + 8)
