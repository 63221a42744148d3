"""What each kind of evidence is worth: width of the stated clear time and cost of a cook, with and without it.

    python -m tests.bench.evidence_worth --seeds 0:20
    python -m tests.bench.evidence_worth --seeds 0:20 --stranger --composition

The same kitchens cook again and again, each time with makers who log one kind of evidence more. Width is that of the
80 % interval of ``clear_at`` at half the true time, in minutes, the mean of the cooks where it was stated; covered is
how often it held. The labour of a titration is not in the cost.
"""

import argparse
import os
import statistics
from collections.abc import Mapping, Sequence
from dataclasses import replace

# Before numpy is loaded: each job has one core.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from tests.bench.closed_loop import add_job_arguments, cooked, jobs_of, mean, percent
from tests.kitchens.judging import FRACTIONS, Judged

HALF = FRACTIONS.index(0.5)
EVIDENCE: Mapping[str, dict[str, bool | int]] = {
    "checks alone": {},
    "nearly clear": {"nearly": True},
    "stages": {"stages": True},
    "one titration": {"titrations": 1},
    "two titrations": {"titrations": 2},
    "all of it": {"nearly": True, "stages": True, "titrations": 2},
}


def row(name: str, cooks: Sequence[Judged], without: Sequence[Judged]) -> str:
    """One line: what the cooks were like, and how that differs from the same ones without the evidence.

    The last figure is the standard error of the difference in cost, over the pairs.
    """
    at_half = [told for c in cooks if (told := c.told[HALF]) is not None]
    widths = [told.width_min for told in at_half if told.width_min is not None]
    gains = [before.cost_min - after.cost_min for before, after in zip(without, cooks, strict=True)]
    error = statistics.stdev(gains) / len(gains) ** 0.5 if len(gains) > 1 else float("nan")
    covered = percent(mean([told.covered for told in at_half if told.error is not None]))
    cost_min = mean([c.cost_min for c in cooks])
    cells = f"{mean([c.checks for c in cooks]):6.2f} {cost_min:6.1f} {mean(widths):6.1f} {covered:>7}"
    return f"{name:<18}{cells} {mean(gains):6.1f} +- {error:.1f}"


def main() -> None:
    parser = argparse.ArgumentParser(description="what each kind of evidence is worth in virtual kitchens")
    add_job_arguments(parser)
    args = parser.parse_args()
    jobs = [replace(job, alone=True) for job in jobs_of(args)]
    results = {
        name: cooked([replace(job, **habits) for job in jobs], args.jobs)  # type: ignore[arg-type]
        for name, habits in EVIDENCE.items()
    }
    print(f"{len(jobs)} {'stranger' if args.stranger else 'own'} kitchens, seeds {jobs[0].seed} to {jobs[-1].seed}")
    for place, title in enumerate(("very first cook", "after three cooks")):
        print(f"{title:<18}checks   cost  width covered  saved, min")
        without = [result.monitor[place] for result in results["checks alone"]]
        for name, of_kind in results.items():
            print(row(name, [result.monitor[place] for result in of_kind], without))


if __name__ == "__main__":
    main()
