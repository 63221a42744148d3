"""Conditions in virtual kitchens: what a normal cook raises, how soon a fault is raised, and what a look costs.

    python -m tests.bench.conditions_rates --seeds 3000:3100
    python -m tests.bench.conditions_rates --faults --seeds 3000:3040
    python -m tests.bench.conditions_rates --speed

Normal cooks are those of both kinds of kitchen without trouble, six hours long, the person stirring every 30 to 40
minutes as the trade does, the paste truly under 99 degC; --any-habit has them stir every 25 to 60 minutes and forget.
The conditions are asked for every half minute, stir and check due as the rule of thumb has them. Faults are put into
the readings of such cooks, or happen to the cooker; each is held against the moment from which the readings show it,
as tests.alarms.faults has it. The limits were set on seeds 5000 to 5299, 7000 to 7099, 9200 to 9309 and, of faults
alone, 9600 to 9759 and 9840 to 9883; judge on others.
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

from monitor.alarms import active_alarms
from monitor.model import Alarm, Event, History, cut, series_from
from tests.alarms.cooks import NORMAL_S, SIMMERS_C, normal_cook, rule_of_thumb
from tests.alarms.faults import FAULTS, Faulty, faulty_cook
from tests.bench.closed_loop import seeds

ASK_EVERY_S = 30.0


def asked(history: History, start: float, every_s: float = ASK_EVERY_S) -> list[tuple[float, tuple[Alarm, ...]]]:
    """The conditions at every so many seconds of the cook, each from what was known then."""
    found = []
    for now in np.arange(start, history.as_of, every_s).tolist():
        known = cut(history, now)
        found.append((now - start, active_alarms(known, now, rule_of_thumb(known, start))))
    return found


@dataclass(frozen=True)
class Normal:
    """What a normal cook raised: its name, and of each condition (name, minutes after the start, words)."""

    name: str
    raised: tuple[tuple[str, float, str], ...]
    hours: float
    simmered: bool


def raised_in_normal(job: tuple[bool, int], sample_s: float, wall: bool, any_habit: bool) -> Normal:
    """What a cook of six hours without trouble raised."""
    strange, seed = job
    one = normal_cook(strange, seed, sample_s, wall, any_habit)
    first: dict[str, tuple[str, float, str]] = {}
    for elapsed_s, found in asked(one.history, one.start):
        for condition in found:
            first.setdefault(condition.name, (condition.name, elapsed_s / 60.0, condition.words))
    lasted_h = (one.history.as_of - one.start) / 3600.0
    return Normal(cook_name(strange, seed), tuple(first.values()), lasted_h, one.hottest_c >= SIMMERS_C)


def cook_name(strange: bool, seed: int) -> str:
    """How a cook is called in the tables."""
    return f"{'stranger' if strange else 'own'} {seed}"


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
        names = {c.name for c in active_alarms(known, now, rule_of_thumb(known, made.start)) if c.until is None}
        if raised is None and names & set(made.expected):
            raised = now - made.visible
        others |= names - set(made.expected)
        if raised is not None and now > made.visible + 300.0:
            break
    return Delay(fault, raised, tuple(sorted(others)), cook_name(strange, seed))


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
        for _ in range(20):
            # Reading the clock may cost as much as a look, so it is read once in fifty.
            begun = process_time()
            for _ in range(50):
                found = active_alarms(known, known.as_of, rule_of_thumb(known, known.started))
            costs.append((process_time() - begun) / 50.0)
        print(f"hour {hour}: {1e3 * float(np.median(costs)):.3f} ms, {len(found)} conditions")


def normal_table(args: argparse.Namespace) -> None:
    """What normal cooks raised."""
    jobs = [(strange, seed) for strange in (False, True) for seed in args.seeds]
    raise_one = partial(raised_in_normal, sample_s=args.sample, wall=not args.one_probe, any_habit=args.any_habit)
    with ProcessPoolExecutor(args.jobs) as pool:
        cooks = list(pool.map(raise_one, jobs, chunksize=4))
    for hot in (False, True):
        own = [one for one in cooks if one.simmered == hot]
        if args.each:
            for one in own:
                for _, minute, words in one.raised:
                    print(f"  {one.name} at {minute:.0f} min: {words}")
        noisy, hours = sum(bool(one.raised) for one in own), sum(one.hours for one in own)
        what = f"cooks whose paste truly reached {SIMMERS_C:.0f} degC" if hot else "normal cooks"
        print(f"{len(own)} {what}, {NORMAL_S / 3600:.0f} h each, {hours:.0f} h in all: {noisy} raised something")
        for name, count in Counter(name for one in own for name, _, _ in one.raised).most_common():
            print(f"  {name}: in {count}")


def fault_table(args: argparse.Namespace) -> None:
    """How soon each fault was raised."""
    for fault in FAULTS:
        jobs = [(fault, strange, seed) for strange in (False, True) for seed in args.seeds]
        with ProcessPoolExecutor(args.jobs) as pool:
            delays = [one for one in pool.map(partial(delay_of, sample_s=args.sample), jobs, chunksize=4) if one]
        print(
            fault_row(fault, delays) + (f"; never visible in {unseen}" if (unseen := len(jobs) - len(delays)) else "")
        )
        if args.each:
            for one in delays:
                if one.delay_s is None or one.delay_s > 60.0 or one.others:
                    print(f"  {one.name}: {one.delay_s} s, beside it {', '.join(one.others) or 'nothing'}")


def fault_row(fault: str, delays: Sequence[Delay]) -> str:
    """One line of the table."""
    known = sorted(one.delay_s for one in delays if one.delay_s is not None)
    if not known:
        return f"{fault:<24} in {len(delays)} cooks, never raised"
    within = sum(delay_s <= 60.0 for delay_s in known)
    beside = Counter(name for one in delays for name in one.others)
    extra = ", ".join(f"{name} {count}" for name, count in beside.most_common()) or "nothing"
    return (
        f"{fault:<24} in {len(delays):3d} cooks, raised within a minute in {within:3d}, in all {len(known):3d}; "
        f"median {known[len(known) // 2]:5.0f} s, latest {known[-1]:5.0f} s; beside it: {extra}"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description="conditions in virtual kitchens")
    parser.add_argument("--seeds", type=seeds, default=range(3000, 3100), metavar="A:B")
    parser.add_argument("--jobs", type=int, default=2, metavar="J")
    parser.add_argument("--sample", type=float, default=10.0, metavar="S", help="seconds between readings (10)")
    parser.add_argument("--one-probe", action="store_true", help="without the wall's probe")
    parser.add_argument("--any-habit", action="store_true", help="makers who stir every 25 to 60 min, and forget")
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
