"""Interval coverage: the stated clear times, compared with the checks of finished cooks.

When a paste came clear is known only between the last sample that was not clear and the first that was. A stated
interval came true where it meets that bracket; it was too early where it ended before the bracket began, too late
where it began after the bracket's end.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

from monitor.estimation import Estimator, Prior
from monitor.model import History, clear_bracket, cook_start, cut

# The estimate is recomputed at these shares of the time from lid on to the clear check.
SHARES = (0.25, 0.5, 0.75)
# The stated interval runs from its 10 to its 90 % point.
NOMINAL_COVERAGE = 0.8


class Verdict(Enum):
    """How a stated interval turned out."""

    TRUE = "came true"
    EARLY = "too early"
    LATE = "too late"
    OPEN = "nothing was said"


@dataclass(frozen=True)
class StatedInterval:
    """The interval that was stated at one moment of a cook, and what the checks showed. Times in Unix seconds.

    at: the moment; share: of the time to the clear check, 0 to 1. stated: the 10, 50 and 90 % points of the clear
    time, None where none was stated. not_yet: the last sample that was not clear, None where there was none. clear:
    the first that was.
    """

    at: float
    share: float
    stated: tuple[float | None, float | None, float | None]
    not_yet: float | None
    clear: float

    @property
    def verdict(self) -> Verdict:
        """How it turned out."""
        low, middle, high = self.stated
        if middle is None or low is None:
            return Verdict.OPEN
        if low > self.clear:
            return Verdict.LATE
        if high is not None and self.not_yet is not None and high < self.not_yet:
            return Verdict.EARLY
        return Verdict.TRUE


@dataclass(frozen=True)
class CoverageCount:
    """The number of stated intervals of one share, by how they turned out.

    share: of the time to the clear check. open: cooks in which nothing was stated.
    """

    share: float
    true: int
    early: int
    late: int
    open: int

    @property
    def stated(self) -> int:
        """The number of cooks in which an interval was stated."""
        return self.true + self.early + self.late


def stated_intervals(history: History, prior: Prior) -> list[StatedInterval]:
    """The intervals stated along a finished cook, recomputed from what was known at each moment.

    prior: of the kitchen when the cook began. Empty where the last check was not clear. An interval counts as its 10
    to 90 % points, so NOMINAL_COVERAGE of them should come true.
    """
    start, bracket = cook_start(history), clear_bracket(history)
    if start is None or bracket is None:
        return []
    not_yet, end = bracket
    intervals = []
    for share in SHARES:
        at = start + share * (end - start)
        outlook = Estimator(prior).estimate(cut(history, at), at)
        intervals.append(StatedInterval(at, share, outlook.clear_at, not_yet, end))
    return intervals


def coverage_counts(intervals: Sequence[StatedInterval]) -> tuple[CoverageCount, ...]:
    """How the stated intervals of each share turned out, in the order of SHARES."""
    rows = []
    for share in SHARES:
        verdicts = [one.verdict for one in intervals if one.share == share]
        rows.append(
            CoverageCount(
                share, *(verdicts.count(v) for v in (Verdict.TRUE, Verdict.EARLY, Verdict.LATE, Verdict.OPEN))
            )
        )
    return tuple(rows)


# With fewer cooks the share that came true says next to nothing.
LEAST_TO_JUDGE = 8
# Significance: a count that is this improbable under the nominal coverage refutes it (judgement).
RARE = 0.05


def coverage_verdict(row: CoverageCount) -> str:
    """Whether to plan by the stated times, in plain words.

    row: counts at one share of the cooks. Their coverage is tested against NOMINAL_COVERAGE by the tails of the
    binomial distribution at the level RARE, one-sided each; cooks are taken as independent.

    >>> coverage_verdict(CoverageCount(0.5, 8, 1, 1, 0))
    'That is about what was promised: plan by the stated times.'
    """
    if row.stated < LEAST_TO_JUDGE:
        return f"Too few to tell yet: with {LEAST_TO_JUDGE} such cooks this page can say more."
    if _tail(row.stated, row.true) < RARE:
        if row.early >= 2 * max(row.late, 1):
            return "That is fewer than promised, and mostly too early: count on the later end, or later still."
        if row.late >= 2 * max(row.early, 1):
            return "That is fewer than promised, and mostly too late: look from the early end on."
        return "That is fewer than promised: take the stated times as rough, and check earlier and again."
    if row.true == row.stated and NOMINAL_COVERAGE**row.stated < RARE:
        return "That is more than was promised: the stated times are safe, and wider than need be."
    return "That is about what was promised: plan by the stated times."


def _tail(stated: int, true: int) -> float:
    """P(K <= true) for K binomial with ``stated`` trials and the nominal coverage."""
    return math.fsum(
        math.comb(stated, k) * NOMINAL_COVERAGE**k * (1.0 - NOMINAL_COVERAGE) ** (stated - k) for k in range(true + 1)
    )


def coverage_text(rows: Sequence[CoverageCount]) -> list[str]:
    """A line for each share, and a first one with the nominal coverage.

    >>> coverage_text([CoverageCount(0.5, 7, 1, 2, 0)])[1]
    'At 50 % of the cook: 7 of 10 came true, 1 too early, 2 too late.'
    """
    if not any(row.stated for row in rows):
        return ["No finished cook with a clear check yet, so no stated time could be held against one."]
    lines = [f"A stated time promises to come true in {NOMINAL_COVERAGE * 10:.0f} of 10 cooks."]
    for row in rows:
        silent = f", nothing was said in {row.open}" if row.open else ""
        lines.append(
            f"At {row.share * 100:.0f} % of the cook: {row.true} of {row.stated} came true, {row.early} too early, "
            f"{row.late} too late{silent}."
        )
    return lines
