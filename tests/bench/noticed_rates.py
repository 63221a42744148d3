"""How often stirs, open lids and lost heat are noticed, and how often something is that was not.

    python -m tests.bench.noticed_rates --seeds 2000:2100
    python -m tests.bench.noticed_rates --seeds 2000:2100 --sample 2 --each

In virtual kitchens of both kinds, with the paste's probe alone and with the wall's; the person logs the checks and
not the stirs. The limits were set on seeds 6000 to 6099 and 9000 to 9099; judge on others. A stir that was begun while the lid was
left off, or within four minutes of a logged check, is not counted: nothing is offered there on purpose.
"""

import argparse
import math
import os
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field, replace
from functools import partial

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from monitor.detection import Suggestion, find_suggestions
from monitor.detection.suggestions import LID_OFF, STIRRED
from monitor.model import Batch, History
from tests.bench.closed_loop import seeds
from tests.kitchens.adapter import Monitor
from tests.kitchens.cooking import cook
from tests.kitchens.kitchen import Kitchen, kitchen
from tests.kitchens.rules import FixedRule, Says
from tests.kitchens.stranger import stranger
from tests.kitchens.trouble import Kind, Trouble

# How far an offer's time may be off the truth, beyond the stir itself.
NEAR_STIR_S = 150.0
NEAR_FALL_S = 420.0
# What stays bent about a trouble is not held against the search.
UNCOUNTED_CHECK_S = 240.0
SETTLED_S = 1200.0
SEEN_AFTER_S = 480.0


class Ears:
    """Keeps what the monitor hears while the person follows fixed practice."""

    def __init__(self) -> None:
        self._monitor = Monitor()
        self._rule = FixedRule()
        self.stirs: list[float] = []
        self.checks: list[float] = []

    def begin(self, batch: Batch, started: float) -> None:
        self._monitor.begin(batch, started)

    def reading(self, at: float, paste_c: float | None, wall_c: float | None) -> None:
        self._monitor.reading(at, paste_c, wall_c)

    def event(self, at: float, kind: str, fields: dict[str, str | float]) -> None:
        self._rule.event(at, kind, fields)
        if kind == "stirred":
            self.stirs.append(at)
            return
        if kind == "checked":
            self.checks.append(at)
        self._monitor.event(at, kind, fields)

    def ask(self, now: float) -> Says:
        return self._rule.ask(now)

    def history(self) -> History:
        return self._monitor.history()


@dataclass
class Count:
    """What came of some cooks."""

    stirs: int = 0
    found: int = 0
    false: int = 0
    hours: float = 0.0
    falls: int = 0
    falls_found: int = 0
    falls_named: int = 0
    falls_either: int = 0
    falls_false: int = 0
    late_s: list[float] = field(default_factory=list)
    sure: list[tuple[float, bool]] = field(default_factory=list)
    lines: list[str] = field(default_factory=list)

    def add(self, other: "Count") -> None:
        for name in (
            "stirs",
            "found",
            "false",
            "hours",
            "falls",
            "falls_found",
            "falls_named",
            "falls_either",
            "falls_false",
        ):
            setattr(self, name, getattr(self, name) + getattr(other, name))
        for name in ("late_s", "sure", "lines"):
            getattr(self, name).extend(getattr(other, name))


def heard(place: Kitchen, sample_s: float, troubles: bool) -> tuple[Ears, float, Sequence[Trouble], float]:
    """One cook with a wall probe: what was heard, when the lid went on, its troubles, and how long a stir takes."""
    plan = replace(place.plan(0), wall_probe=True)
    if not troubles:
        plan = replace(plan, troubles=())
    ears = Ears()
    run = cook(replace(place, plan=lambda _: plan), 0, ears, sample_s)
    return ears, run.lid_on, plan.troubles, plan.person.stir_takes_s


def without_wall(history: History) -> History:
    return replace(history, series={name: one for name, one in history.series.items() if name != "wall"})


def counted(job: tuple[bool, int], sample_s: float, troubles: bool) -> tuple[Count, Count]:
    """One kitchen's cook judged with one probe and with two. job: whether a stranger's, its seed."""
    strange, seed = job
    ears, lid_on, spells, takes_s = heard((stranger if strange else kitchen)(seed), sample_s, troubles)
    both = ears.history()
    name = f"{'stranger' if strange else 'own'} {seed}"
    return tuple(  # type: ignore[return-value]
        judged(find_suggestions(one), ears, lid_on, both.as_of, spells, takes_s, f"{name} {words}")
        for words, one in (("one probe", without_wall(both)), ("two probes", both))
    )


def judged(
    offers: Sequence[Suggestion],
    ears: Ears,
    lid_on: float,
    end: float,
    spells: Sequence[Trouble],
    takes_s: float,
    name: str,
) -> Count:
    """Offers held against what happened."""
    count = Count(hours=(end - lid_on - SETTLED_S) / 3600.0)
    seen = [t for t in spells if t.kind in (Kind.POWER_CUT, Kind.LID_LEFT_OFF, Kind.TURNED_DOWN) and not t.logged]
    blind = [(lid_on + t.begins_s - 300.0, lid_on + t.ends_s + 600.0) for t in spells]
    stirs = [
        at
        for at in ears.stirs
        if at > lid_on + SETTLED_S
        and at < end - SEEN_AFTER_S
        and all(abs(at - check) > UNCOUNTED_CHECK_S for check in ears.checks)
        and not any(first < at < last for first, last in blind)
    ]
    offered = [one for one in offers if one.kind == STIRRED]
    for at in stirs:
        near = [one for one in offered if at - takes_s - NEAR_STIR_S <= one.at <= at + NEAR_STIR_S]
        count.stirs += 1
        count.found += bool(near)
        count.late_s += [near[0].at - at] if near else []
        if not near:
            count.lines.append(f"{name}: stir at {(at - lid_on) / 60:.0f} min missed")
    for one in offered:
        true = any(at - takes_s - NEAR_STIR_S <= one.at <= at + NEAR_STIR_S for at in ears.stirs)
        count.sure.append((one.certainty, true))
        if not true and not any(first < one.at < last for first, last in blind):
            count.false += 1
            count.lines.append(f"{name}: {one.kind} at {(one.at - lid_on) / 60:.0f} min, {one.certainty:.2f}, is false")
    _judge_falls(count, [one for one in offers if one.kind != STIRRED], seen, spells, lid_on, end, name)
    return count


def _judge_falls(
    count: Count,
    offered: Sequence[Suggestion],
    seen: Sequence[Trouble],
    spells: Sequence[Trouble],
    lid_on: float,
    end: float,
    name: str,
) -> None:
    # A heat turned down a little is neither off nor on, so only what is open or off is counted.
    for trouble in seen:
        begin, last = lid_on + trouble.begins_s, lid_on + trouble.ends_s
        if trouble.kind is Kind.TURNED_DOWN or begin + 900.0 > min(end, last) or trouble.begins_s < 900.0:
            continue
        near = [one for one in offered if begin - NEAR_FALL_S <= one.at <= begin + NEAR_FALL_S]
        count.falls += 1
        count.falls_found += bool(near)
        sure = bool(near) and len(near[0].answers) == 1
        count.falls_either += bool(near) and not sure
        count.falls_named += sure and (near[0].kind == LID_OFF) == (trouble.kind is Kind.LID_LEFT_OFF)
        if not near:
            count.lines.append(f"{name}: {trouble.kind.value} at {trouble.begins_s / 60:.0f} min missed")
    for one in offered:
        if not any(t.begins_s - 600.0 <= one.at - lid_on <= t.ends_s + 600.0 for t in spells):
            count.falls_false += 1
            count.lines.append(f"{name}: {one.kind} at {(one.at - lid_on) / 60:.0f} min is false")


def row(name: str, count: Count) -> str:
    """One line of the table."""
    late = sorted(abs(late_s) for late_s in count.late_s)
    middle = late[len(late) // 2] if late else math.nan
    return (
        f"{name:<24}{count.stirs:6d} {100 * count.found / max(count.stirs, 1):7.1f} "
        f"{10 * count.false / count.hours:8.2f} {count.hours:7.0f} {middle:7.0f}"
        f" {count.falls:7d} {100 * count.falls_found / max(count.falls, 1):7.1f} "
        f"{100 * count.falls_named / max(count.falls_found, 1):7.1f} "
        f"{100 * count.falls_either / max(count.falls_found, 1):7.1f} {10 * count.falls_false / count.hours:8.2f}"
    )


def certainty_table(pairs: Sequence[tuple[float, bool]]) -> str:
    """Said certainty beside how often it was so."""
    lines = []
    for low, high in ((0.0, 0.6), (0.6, 0.8), (0.8, 0.95), (0.95, 1.01)):
        inside = [true for said, true in pairs if low <= said < high]
        if inside:
            lines.append(f"  said {low:.2f} to {min(high, 1.0):.2f}: right {sum(inside)} of {len(inside)}")
    return "\n".join(lines)


def main() -> None:
    parser = argparse.ArgumentParser(description="how often stirs are noticed in virtual kitchens")
    parser.add_argument("--seeds", type=seeds, default=range(2000, 2100), metavar="A:B")
    parser.add_argument("--jobs", type=int, default=2, metavar="J")
    parser.add_argument("--sample", type=float, default=10.0, metavar="S", help="seconds between readings (10)")
    parser.add_argument("--calm", action="store_true", help="leave out every trouble")
    parser.add_argument("--each", action="store_true", help="a line for everything missed or false")
    args = parser.parse_args()
    work: Callable[[tuple[bool, int]], tuple[Count, Count]] = partial(
        counted, sample_s=args.sample, troubles=not args.calm
    )
    print(f"seeds {args.seeds[0]} to {args.seeds[-1]}, a reading every {args.sample:g} s")
    print(f"{'':<24} stirs found % false/10h   hours  off by  falls  found % named %  either % false/10h")
    totals = [Count(), Count()]
    with ProcessPoolExecutor(args.jobs) as pool:
        for strange in (False, True):
            counts = [Count(), Count()]
            for pair in pool.map(work, [(strange, seed) for seed in args.seeds], chunksize=4):
                for count, total, one in zip(counts, totals, pair, strict=True):
                    count.add(one)
                    total.add(one)
            for words, count in zip(("one probe", "two probes"), counts, strict=True):
                print(row(f"{'stranger' if strange else 'own'}, {words}", count))
                if args.each:
                    print("\n".join(count.lines))
    for words, total in zip(("one probe", "two probes"), totals, strict=True):
        print(row(f"all, {words}", total))
        print(certainty_table(total.sure))


if __name__ == "__main__":
    main()
