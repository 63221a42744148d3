"""Whether what the monitor said came true: its stated clear times, held against the checks of finished cooks.

When a paste came clear is known only between the last sample that was not clear and the first that was. A stated
interval came true where it meets that bracket; it was too early where it ended before the bracket began, too late
where it began after the bracket's end.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

from monitor.analysis.time_loss import ended_at
from monitor.estimation import Estimator, Prior
from monitor.model import History, cook_start, cut

# Asked for at these shares of the time from lid on to the clear check.
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
    """What was said at one moment of a cook and what the checks showed. Unix seconds.

    share: of the time to the clear check. stated: the 10, 50 and 90 % points, None where nothing was said.
    not_yet: the last sample that was not clear, None where there was none. clear: the first that was.
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
    """How many sayings of one share turned out how."""

    share: float
    true: int
    early: int
    late: int
    open: int

    @property
    def said(self) -> int:
        """How many said anything."""
        return self.true + self.early + self.late


def clear_bracket(history: History) -> tuple[float | None, float] | None:
    """Between which moments (Unix seconds) the paste came clear: the last sample that was not (None where there was
    none) and the first that was; None where no check came out clear."""
    end = ended_at(history)
    checks = history.events_of("checked")
    if end is None or not any(c.measured == end and c.fields.get("result") == "clear" for c in checks):
        return None
    unclear = [c.measured for c in checks if c.measured < end and c.fields.get("result") != "clear"]
    return max(unclear, default=None), end


def stated_intervals(history: History, prior: Prior) -> list[StatedInterval]:
    """What was said along a finished cook, recomputed from what was known then.

    prior: what the kitchen believed when the cook began. Empty where no check came out clear.
    """
    start, between = cook_start(history), clear_bracket(history)
    if start is None or between is None:
        return []
    not_yet, end = between
    found = []
    for share in SHARES:
        at = start + share * (end - start)
        outlook = Estimator(prior).estimate(cut(history, at), at)
        found.append(StatedInterval(at, share, outlook.clear_at, not_yet, end))
    return found


def coverage_counts(said: Sequence[StatedInterval]) -> tuple[CoverageCount, ...]:
    """How the sayings of each share turned out, in the order of SHARES."""
    rows = []
    for share in SHARES:
        verdicts = [saying.verdict for saying in said if saying.share == share]
        rows.append(
            CoverageCount(
                share, *(verdicts.count(v) for v in (Verdict.TRUE, Verdict.EARLY, Verdict.LATE, Verdict.OPEN))
            )
        )
    return tuple(rows)


# With fewer, what came true says next to nothing of the tool.
LEAST_TO_JUDGE = 8
# So rare under what was promised that the promise is not believed (judgement).
RARE = 0.05


def coverage_verdict(row: CoverageCount) -> str:
    """Whether to plan by the stated times, in plain words, from one share of the finished cooks.

    What came true is held against what was promised by the tails of the binomial distribution.

    >>> coverage_verdict(CoverageCount(0.5, 8, 1, 1, 0))
    'That is about what was promised: plan by the stated times.'
    """
    if row.said < LEAST_TO_JUDGE:
        return f"Too few to tell yet: with {LEAST_TO_JUDGE} such cooks this page can say more."
    if _tail(row.said, row.true) < RARE:
        if row.early >= 2 * max(row.late, 1):
            return "That is fewer than promised, and mostly too early: count on the later end, or later still."
        if row.late >= 2 * max(row.early, 1):
            return "That is fewer than promised, and mostly too late: look from the early end on."
        return "That is fewer than promised: take the stated times as rough, and check earlier and again."
    if row.true == row.said and NOMINAL_COVERAGE**row.said < RARE:
        return "That is more than was promised: the stated times are safe, and wider than need be."
    return "That is about what was promised: plan by the stated times."


def _tail(said: int, true: int) -> float:
    """The chance of so few or fewer, had each come true with the promised chance."""
    return math.fsum(
        math.comb(said, k) * NOMINAL_COVERAGE**k * (1.0 - NOMINAL_COVERAGE) ** (said - k) for k in range(true + 1)
    )


def coverage_text(rows: Sequence[CoverageCount]) -> list[str]:
    """A line for each share, and one that says what was promised.

    >>> coverage_text([CoverageCount(0.5, 7, 1, 2, 0)])[1]
    'At 50 % of the cook: 7 of 10 came true, 1 too early, 2 too late.'
    """
    if not any(row.said for row in rows):
        return ["No finished cook with a clear check yet, so no stated time could be held against one."]
    lines = [f"A stated time promises to come true in {NOMINAL_COVERAGE * 10:.0f} of 10 cooks."]
    for row in rows:
        silent = f", nothing was said in {row.open}" if row.open else ""
        lines.append(
            f"At {row.share * 100:.0f} % of the cook: {row.true} of {row.said} came true, {row.early} too early, "
            f"{row.late} too late{silent}."
        )
    return lines
