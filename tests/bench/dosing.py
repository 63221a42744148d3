"""How many readings neutralising takes, and where it ends, on simulated pots anywhere in the model's range."""

import argparse
import random
from collections import Counter

from tests.formulation.test_dosing import FALLS, neutralised, true_pot

ACID_SOAPS = (0.0, 0.05, 0.1, 0.2, 0.26, 0.33)
ALKALI_FACTORS = (0.65, 1.0, 1.55)


def main(seeds: int) -> None:
    """Prints for each fall the readings needed, and the true pH at the end above the target."""
    for first_ph, target in (*FALLS, (10.4, 9.3)):
        counts: Counter[int] = Counter()
        ends = []
        for seed in range(seeds):
            draw = random.Random(seed)
            for acid_soap in ACID_SOAPS:
                for factor in ALKALI_FACTORS:
                    *readings, end = neutralised(true_pot(acid_soap, factor, first_ph), first_ph, target, draw)
                    counts[len(readings)] += 1
                    ends.append(end - target)
        few = sum(count for readings, count in counts.items() if readings <= 5) / len(ends)
        low = sum(end < -0.2 for end in ends) / len(ends)
        print(
            f"{first_ph:g} to {target:g}: readings {dict(sorted(counts.items()))}, five or fewer {few:.0%}; ends "
            f"{min(ends):+.2f} to {max(ends):+.2f}, more than 0.2 too low {low:.1%}"
        )


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=4, help="runs of each pot (4)")
    main(parser.parse_args().seeds)
