"""A million hostile inputs to everything that reads from outside: a value, or the one documented error.

    python -m tests.bench.hostile_input [--inputs 1000000] [--first 0] [--only NAME]

Input N of a target is the same in every run, so that a fault is found again by its number. Prints for each target the
inputs, how many were taken and refused, the inputs per minute of processor time and the faults, and ends with 1 where
there was one.
"""

import argparse
import sys
import tempfile
import traceback
from collections import Counter
from pathlib import Path
from time import process_time

from tests.fuzz.targets import Targets

# Cheap ones carry most: share of all inputs.
SHARES = {
    "serial lines": 0.40,
    "SenML packs": 0.457,
    "batch sheets": 0.12,
    "CSV tables": 0.015,
    "data packages": 0.003,
    "recordings": 0.005,
}


def main() -> int:
    """Feeds them all."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--inputs", type=int, default=1_000_000)
    parser.add_argument("--first", type=int, default=0, help="the number of the first input of each target (0)")
    parser.add_argument("--only", choices=SHARES, help="one target alone")
    args = parser.parse_args()
    faults: Counter[str] = Counter()
    print(f"{'target':<14}{'inputs':>9}{'taken':>9}{'refused':>9}{'a minute':>10}{'faults':>8}", flush=True)
    with tempfile.TemporaryDirectory() as folder:
        targets = Targets(Path(folder))
        total = 0
        for name, share in SHARES.items():
            if args.only not in (None, name):
                continue
            inputs = args.inputs if args.only else round(args.inputs * share)
            taken, wrong, used_s = 0, 0, process_time()
            for number in range(args.first, args.first + inputs):
                try:
                    taken += targets.run(name, number)
                except Exception as error:  # noqa: BLE001 - whatever it is, it is the finding
                    wrong += 1
                    last = traceback.extract_tb(error.__traceback__)[-1]
                    fault = f"{name}: {type(error).__name__} in {Path(last.filename).name}:{last.lineno}"
                    if not faults[fault]:
                        print(f"{fault}: {str(error)[:100]!r}, first at input {number}", file=sys.stderr, flush=True)
                    faults[fault] += 1
            per_minute = inputs * 60 / (process_time() - used_s)
            refused = inputs - taken - wrong
            print(f"{name:<14}{inputs:>9}{taken:>9}{refused:>9}{per_minute:>10.0f}{wrong:>8}", flush=True)
            total += inputs
        targets.close()
    print(f"{'all':<14}{total:>9}{'':>28}{sum(faults.values()):>8}")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
