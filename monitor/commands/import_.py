"""``kettleside import``."""

import argparse
from pathlib import Path

HELP = "A cook from a folder that export wrote, or from a stranger's CSV file with --columns."


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's arguments."""
    from monitor.foreign import parse_layout

    def layout(text: str) -> object:
        try:
            return parse_layout(text)
        except ValueError as error:
            raise argparse.ArgumentTypeError(str(error)) from None

    parser.add_argument("package", type=Path, metavar="FOLDER or FILE.csv")
    parser.add_argument(
        "--columns",
        type=layout,
        metavar="SPEC",
        help="what a CSV file's columns are, in order: time:iso (or time:s, time:min, time:h), paste:Cel, ph:V, "
        "- to pass one over",
    )
    parser.add_argument(
        "--recordings", type=Path, default=Path("recordings"), metavar="DIR", help="default: recordings"
    )


def run(args: argparse.Namespace) -> int:
    """Reads the package or file into a new recording."""
    from monitor.bar import Bar
    from monitor.clock import SystemClock
    from monitor.exchange import ExchangeError, import_package
    from monitor.foreign import import_csv

    with Bar("importing") as bar:
        if args.package.is_dir():
            path = import_package(args.package, args.recordings, bar)
        elif args.columns is None:
            why = "there is no such file" if not args.package.exists() else "say what its columns are with --columns"
            raise ExchangeError(args.package, why)
        else:
            path = import_csv(args.package, args.columns, args.recordings, SystemClock().now(), bar)
    print(f"{args.package} is now the cook {path.stem}.")
    return 0
