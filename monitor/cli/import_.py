"""``kettleside import``."""

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from monitor.exchange import TableLayout

HELP = (
    "A cook from what export wrote (a folder or a .zip), from another program's CSV file, or from as much of a damaged "
    "recording as can be read."
)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's arguments."""
    parser.add_argument("package", type=Path, metavar="FOLDER or FILE")
    parser.add_argument(
        "--columns",
        metavar="SPEC",
        help="what a CSV file's columns are, in order: time:iso (or s, ms, min, h, hms from the start; ymd, dmy, mdy; "
        "or date:dmy and time:clock), paste:Cel, wall:degF, ph:V, - to skip one; without it the file is shown, "
        "its columns are guessed, and on a terminal confirmed",
    )
    parser.add_argument("--zone", metavar="NAME", help="the zone of a CSV's times, such as Europe/Berlin (this one's)")
    parser.add_argument("--date", metavar="DAY", help="the day on which a CSV begins that has times of day alone")
    parser.add_argument(
        "--recordings", type=Path, default=Path("recordings"), metavar="DIR", help="default: recordings"
    )


def run(args: argparse.Namespace) -> int:
    """Reads the package or file into a new recording."""
    from monitor.exchange import ExchangeError, import_package, import_zip
    from monitor.runtime import ProgressBar, is_plain
    from monitor.storage import SUFFIX, salvage_recording

    package: Path = args.package
    if not package.exists():
        raise ExchangeError(package, "there is no such file")
    if not package.is_dir() and not is_plain(package):
        raise ExchangeError(package, "it is no plain file")
    if package.suffix == SUFFIX:
        rescued = salvage_recording(package, args.recordings)
        print("\n".join([*rescued.lines(), f"{package} is now the cook {rescued.path.stem}."]))
        return 0
    if args.columns is not None or (package.is_file() and package.suffix.lower() != ".zip"):
        return _table(package, args)
    sentences: list[str] = []
    with ProgressBar("importing") as bar:
        import_any = import_package if package.is_dir() else import_zip
        path = import_any(package, args.recordings, bar, sentences.append)
    print("\n".join([f"{package} is now the cook {path.stem}.", *sentences]))
    return 0


def _table(package: Path, args: argparse.Namespace) -> int:
    from monitor.cli.import_prompt import Answers, LayoutPrompt

    if args.columns is not None:
        try:
            layout = Answers(args.columns, args.zone, args.date).layout()
        except ValueError as error:
            print(f"kettleside import: {error}.", file=sys.stderr)
            return 2
        return _import(package, layout, args.recordings)
    guide = LayoutPrompt(package, args.zone, args.date)
    if not guide.guessed.columns:
        print(f"kettleside import: {package} holds no table.", file=sys.stderr)
        return 2
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        print(f"kettleside import: say what the columns of {package} are with --columns.", file=sys.stderr)
        try:
            for line in (*guide.shown(), *guide.typed()):
                print(line)
        except ValueError as error:
            print(f"kettleside import: {error}.", file=sys.stderr)
        return 2
    for line in guide.shown():
        print(line)
    try:
        answers = guide.asked(input, print)
    except EOFError:
        print("\nNothing was imported.")
        return 1
    print(f"The same again is\n  {answers.command(package)}")
    return _import(package, answers.layout(), args.recordings, asking=True)


def _import(package: Path, layout: "TableLayout", folder: Path, *, asking: bool = False) -> int:
    from monitor.cli.import_prompt import as_read
    from monitor.exchange import parse_table, store_table
    from monitor.runtime import ProgressBar, SystemClock

    with ProgressBar("reading") as bar:
        table = parse_table(package, layout, bar)
    faults = sum(map(len, table.faults))
    last = next(as_read(table, table.order()[-1:]))
    print(f"{len(table.moments)} rows, {faults} faults; the last is {last.strip()}")
    for line in table.in_words():
        print(line)
    if asking and input("Import it? [yes] ").strip().lower() not in ("", "y", "yes"):
        print("Nothing was imported.")
        return 1
    with ProgressBar("importing") as bar:
        path = store_table(table, package, folder, SystemClock().now(), bar)
    print(f"{package} is now the cook {path.stem}.")
    return 0
