"""Cooks out and back: how many came back as they went.

    python -m tests.bench.round_trips --cooks 10000 --zips 1000 --validated 300 --seed 0

Each cook is as odd as a recording can hold (``tests.exchange.odd_cooks``). Everything it holds is compared with what
its copy holds: readings, packs, events, withdrawals, sheets, clocks, calibrations. All go through a folder, the first
so many through a zip with the tables as Parquet too, which are read back and compared value by value; some are
validated by the frictionless library.
"""

import argparse
import random
import shutil
import tempfile
import warnings
from collections import Counter
from pathlib import Path

from monitor.exchange import export_package, export_zip, import_package, import_zip
from monitor.storage import read_header
from tests.exchange.columns import parquet_differences
from tests.exchange.odd_cooks import contents, differences, recorded


def compared(seed: int, space: Path, zipped: bool, validated: bool) -> Counter[str]:
    """One cook there and back, counted."""
    path = recorded(space / "from", random.Random(seed))
    held = contents(path)
    counts: Counter[str] = Counter({name: len(rows) for name, rows in held.items()})
    counts["cooks"] = 1
    export_package(path, space / "package", parquet=zipped)
    found = differences(held, contents(import_package(space / "package", space / "to")))
    if zipped:
        found += parquet_differences(space / "package", held, read_header(path).started)
        export_zip(path, space / "cook.zip", lambda *_: None, parquet=True)
        found += differences(held, contents(import_zip(space / "cook.zip", space / "zipped", lambda *_: None)))
        counts["through a zip, and as Parquet"] = 1
    if validated:
        found += invalid(space / "package")
        counts["validated by frictionless"] = 1
    for words in found:
        print(f"seed {seed}: {words}")
    counts["cooks that differ"] = bool(found)
    return counts


def invalid(package: Path) -> list[str]:
    """What the frictionless library has against a package."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import frictionless

        with frictionless.system.use_context(trusted=True):
            report = frictionless.Package(str(package / "datapackage.json")).validate()
    return [] if report.valid else [str(report.flatten(["type", "note"])[:2])]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--cooks", type=int, default=1000)
    parser.add_argument("--zips", type=int, default=100)
    parser.add_argument("--validated", type=int, default=20)
    parser.add_argument("--seed", type=int, default=0)
    args = parser.parse_args()
    counts: Counter[str] = Counter({"cooks that differ": 0})
    with tempfile.TemporaryDirectory(prefix="kettleside-") as folder:
        for number in range(args.cooks):
            space = Path(folder) / "cook"
            for name, count in compared(args.seed + number, space, number < args.zips, number < args.validated).items():
                counts[name] += count
            shutil.rmtree(space)
    for name, count in counts.items():
        print(f"{count:>9}  {name}")


if __name__ == "__main__":
    main()
