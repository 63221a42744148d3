"""A stranger's table of a million rows: seconds of processor and memory to import it.

    python -m tests.bench.long_table --rows 1000000

Local times with a zone, decimal commas, faults in words, a few rows out of order.
"""

import argparse
import resource
import tempfile
from pathlib import Path
from time import process_time

from monitor.exchange import parse_layout, parse_table, store_table, zone_named
from monitor.storage import summary


def write(path: Path, rows: int) -> None:
    """A table of so many rows, one a second."""
    with path.open("w", encoding="cp1252") as file:
        file.write("Zeit;Seife °C;Wand °C\n")
        for i in range(rows):
            second = i + (2 if i % 1000 == 0 else 0)
            day, clock = divmod(second, 86_400)
            time = f"{1 + day:02d}.03.2026 {clock // 3600:02d}:{clock // 60 % 60:02d}:{clock % 60:02d}"
            paste = "offen" if i % 5000 == 0 else f"{85 + i % 100 / 10:.1f}".replace(".", ",")
            file.write(f"{time};{paste};{95 + i % 40 / 10:.1f}\n")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rows", type=int, default=1_000_000)
    args = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="kettleside-") as folder:
        path = Path(folder) / "long.csv"
        write(path, args.rows)
        layout = parse_layout("time:dmy,paste:Cel,wall:Cel", zone_named("Europe/Berlin"))
        before_mb, begun_s = _peak_mb(), process_time()
        taken = parse_table(path, layout, lambda *_: None)
        read_s = process_time() - begun_s
        made = store_table(taken, path, Path(folder), 0.0, lambda *_: None)
        stored_s = process_time() - begun_s - read_s
        faults = sum(map(len, taken.faults))
        print(f"{path.stat().st_size / 1e6:.0f} MB, {len(taken.moments)} rows, {faults} faults, {summary(made).title}")
        print(f"read in {read_s:.1f} s of processor, stored in {stored_s:.1f} s")
        print(f"memory: {before_mb:.0f} MB before, {_peak_mb():.0f} MB at most")


def _peak_mb() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


if __name__ == "__main__":
    main()
