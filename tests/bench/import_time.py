"""How long each command loads modules before it does anything, and what the largest of them are.

Each command's --help is run some times with ``-X importtime``; the middle time counts. What a command loads for its
work alone, such as numpy for an estimate, is loaded when it is needed and shown for those that can run by themselves.
"""

import argparse
import re
import statistics
import subprocess
import sys
import tempfile

from monitor.cli import COMMANDS

WORK = (("sums", "oils"), ("files",), ("list", "--recordings", "."), ("doctor", "--recordings", "."), ("man",))
HEAVY = ("numpy", "pandas", "plotly", "dash", "flask", "apprise", "cryptography", "zeroconf", "paho.mqtt.client")


def loaded(words: tuple[str, ...], folder: str) -> tuple[float, int, list[str]]:
    """Milliseconds of importing, how many modules, and which of the heavy ones."""
    command = [sys.executable, "-X", "importtime", "-m", "monitor.cli", *words]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False, timeout=120)
    rows = re.findall(r"^import time:\s+(\d+) \|\s+\d+ \|\s+(\S+)$", done.stderr, re.MULTILINE)
    names = {name for _, name in rows}
    return sum(int(self_us) for self_us, _ in rows) / 1000.0, len(rows), [name for name in HEAVY if name in names]


def main() -> None:
    """Prints one line a command."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=3, metavar="N")
    runs = parser.parse_args().runs
    with tempfile.TemporaryDirectory() as folder:
        for words in [*((name, "--help") for name in COMMANDS), *WORK]:
            results = [loaded(words, folder) for _ in range(runs)]
            _, modules, heavy = results[0]
            ms = statistics.median(one[0] for one in results)
            print(f"{' '.join(words):28} {ms:7.0f} ms {modules:5d} modules  {' '.join(heavy)}")


if __name__ == "__main__":
    main()
