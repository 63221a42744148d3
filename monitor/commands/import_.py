"""``kettleside import``."""

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

HELP = (
    "A cook from what export wrote (a folder or a .zip), from a stranger's CSV file with --columns, or from a damaged "
    "recording, as far as it can be read."
)
SHOWN_ROWS, SHOWN_WIDTH = 4, 22


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's arguments."""
    parser.add_argument("package", type=Path, metavar="FOLDER or FILE")
    parser.add_argument(
        "--columns",
        metavar="SPEC",
        help="what a CSV file's columns are, in order: time:iso (or s, min, h, ymd, dmy, mdy; or date:dmy and "
        "time:clock), paste:Cel, wall:degF, ph:V, - to pass one over; without it the file is shown and guessed at",
    )
    parser.add_argument("--zone", metavar="NAME", help="the zone of a CSV's times, such as Europe/Berlin (this one's)")
    parser.add_argument(
        "--recordings", type=Path, default=Path("recordings"), metavar="DIR", help="default: recordings"
    )


def run(args: argparse.Namespace) -> int:
    """Reads the package or file into a new recording."""
    from monitor.bar import Bar
    from monitor.clock import SystemClock
    from monitor.exchange import ExchangeError, import_package
    from monitor.foreign import import_csv, parse_layout, zone_named
    from monitor.parcel import import_parcel
    from monitor.recording import SUFFIX
    from monitor.rescue import rescue

    package: Path = args.package
    if not package.exists():
        raise ExchangeError(package, "there is no such file")
    if package.suffix == SUFFIX:
        rescued = rescue(package, args.recordings)
        print("\n".join([*rescued.in_words(), f"{package} is now the cook {rescued.path.stem}."]))
        return 0
    if args.columns is None and package.is_file() and package.suffix.lower() != ".zip":
        return _guide(package)
    try:
        layout = parse_layout(args.columns) if args.columns else None
        zone = zone_named(args.zone) if args.zone else None
    except ValueError as error:
        print(f"kettleside import: {error}.", file=sys.stderr)
        return 2
    told: list[str] = []
    with Bar("importing") as bar:
        if package.is_dir():
            path = import_package(package, args.recordings, bar, told.append)
        elif layout is None:
            path = import_parcel(package, args.recordings, bar, told.append)
        else:
            path = import_csv(package, layout, args.recordings, SystemClock().now(), bar, zone)
    print("\n".join([f"{package} is now the cook {path.stem}.", *told]))
    return 0


def _guide(package: Path) -> int:
    """Shows the first rows of a CSV file, what its columns may be, and what to type."""
    import shlex

    from monitor.foreign import read_rows
    from monitor.guessing import guess

    rows = read_rows(package)
    guessed = guess(rows)
    print(f"kettleside import: say what the columns of {package} are with --columns.", file=sys.stderr)
    if not guessed.columns:
        print("It holds no table.", file=sys.stderr)
        return 2
    print("It begins:")
    for row in rows[max(0, guessed.first_row - 1) :][:SHOWN_ROWS]:
        print("  " + _shown(row))
    print("Its columns look like:")
    for number, (column, why) in enumerate(zip(guessed.columns, guessed.why, strict=True), 1):
        print(f"  {number:>2}  {column:<12} {why}")
    spec = shlex.quote(guessed.spec)
    if guessed.sure:
        print(f"If that is right:\n  kettleside import {shlex.quote(str(package))} --columns={spec}")
    else:
        print(f"A time and a channel are wanted; put them in place of -:\n  --columns={spec}")
    if any(column.split(":")[-1] in ("ymd", "dmy", "mdy", "clock") for column in guessed.columns):
        print("Its times name no zone; this machine's is taken unless --zone says another.")
    return 2


def _shown(row: Sequence[str]) -> str:
    return " | ".join(cell.strip()[:SHOWN_WIDTH].ljust(min(SHOWN_WIDTH, 8)) for cell in row)
