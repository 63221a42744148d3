"""How long ``kettleside list`` takes with 50, 500 and 2000 cooks, with and without words, as a whole process.

python -m tests.bench.list_speed
"""

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from monitor.clock import SystemClock
from monitor.commands.invent import recording_of
from monitor.rig.three_cooks import THREE

COUNTS = (50, 500, 2000)
RUNS = 3


def main() -> None:
    clock = SystemClock()
    shelf = Path(__file__).resolve().parents[2] / "recordings"
    cooks = [recording_of(one, shelf) for one in THREE]
    with tempfile.TemporaryDirectory(prefix="kettleside-") as space:
        folder = Path(space)
        for before, count in zip((0, *COUNTS), COUNTS, strict=False):
            for made in range(before, count):
                shutil.copyfile(cooks[made % len(cooks)], folder / f"2026-01-01T{made:06d}Z-copy.cook")
            for words in ([], ["coconut", "2026-05", "clear"]):
                took_s = []
                for _ in range(RUNS):
                    started_s = clock.real_s()
                    command = [sys.executable, "-m", "monitor.cli", "list", "--recordings", str(folder), *words]
                    done = subprocess.run(command, capture_output=True, text=True, check=True)
                    took_s.append(clock.real_s() - started_s)
                found = len(done.stdout.splitlines())
                print(f"{count:>5} cooks {' '.join(words) or 'all':<26} {found:>5} lines  best {min(took_s):.2f} s")


if __name__ == "__main__":
    main()
