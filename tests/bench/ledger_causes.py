"""Whether the ledger's main cause is the one that truly cost most, and how far its minutes are off.

    python -m tests.bench.ledger_causes --seeds 6000:6160 --jobs 2

Each seed is a virtual kitchen that cooks five times in peace and then once with exactly one cause, which truly costs
from 12 to 90 minutes. It is compared with its untroubled twin; with the kitchen's usual, the median of the five, from
which it differs by the kitchen's natural scatter too; and with the ideal, as a kitchen that has cooked only twice is.
The truth is found by ablation (``tests.analysis.ablation``): the same cook again without each set of causes, and the
time saved shared out by Shapley, as the ledger claims to share; "alone" is by what each cause saves when it alone is
put right. Scatter of start, room and person is a cause like any other there, so the truth's main cause need not be
the one that was made.
Seeds 0 to 83, 1000 to 1049 and 3000 to 3159 were used for tuning.
"""

import argparse
import os
from collections import Counter
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

# Before numpy is loaded: each job has one core.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from monitor.analysis import TimeLossReport, attribute_time_loss, compared_with
from monitor.estimation import Prior, cook_evidence, fit_kitchen
from monitor.model import History
from tests.analysis.ablation import Costs, Truth, against_twin, against_usual, costs, main_cause
from tests.analysis.causes import PAST_COOKS, Cause, one_cause

# Two causes that cost as much to within this are as good as each other for a person.
NEAR_S = 300.0
YOUNG_COOKS = 2


@dataclass(frozen=True)
class Judged:
    """One reference: what was made, what truly cost how much, what the ledger says. Seconds."""

    reference: str
    made: Cause
    wall_probe: bool
    truth: Costs
    alone: Costs
    said: Costs
    main: str
    rivals: tuple[str, ...]

    @property
    def right(self) -> bool:
        """Whether the cause that truly cost most is said first."""
        return self.main == main_cause(self.truth).value

    @property
    def right_alone(self) -> bool:
        """Whether the cause is said first that would have saved most had it alone been put right."""
        return self.main == main_cause(self.alone).value

    @property
    def named(self) -> bool:
        """Whether the cause that truly cost most is said first or named as one that may have cost as much."""
        return main_cause(self.truth).value in (self.main, *self.rivals)

    @property
    def near(self) -> bool:
        """Whether what is said first truly cost as much as any, to within five minutes."""
        first = next((cost for cause, cost in self.truth.items() if cause.value == self.main), None)
        return first is not None and max(self.truth.values()) - first <= NEAR_S


def judged(seed: int) -> list[Judged]:
    """The cook of a seed against each reference; nothing where its cause costs too little or too much."""
    cause = list(Cause)[seed % len(Cause)]
    wall_probe = bool((seed // len(Cause)) % 2)
    told = one_cause(seed, cause, wall_probe)
    if told is None:
        return []

    def row(reference: str, truth: Truth, found: TimeLossReport) -> Judged:
        main = found.main.cause if found.main is not None else "none"
        said = {one: found.of(one.value) for one in Cause}
        rivals = tuple(one.cause for one in found.rivals)
        return Judged(reference, cause, wall_probe, truth.shared, truth.alone, said, main, rivals)

    prior, young = _learned(told.past), _learned(told.past[:YOUNG_COOKS])
    own, twin = _ledger(told.history, prior), _ledger(told.twin, prior)
    past = [_ledger(history, prior) for history in told.past]
    return [
        row("its untroubled twin", against_twin(told, prior.plateau_c), compared_with(own, [twin], "twin")),
        row("the kitchen's usual", against_usual(told, prior.plateau_c), compared_with(own, past, "usual")),
        row(
            "the ideal, after two cooks",
            costs(told.plan, PAST_COOKS, told.run, young.plateau_c),
            _ledger(told.history, young),
        ),
    ]


def _learned(past: Sequence[History]) -> Prior:
    return fit_kitchen([one for one in map(cook_evidence, past) if one is not None]).prior()


def _ledger(history: History, prior: Prior) -> TimeLossReport:
    found = attribute_time_loss(history, prior)
    assert found is not None
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", default="6000:6160", help="from:to")
    parser.add_argument("--jobs", type=int, default=1)
    args = parser.parse_args()
    first, last = (int(part) for part in args.seeds.split(":"))
    with ProcessPoolExecutor(args.jobs) as pool:
        found = [rows for rows in pool.map(judged, range(first, last)) if rows]
    print(f"{len(found)} cooks with one cause of 12 to 90 min; {last - first - len(found)} kitchens gave none")
    for same in zip(*found, strict=True):
        _print(same)


def _print(rows: Sequence[Judged]) -> None:
    print(
        f"against {rows[0].reference}: {_share(rows, 'right')} right, {_share(rows, 'near')} within five minutes of it, "
        f"{_share(rows, 'right_alone')} by each cause alone"
    )
    sure = [row for row in rows if not row.rivals]
    print(
        f"  said first or named beside it: {_share(rows, 'named')}; where none is named, right: {_share(sure, 'right')}"
    )
    for wall_probe in (False, True):
        own = [row for row in rows if row.wall_probe == wall_probe]
        print(f"  {'with' if wall_probe else 'without'} a wall probe: {_share(own, 'right')}")
    made = sum(main_cause(row.truth) is row.made for row in rows)
    print(
        f"  the cause that was made truly cost most in {made}, and is said first in {sum(row.main == row.made.value for row in rows)}"
    )
    for cause in Cause:
        said = Counter(row.main for row in rows if main_cause(row.truth) is cause)
        off = np.array([row.said[cause] - row.truth[cause] for row in rows]) / 60.0
        low, middle, high = np.quantile(off, [0.1, 0.5, 0.9])
        print(
            f"    {cause.value:<14} off by {middle:+.1f} min, 8 in 10 from {low:+.1f} to {high:+.1f}; "
            f"where truly first, said first: {', '.join(f'{name} {n}' for name, n in said.most_common()) or 'never'}"
        )


def _share(rows: Sequence[Judged], what: str) -> str:
    if not rows:
        return "none"
    count = sum(getattr(row, what) for row in rows)
    return f"{count} of {len(rows)} = {count / len(rows):.1%}"


if __name__ == "__main__":
    main()
