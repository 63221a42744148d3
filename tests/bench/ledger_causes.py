"""Whether the ledger's main cause is the one that was made to cost the time.

    python -m tests.bench.ledger_causes --seeds 2000:2160 --jobs 2

Each seed is a virtual kitchen that cooks five times in peace and then once with exactly one cause, which truly costs
from 12 to 90 minutes (the same seeded cook with and without it). It is compared with its untroubled twin, and with the
median of the five, which differ from it by the kitchen's natural scatter too. Seeds 0 to 83 and 1000 to 1049 were used
for tuning.
"""

import argparse
import os
from collections import Counter
from concurrent.futures import ProcessPoolExecutor

# Before numpy is loaded: each job has one core.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from monitor.progress.kitchen import learn, lesson
from monitor.progress.ledger import Ledger, against, ledger
from tests.ledger.causes import Cause, one_cause


def judged(seed: int) -> tuple[Cause, bool, float, str, str] | None:
    """Cause, wall probe, true effect in min, and the main cause against the twin and against the median."""
    cause = list(Cause)[seed % len(Cause)]
    wall_probe = bool((seed // len(Cause)) % 2)
    told = one_cause(seed, cause, wall_probe)
    if told is None:
        return None
    prior = learn([one for one in map(lesson, told.past) if one is not None]).prior()
    own, twin = ledger(told.history, prior), ledger(told.twin, prior)
    past = [one for one in (ledger(history, prior) for history in told.past) if one is not None]
    assert own is not None and twin is not None
    return (
        cause,
        wall_probe,
        told.effect_s / 60.0,
        _main(against(own, [twin], "twin")),
        _main(against(own, past, "median")),
    )


def _main(found: Ledger) -> str:
    return found.main.cause if found.main is not None else "none"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", default="2000:2160", help="from:to")
    parser.add_argument("--jobs", type=int, default=1)
    args = parser.parse_args()
    first, last = (int(part) for part in args.seeds.split(":"))
    with ProcessPoolExecutor(args.jobs) as pool:
        rows = [row for row in pool.map(judged, range(first, last)) if row is not None]
    print(f"{len(rows)} cooks with one cause of 12 to 90 min; {last - first - len(rows)} kitchens gave none")
    for place, reference in ((3, "against its untroubled twin"), (4, "against the kitchen's median of five")):
        print(reference)
        for wall_probe in (False, True):
            own = [row for row in rows if row[1] == wall_probe]
            right = sum(row[place] == row[0].value for row in own)
            print(
                f"  {'with' if wall_probe else 'without'} a wall probe: {right} of {len(own)} = {right / len(own):.1%}"
            )
        for cause in Cause:
            told = Counter(row[place] for row in rows if row[0] is cause)
            print(f"    {cause.value}: {', '.join(f'{name} {n}' for name, n in told.most_common())}")
        right = sum(row[place] == row[0].value for row in rows)
        print(f"  in all {right} of {len(rows)} = {right / len(rows):.1%}")


if __name__ == "__main__":
    main()
