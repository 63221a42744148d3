"""``kettleside export``."""

import argparse
from pathlib import Path

from monitor.cli.show import RECORDING_HELP

HELP = "One cook as a Frictionless Data Package: plain CSV and JSON that any program reads."


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's arguments."""
    parser.add_argument("recording", help=RECORDING_HELP)
    parser.add_argument(
        "--to", type=Path, required=True, metavar="FOLDER or FILE.zip", help="new or empty; a .zip is one file to mail"
    )
    parser.add_argument(
        "--parquet", action="store_true", help="the tables as Parquet too, beside the CSV; takes the library pyarrow"
    )
    parser.add_argument(
        "--recordings", type=Path, default=Path("recordings"), metavar="DIR", help="default: recordings"
    )


def run(args: argparse.Namespace) -> int:
    """Writes the package."""
    from monitor.cli.resolve import find
    from monitor.exchange import export_package, export_zip
    from monitor.runtime import ProgressBar

    path = find(args.recording, args.recordings)
    with ProgressBar("exporting") as bar:
        if args.to.suffix.lower() == ".zip":
            export_zip(path, args.to, bar, parquet=args.parquet)
        else:
            export_package(path, args.to, bar, parquet=args.parquet)
    print(f"{path.stem} is now in {args.to}.")
    return 0
