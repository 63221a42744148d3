"""Closed-loop benchmark in virtual kitchens: what a cook costs a person by who says when to check.

    python -m tests.bench.closed_loop --seeds 0:20 --jobs 2
    python -m tests.bench.closed_loop --stranger --seeds 0:20
    python -m tests.bench.closed_loop --sharp --seeds 0:20

With ``--sharp`` the maker comes at once when a check is due and hardly ever misreads a sample, so that what is left
of the cost is the forecast's own. Each kitchen cooks three times to be learned from, then once to be judged; its very first cook is judged as well.
Errors and covers are of ``clear_at`` at a quarter, half and three quarters of the true time. An error is relative to
the true time from lid on to clear, and of undisturbed cooks only; covers are of all judged cooks.
"""

import argparse
import os
import statistics
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from time import perf_counter

# Before numpy is loaded: each job has one core.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from monitor.model import History
from tests.kitchens.adapter import Monitor
from tests.kitchens.cooking import STEP_S, Answer, CookRun, cook
from tests.kitchens.kitchen import BETWEEN_COOKS, CookPlan, Kitchen, kitchen
from tests.kitchens.rules import FixedRule, knowing_cook, knowing_kitchen
from tests.kitchens.stranger import stranger

LEARNING_COOKS = 3
FRACTIONS = (0.25, 0.5, 0.75)
SHARP_EYE = 0.02


@dataclass(frozen=True)
class Told:
    """What was said of the clear time at one fraction of a cook. error: of the middle, relative, None if unsaid."""

    error: float | None
    covered: bool


@dataclass(frozen=True)
class Judged:
    """One cook as the table needs it. told: at each fraction, None where the cook was over by then."""

    checks: int
    over_min: float
    cost_min: float
    disturbed: bool
    got_clear: bool
    told: tuple[Told | None, ...] = ()


@dataclass(frozen=True)
class KitchenResult:
    """The judged cooks of one kitchen, by who told the person when to check."""

    first: Judged
    later: Judged
    fixed_first: Judged
    fixed_later: Judged
    knowing_first: Judged
    knowing_later: Judged
    oracle_first: Judged
    oracle_later: Judged
    asks: int
    monitor_s: float
    in_words: str


def told(run: CookRun, answer: Answer | None) -> Told | None:
    """How good an answer was, now that the truth is known."""
    if answer is None:
        return None
    low, middle, high = answer.clear_at
    error = None if middle is None else abs(middle - run.true_clear) / run.total_s
    low_holds = low is not None and low <= run.true_clear
    return Told(error, low_holds and (high is None or run.true_clear <= high))


def judged(run: CookRun) -> Judged:
    """The figures of one run."""
    answers = tuple(told(run, run.answer_at(fraction)) for fraction in FRACTIONS)
    return Judged(run.checks, run.over_min, run.cost_min, run.disturbed, run.got_clear, answers)


def with_sharp_maker(place: Kitchen) -> Kitchen:
    """The same kitchen with a maker who is never late and whose eye hardly errs."""

    def plan(index: int) -> CookPlan:
        drawn = place.plan(index)
        return replace(drawn, person=replace(drawn.person, longest_delay_s=0.0, eye=SHARP_EYE))

    return Kitchen(place.name, plan)


def kitchen_result(job: tuple[bool, int, float, float, bool]) -> KitchenResult:
    """Cooks one kitchen through.

    job: whether a stranger's, its seed, its cooks' scatter, seconds between readings, whether its maker is sharp.
    """
    strange, seed, scatter, sample_s, sharp = job
    place = (stranger if strange else kitchen)(seed, scatter)
    if sharp:
        place = with_sharp_maker(place)
    past: list[History] = []
    runs: list[CookRun] = []
    begun_s = perf_counter()
    for index in range(LEARNING_COOKS + 1):
        monitor = Monitor(past)
        runs.append(cook(place, index, monitor, sample_s))
        past = [*past, monitor.history()]
    monitor_s = perf_counter() - begun_s
    asks = sum(len(run.asked) for run in runs)
    last = LEARNING_COOKS
    return KitchenResult(
        judged(runs[0]),
        judged(runs[last]),
        judged(cook(place, 0, FixedRule())),
        judged(cook(place, last, FixedRule())),
        judged(knowing_kitchen(place, 0)),
        judged(knowing_kitchen(place, last)),
        judged(knowing_cook(place, 0)),
        judged(knowing_cook(place, last)),
        asks,
        monitor_s,
        "\n".join(in_words(seed, index, run) for index, run in enumerate(runs)),
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
    return "  ".join([*parts, ", ".join(run.troubles)])


def mean(values: Sequence[float]) -> float:
    return statistics.fmean(values) if values else float("nan")


def percent(value: float) -> str:
    return f"{100 * value:5.1f}"


def row(name: str, cooks: Sequence[Judged]) -> str:
    """One line of the table."""
    cells = [
        f"{mean([c.checks for c in cooks]):6.2f}",
        f"{mean([c.over_min for c in cooks]):6.1f}",
        f"{mean([c.cost_min for c in cooks]):7.1f}",
    ]
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
    cells.append(
        f"{unsaid:6d}" if any(t is not None and t.error is not None for c in cooks for t in c.told) else "     -"
    )
    cells.append(f"{sum(not c.got_clear for c in cooks):6d}")
    return f"{name:<30}" + " ".join(cells)


def table(results: Sequence[KitchenResult]) -> str:
    """The whole table in words and figures."""
    head = f"{'':<30}checks   over    cost  err25 err50 err75 cov25 cov50 cov75 unsaid failed"
    unit = f"{'':<30}a cook    min     min      %     %     %     %     %     %  cooks  cooks"
    groups: list[tuple[str, Callable[[KitchenResult], Judged]]] = [
        ("very first cook: monitor", lambda r: r.first),
        ("  fixed rule", lambda r: r.fixed_first),
        ("  who knows the kitchen", lambda r: r.knowing_first),
        ("  who knows the cook", lambda r: r.oracle_first),
        ("after three cooks: monitor", lambda r: r.later),
        ("  fixed rule", lambda r: r.fixed_later),
        ("  who knows the kitchen", lambda r: r.knowing_later),
        ("  who knows the cook", lambda r: r.oracle_later),
    ]
    rows = [row(name, [pick(result) for result in results]) for name, pick in groups]
    calm = [r.later for r in results if not r.later.disturbed]
    rough = [r.later for r in results if r.later.disturbed]
    rows += [row("    monitor, undisturbed", calm), row("    monitor, disturbed", rough)]
    return "\n".join([head, unit, *rows])


def seeds(text: str) -> range:
    """A range of seeds, A:B without B."""
    first, _, last = text.partition(":")
    return range(int(first), int(last))


def main() -> None:
    parser = argparse.ArgumentParser(description="closed-loop benchmark in virtual kitchens")
    parser.add_argument("--seeds", type=seeds, metavar="A:B", help="kitchens from seed A to B-1")
    parser.add_argument("--kitchens", type=int, default=20, metavar="N", help="how many, from seed 0, without --seeds")
    parser.add_argument("--jobs", type=int, default=2, metavar="J")
    parser.add_argument("--stranger", action="store_true", help="the second, structurally different kitchens")
    parser.add_argument("--sample", type=float, default=STEP_S, metavar="S", help="seconds between readings (10)")
    parser.add_argument("--scatter", type=float, default=BETWEEN_COOKS, metavar="S", help="between cooks, ln (0.1)")
    parser.add_argument("--sharp", action="store_true", help="the maker is never late and hardly ever misreads")
    parser.add_argument("--each", action="store_true", help="a line for every cook as well")
    args = parser.parse_args()
    jobs = [(args.stranger, seed, args.scatter, args.sample, args.sharp) for seed in args.seeds or range(args.kitchens)]
    if args.jobs == 1:
        results = [kitchen_result(job) for job in jobs]
    else:
        with ProcessPoolExecutor(args.jobs) as pool:
            results = list(pool.map(kitchen_result, jobs))
    if args.each:
        print("\n".join(result.in_words for result in results))
    print(f"{len(jobs)} {'stranger' if args.stranger else 'own'} kitchens, seeds {jobs[0][1]} to {jobs[-1][1]}")
    print(table(results))
    asks = sum(result.asks for result in results)
    print(f"{1000 * sum(result.monitor_s for result in results) / asks:.1f} ms an outlook, virtual world included")


if __name__ == "__main__":
    main()
