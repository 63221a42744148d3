"""``kettleside list``."""

import argparse
from pathlib import Path

HELP = "The cooks of a folder, the latest first."


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's arguments."""
    parser.add_argument(
        "--recordings", type=Path, default=Path("recordings"), metavar="DIR", help="default: recordings"
    )


def run(args: argparse.Namespace) -> int:
    """Prints a line a cook."""
    from monitor.catalogue import recordings, summary
    from monitor.outcome import outcome
    from monitor.recording import RecordingError
    from monitor.words import local, span

    if not args.recordings.is_dir():
        raise RecordingError(args.recordings, "there is no such folder")
    paths = recordings(args.recordings)
    for path in paths:
        try:
            cook = summary(path)
        except RecordingError as error:
            print(f"{path.stem}  cannot be read: {error.why}")
            continue
        length = span(cook.last_known - cook.about.started)
        print(
            f"{path.stem}  {local(cook.about.started):%d %b %Y %H:%M}  {length:>11}  {outcome(cook):<28}  {cook.title}"
        )
    if not paths:
        print(f"No cooks in {args.recordings} yet.")
    return 0
