"""Conditions in virtual kitchens: what a normal cook raises, how soon a fault is raised, and what a look costs.

    python -m tests.bench.conditions_rates --seeds 3000:3100
    python -m tests.bench.conditions_rates --faults --seeds 3000:3040
    python -m tests.bench.conditions_rates --speed

Normal cooks are those of both kinds of kitchen without trouble, six hours long, the person stirring by habit. The
conditions are asked for every half minute, stir and check due as the rule of thumb has them. Faults are put into
the readings of such cooks, or happen to the cooker; each is held against the moment from which the readings show it.
"""

import argparse
import os
from collections import Counter
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from time import process_time

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from monitor.conditions import conditions
from monitor.history import History, cut, series_from
from monitor.progress.outlook import Condition
from monitor.records import Event
from tests.bench.closed_loop import seeds
from tests.conditions.cooks import FAULTS, NORMAL_S, Faulty, faulty_cook, normal_cook, rule_of_thumb

ASK_EVERY_S = 30.0
# A cook whose paste reads this for a minute is not normal: it boils.
BOILS_C = 100.4


def asked(history: History, start: float, every_s: float = ASK_EVERY_S) -> list[tuple[float, tuple[Condition, ...]]]:
    """The conditions at every so many seconds of the cook, each from what was known then."""
    found = []
    for now in np.arange(start, history.as_of, every_s).tolist():
        known = cut(history, now)
        found.append((now - start, conditions(known, now, rule_of_thumb(known, start))))
    return found


def raised_in_normal(
    job: tuple[bool, int], sample_s: float, wall: bool
) -> tuple[str, list[tuple[str, float]], float, bool]:
    """What a normal cook raised: (name, minutes after the start) of each, its hours, and whether its paste boiled."""
    history, start, name = normal_cook(*job, sample_s=sample_s, wall=wall)
    first: dict[str, float] = {}
    for elapsed_s, found in asked(history, start):
        for condition in found:
            first.setdefault(condition.name, elapsed_s / 60.0)
    _, value = history.temperature_c("paste")
    width = max(1, round(60.0 / sample_s))
    boiled = float(np.convolve(value, np.ones(width) / width, "valid").max()) >= BOILS_C
    return name, list(first.items()), (history.as_of - start) / 3600.0, boiled


@dataclass(frozen=True)
class Delay:
    """How long after it could be seen a fault was raised; None where it was not. others: what else was raised."""

    fault: str
    delay_s: float | None
    others: tuple[str, ...]
    name: str


def delay_of(job: tuple[str, bool, int], sample_s: float) -> Delay | None:
    """One fault in one cook; None where this cook never shows it."""
    fault, strange, seed = job
    made: Faulty | None = faulty_cook(fault, strange, seed, sample_s)
    if made is None:
        return None
    others: set[str] = set()
    raised = None
    for now in np.arange(made.begins - 600.0, min(made.visible + 1800.0, made.history.as_of), 5.0).tolist():
        known = cut(made.history, now)
        names = {c.name for c in conditions(known, now, rule_of_thumb(known, made.start)) if c.until is None}
        if raised is None and names & set(made.expected):
            raised = now - made.visible
        others |= names - set(made.expected)
        if raised is not None and now > made.visible + 300.0:
            break
    return Delay(fault, raised, tuple(sorted(others)), f"{'stranger' if strange else 'own'} {seed}")


def speed() -> None:
    """CPU time of one look at hour six of a 1 Hz cook of paste, wall and room, with six stirs logged."""
    rng = np.random.default_rng(1)
    times = 1_780_300_800.0 + np.arange(21_600.0)
    paste = 95.0 - 30.0 * np.exp(-np.arange(21_600.0) / 2400.0) + rng.normal(0.0, 0.15, 21_600)
    series = {
        name: series_from(name, "Cel", times, times, np.round(4.0 * level) / 4.0)
        for name, level in (("paste", paste), ("wall", paste + 6.0), ("room", 0.0 * paste + 20.0))
    }
    events = [Event("lid", "lid on", float(times[0]), float(times[0]))]
    events += [Event(f"stir {i}", "stirred", float(times[i]), float(times[i])) for i in range(2100, 21_600, 2100)]
    whole = History(float(times[0]), float(times[-1]), series, tuple(events))
    for hour in (1, 3, 6):
        known = cut(whole, float(times[3600 * hour - 1]))
        costs = []
        for _ in range(300):
            begun = process_time()
            found = conditions(known, known.as_of, rule_of_thumb(known, known.started))
            costs.append(process_time() - begun)
        print(f"hour {hour}: {1e3 * float(np.median(costs)):.3f} ms, {len(found)} conditions")


def normal_table(args: argparse.Namespace) -> None:
    """What normal cooks raised."""
    jobs = [(strange, seed) for strange in (False, True) for seed in args.seeds]
    raised: Counter[str] = Counter()
    hours, noisy, boiled = 0.0, 0, 0
    with ProcessPoolExecutor(args.jobs) as pool:
        for name, found, lasted_h, boils in pool.map(
            partial(raised_in_normal, sample_s=args.sample, wall=not args.one_probe), jobs, chunksize=4
        ):
            if boils:
                boiled += 1
                continue
            hours += lasted_h
            noisy += bool(found)
            raised.update(one for one, _ in found)
            if args.each and found:
                print(f"  {name}: " + ", ".join(f"{one} at {minute:.0f} min" for one, minute in found))
    print(f"{len(jobs) - boiled} normal cooks, {hours:.0f} h, {NORMAL_S / 3600:.0f} h each: {noisy} raised something")
    print(f"left out: {boiled} whose paste boiled")
    for one, count in raised.most_common():
        print(f"  {one}: in {count}")


def fault_table(args: argparse.Namespace) -> None:
    """How soon each fault was raised."""
    for fault in FAULTS:
        jobs = [(fault, strange, seed) for strange in (False, True) for seed in args.seeds]
        with ProcessPoolExecutor(args.jobs) as pool:
            delays = [one for one in pool.map(partial(delay_of, sample_s=args.sample), jobs, chunksize=4) if one]
        print(fault_row(fault, delays))
        if args.each:
            for one in delays:
                if one.delay_s is None or one.delay_s > 60.0 or one.others:
                    print(f"  {one.name}: {one.delay_s} s, beside it {', '.join(one.others) or 'nothing'}")


def fault_row(fault: str, delays: Sequence[Delay]) -> str:
    """One line of the table."""
    known = sorted(one.delay_s for one in delays if one.delay_s is not None)
    if not known:
        return f"{fault:<22} in {len(delays)} cooks, never raised"
    within = sum(delay_s <= 60.0 for delay_s in known)
    beside = Counter(name for one in delays for name in one.others)
    extra = ", ".join(f"{name} {count}" for name, count in beside.most_common()) or "nothing"
    return (
        f"{fault:<22} in {len(delays):3d} cooks, raised within a minute in {within:3d}, in all {len(known):3d}; "
        f"median {known[len(known) // 2]:5.0f} s, latest {known[-1]:5.0f} s; beside it: {extra}"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description="conditions in virtual kitchens")
    parser.add_argument("--seeds", type=seeds, default=range(3000, 3100), metavar="A:B")
    parser.add_argument("--jobs", type=int, default=2, metavar="J")
    parser.add_argument("--sample", type=float, default=10.0, metavar="S", help="seconds between readings (10)")
    parser.add_argument("--one-probe", action="store_true", help="without the wall's probe")
    parser.add_argument("--faults", action="store_true", help="put faults in, instead of normal cooks")
    parser.add_argument("--speed", action="store_true", help="what one look costs")
    parser.add_argument("--each", action="store_true", help="a line for every cook that raised what it should not")
    args = parser.parse_args()
    if args.speed:
        speed()
    elif args.faults:
        fault_table(args)
    else:
        normal_table(args)


if __name__ == "__main__":
    main()
