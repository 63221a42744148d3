"""Whether what the monitor said came true: its stated clear times, held against the checks of finished cooks.

When a paste came clear is known only between the last sample that was not clear and the first that was. A stated
interval came true where it meets that bracket; it was too early where it ended before the bracket began, too late
where it began after the bracket's end.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

from monitor.history import History, cook_start, cut
from monitor.progress.forecast import Forecaster
from monitor.progress.ledger import ended_at
from monitor.progress.prior import Prior

# Asked for at these shares of the time from lid on to the clear check.
SHARES = (0.25, 0.5, 0.75)
# The stated interval runs from its 10 to its 90 % point.
PROMISED = 0.8


class Verdict(Enum):
    """How a stated interval turned out."""

    TRUE = "came true"
    EARLY = "too early"
    LATE = "too late"
    OPEN = "nothing was said"


@dataclass(frozen=True)
class Saying:
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
class Count:
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


def sayings(history: History, prior: Prior) -> list[Saying]:
    """What was said along a finished cook, recomputed from what was known then.

    prior: what the kitchen believed when the cook began. Empty where no check came out clear.
    """
    start, end = cook_start(history), ended_at(history)
    checks = history.events_of("checked")
    if start is None or end is None or not any(c.measured == end and c.fields.get("result") == "clear" for c in checks):
        return []
    unclear = [c.measured for c in checks if c.measured < end and c.fields.get("result") != "clear"]
    not_yet = max(unclear, default=None)
    found = []
    for share in SHARES:
        at = start + share * (end - start)
        outlook = Forecaster(prior).outlook(cut(history, at), at)
        found.append(Saying(at, share, outlook.clear_at, not_yet, end))
    return found


def counts(said: Sequence[Saying]) -> tuple[Count, ...]:
    """How the sayings of each share turned out, in the order of SHARES."""
    rows = []
    for share in SHARES:
        verdicts = [saying.verdict for saying in said if saying.share == share]
        rows.append(
            Count(share, *(verdicts.count(v) for v in (Verdict.TRUE, Verdict.EARLY, Verdict.LATE, Verdict.OPEN)))
        )
    return tuple(rows)


def in_words(rows: Sequence[Count]) -> list[str]:
    """A line for each share, and one that says what was promised.

    >>> in_words([Count(0.5, 7, 1, 2, 0)])[1]
    'At 50 % of the cook: 7 of 10 came true, 1 too early, 2 too late.'
    """
    if not any(row.said for row in rows):
        return ["No finished cook with a clear check yet, so no stated time could be held against one."]
    lines = [f"A stated time promises to come true in {PROMISED * 10:.0f} of 10 cooks."]
    for row in rows:
        silent = f", nothing was said in {row.open}" if row.open else ""
        lines.append(
            f"At {row.share * 100:.0f} % of the cook: {row.true} of {row.said} came true, {row.early} too early, "
            f"{row.late} too late{silent}."
        )
    return lines
