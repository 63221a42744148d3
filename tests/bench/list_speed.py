"""How long ``kettleside list`` takes with 50, 500 and 2000 cooks, with and without words, as a whole process; and the
page of past cooks, opened for the first time by a server that has just started and again.

python -m tests.bench.list_speed
"""

import resource
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from dashboard.app import make_app
from monitor.cli.invent import recording_of
from monitor.runtime import SystemClock
from monitor.session import CookLibrary
from monitor.simulator import SAMPLE_COOKS
from monitor.storage.index import _cached_summary

COUNTS = (50, 500, 2000)
RUNS = 3


def main() -> None:
    clock = SystemClock()
    shelf = Path(__file__).resolve().parents[2] / "recordings"
    cooks = [recording_of(one, shelf) for one in SAMPLE_COOKS]
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
            _page(folder, count, clock)


def _page(folder: Path, count: int, clock: SystemClock) -> None:
    client = make_app(CookLibrary(folder), "key").test_client()
    client.get("/cooks?key=key")
    for name, address in (("first", "/cooks"), ("again", "/cooks"), ("words", "/cooks?words=coconut+clear")):
        if name == "first":
            _cached_summary.cache_clear()
        started_s, cpu_s = clock.real_s(), process_s()
        text = client.get(address).text
        took_s, worked_s = clock.real_s() - started_s, process_s() - cpu_s
        print(f"{count:>5} cooks, the page, {name}: {took_s:.2f} s, of CPU {worked_s:.2f} s, {len(text) / 1000:.0f} kB")


def process_s() -> float:
    """CPU seconds of this process, which others' work does not move."""
    used = resource.getrusage(resource.RUSAGE_SELF)
    return used.ru_utime + used.ru_stime


if __name__ == "__main__":
    main()
