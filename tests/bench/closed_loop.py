"""Closed-loop benchmark in virtual kitchens: what a cook costs a person by who says when to check.

    python -m tests.bench.closed_loop --seeds 0:20 --jobs 2
    python -m tests.bench.closed_loop --stranger --seeds 0:20 --composition --nearly --stages
    python -m tests.bench.closed_loop --seeds 0:20 --turned-down --alone
    python -m tests.bench.closed_loop --sharp --seeds 0:20

A check costs 15 min of labour and a minute past clear what ``--overcook`` says (0.25). With ``--sharp`` the maker comes
at once when a check is due and hardly ever misreads a sample, so that what is left of the cost is the forecast's own.
Each kitchen cooks three times to be learned from, then once to be judged; its very first cook is judged as well.
Errors and covers are of ``clear_at`` at a quarter, half and three quarters of the true time. An error is relative to
the true time from lid on to clear, and of undisturbed cooks only; covers are of all judged cooks. Stated and true are
the mean chance of clear that the monitor gave when the first check was taken, and the share of these that were clear.
"""

import argparse
import os
import statistics
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from time import perf_counter

# Before numpy is loaded: each job has one core.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from tests.kitchens.cooking import STEP_S, CookRun, cook
from tests.kitchens.judging import FRACTIONS, LEARNING_COOKS, OVERCOOK_PER_MIN, Job, Judged, judged, monitored
from tests.kitchens.kitchen import BETWEEN_COOKS
from tests.kitchens.rules import FixedRule, knowing_cook, knowing_kitchen


@dataclass(frozen=True)
class KitchenResult:
    """The judged cooks of one kitchen, by who told the person when to check: the first, and the one after three."""

    monitor: tuple[Judged, Judged]
    fixed: tuple[Judged, ...]
    knowing: tuple[Judged, ...]
    oracle: tuple[Judged, ...]
    asks: int
    monitor_s: float
    in_words: str


def kitchen_result(job: Job) -> KitchenResult:
    """Cooks one kitchen through."""
    place, costs = job.kitchen(), job.costs
    begun_s = perf_counter()
    runs = monitored(job, place)
    monitor_s = perf_counter() - begun_s

    def by(policy: Callable[[int], CookRun]) -> tuple[Judged, ...]:
        return tuple(judged(policy(index), place.plan(index), costs) for index in (0, LEARNING_COOKS))

    def by_others(policy: Callable[[int], CookRun]) -> tuple[Judged, ...]:
        return () if job.alone else by(policy)

    first, later = by(lambda index: runs[index])
    return KitchenResult(
        (first, later),
        by_others(lambda index: cook(place, index, FixedRule())),
        by_others(lambda index: knowing_kitchen(place, index, costs)),
        by_others(lambda index: knowing_cook(place, index)),
        sum(len(run.asked) for run in runs),
        monitor_s,
        "\n".join(in_words(job.seed, index, run) for index, run in enumerate(runs)),
    )


def in_words(seed: int, index: int, run: CookRun) -> str:
    """One cook in a line, to look into: minutes from lid on, and each answer's error and width as shares of the truth."""
    parts = [f"seed {seed:4d} cook {index}", f"clear {run.total_s / 60:5.0f} min", f"ended {run.over_min:+5.0f}"]
    parts += [f"{run.checks} checks", f"excess {run.batch.alkali.excess:.3f}"]
    for fraction in FRACTIONS:
        answer = run.answer_at(fraction)
        if answer is None or answer.clear_at[1] is None:
            parts.append("   -        ")
            continue
        low, middle, high = (
            float("nan") if moment is None else (moment - run.true_clear) / run.total_s for moment in answer.clear_at
        )
        parts.append(f"{middle:+.2f} ({low:+.2f} to {high:+.2f})")
    troubles = [f"{trouble.kind.value} at {trouble.begins_s / 60:.0f} min" for trouble in run.troubles]
    return "  ".join([*parts, ", ".join(troubles)])


def mean(values: Sequence[float]) -> float:
    return statistics.fmean(values) if values else float("nan")


def percent(value: float) -> str:
    return f"{100 * value:5.1f}"


def row(name: str, cooks: Sequence[Judged]) -> str:
    """One line of the table."""
    cells = [f"{len(cooks):5d}", f"{mean([c.checks for c in cooks]):6.2f}", f"{mean([c.over_min for c in cooks]):6.1f}"]
    cells.append(f"{mean([c.cost_min for c in cooks]):6.1f}")
    stated = [(c.first_chance, c.first_clear) for c in cooks if c.first_chance is not None]
    cells.append(percent(mean([chance for chance, _ in stated])) + " " if stated else "    - ")
    cells.append(percent(mean([came for _, came in stated])) if stated else "    -")
    for place in range(len(FRACTIONS)):
        errors = [
            told.error
            for c in cooks
            if not c.disturbed and (told := c.told[place]) is not None and told.error is not None
        ]
        cells.append(percent(statistics.median(errors)) if errors else "    -")
    for place in range(len(FRACTIONS)):
        answers = [told for c in cooks if (told := c.told[place]) is not None and told.error is not None]
        cells.append(percent(mean([told.covered for told in answers])) if answers else "    -")
    unsaid = sum(told is not None and told.error is None for c in cooks for told in c.told)
    said = any(told is not None and told.error is not None for c in cooks for told in c.told)
    cells.append(f"{unsaid:6d}" if said else "     -")
    cells.append(f"{sum(not c.got_clear for c in cooks):6d}")
    return f"{name:<28}" + " ".join(cells)


KINDS: tuple[tuple[str, Callable[[Judged], bool]], ...] = (
    ("    plain", lambda c: c.plain),
    ("    disturbed", lambda c: c.disturbed),
    ("    heat turned down", lambda c: c.turned_down),
    ("    cool cooker", lambda c: c.cool),
)


def table(results: Sequence[KitchenResult]) -> str:
    """The whole table in words and figures."""
    head = f"{'':<28}cooks checks   over   cost stated  true err25 err50 err75 cov25 cov50 cov75 unsaid failed"
    unit = f"{'':<28}      a cook    min    min      %     %     %     %     %     %     %     %  cooks  cooks"
    rows: list[str] = []
    for place, name in enumerate(("very first cook: monitor", "after three cooks: monitor")):
        own = [result.monitor[place] for result in results]
        rows.append(row(name, own))
        rows += [row(kind, chosen) for kind, is_kind in KINDS if (chosen := [c for c in own if is_kind(c)])]
        others = (("  fixed rule", "fixed"), ("  who knows the kitchen", "knowing"), ("  who knows the cook", "oracle"))
        for policy, attribute in others:
            judged_cooks = [getattr(result, attribute)[place] for result in results if getattr(result, attribute)]
            rows += [row(policy, judged_cooks)] if judged_cooks else []
    return "\n".join([head, unit, *rows])


def seeds(text: str) -> range:
    """A range of seeds, A:B without B."""
    first, _, last = text.partition(":")
    return range(int(first), int(last))


def add_job_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments that choose kitchens and makers."""
    parser.add_argument("--seeds", type=seeds, default=range(20), metavar="A:B", help="kitchens from seed A to B-1")
    parser.add_argument("--jobs", type=int, default=2, metavar="J")
    parser.add_argument("--stranger", action="store_true", help="the second, structurally different kitchens")
    parser.add_argument("--sample", type=float, default=STEP_S, metavar="S", help="seconds between readings (10)")
    parser.add_argument("--scatter", type=float, default=BETWEEN_COOKS, metavar="S", help="between cooks, ln (0.1)")
    parser.add_argument("--overcook", type=float, default=OVERCOOK_PER_MIN, metavar="C", help="a minute over (0.25)")
    parser.add_argument("--composition", action="store_true", help="oils and water move the need")
    parser.add_argument("--cool", action="store_true", help="every cooker settles below 86 degC")


def jobs_of(args: argparse.Namespace) -> list[Job]:
    """The jobs that ``add_job_arguments`` describe."""
    common = partial(Job, strange=args.stranger, scatter=args.scatter, sample_s=args.sample)
    options = {"overcook_per_min": args.overcook, "composition": args.composition, "cool": args.cool}
    return [common(seed=seed, **options) for seed in args.seeds]


def cooked(jobs: Sequence[Job], workers: int) -> list[KitchenResult]:
    """All kitchens, in as many processes."""
    if workers == 1:
        return [kitchen_result(job) for job in jobs]
    with ProcessPoolExecutor(workers) as pool:
        return list(pool.map(kitchen_result, jobs))


def main() -> None:
    parser = argparse.ArgumentParser(description="closed-loop benchmark in virtual kitchens")
    add_job_arguments(parser)
    parser.add_argument("--sharp", action="store_true", help="the maker is never late and hardly ever misreads")
    parser.add_argument("--nearly", action="store_true", help="the maker says nearly clear")
    parser.add_argument("--stages", action="store_true", help="the maker tells how the paste looks, now and then")
    parser.add_argument(
        "--titrate", type=int, default=0, metavar="N", help="samples titrated in a cook, from 60 min on"
    )
    parser.add_argument("--turned-down", action="store_true", help="in every judged cook the heat is turned down")
    parser.add_argument("--alone", action="store_true", help="without the policies to compare with")
    parser.add_argument("--each", action="store_true", help="a line for every cook as well")
    args = parser.parse_args()
    habits = {"sharp": args.sharp, "nearly": args.nearly, "stages": args.stages, "titrations": args.titrate}
    jobs = [replace(job, **habits, turned_down=args.turned_down, alone=args.alone) for job in jobs_of(args)]
    results = cooked(jobs, args.jobs)
    if args.each:
        print("\n".join(result.in_words for result in results))
    print(f"{len(jobs)} {'stranger' if args.stranger else 'own'} kitchens, seeds {jobs[0].seed} to {jobs[-1].seed}")
    print(table(results))
    asks = sum(result.asks for result in results)
    print(f"{1000 * sum(result.monitor_s for result in results) / asks:.1f} ms an outlook, virtual world included")


if __name__ == "__main__":
    main()
