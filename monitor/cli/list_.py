"""``kettleside list``: the cooks of a folder."""

import argparse
from pathlib import Path

HELP = "The cooks of a folder, the latest first; with words, those that have all of them."


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declares the command's arguments."""
    parser.add_argument(
        "words",
        nargs="*",
        metavar="WORD",
        help="an oil, a date such as 2026-03 or Mar, an outcome such as clear, a note",
    )
    parser.add_argument(
        "--recordings", type=Path, default=Path("recordings"), metavar="DIR", help="default: recordings"
    )
    parser.add_argument("--truth", action="store_true", help="how often the times stated along these cooks came true")


def run(args: argparse.Namespace) -> int:
    """Prints one line for each cook. Raises RecordingError."""
    from monitor.runtime import SystemClock
    from monitor.session import matches, summary_line
    from monitor.storage import RecordingError, recordings, summary, under_way

    if not args.recordings.is_dir():
        raise RecordingError(args.recordings, "there is no such folder")
    if args.truth:
        return _print_coverage(args.recordings)
    paths = recordings(args.recordings)
    shown, running, unfinished = 0, set(under_way(args.recordings).values()), []
    for path in paths:
        try:
            cook = summary(path)
        except RecordingError as error:
            if not args.words:
                print(f"{path.stem}  cannot be read: {error.why}")
            continue
        if matches(cook, args.words):
            shown += 1
            is_left = cook.finished is None and path not in running
            unfinished += [path.stem] if is_left else []
            print(summary_line(cook, SystemClock().now(), left=is_left))
    if unfinished:
        print(f"Left unfinished: {', '.join(unfinished)}. Finish it on its page, or: kettleside delete NAME")
    if not paths:
        print(f"No cooks in {args.recordings} yet.")
    elif args.words and not shown:
        print(f"None of {len(paths)} cooks has {' and '.join(args.words)}.")
    return 0


def _print_coverage(folder: Path) -> int:
    """Prints how often the times stated along finished cooks came true."""
    from monitor.analysis import coverage_counts, coverage_text
    from monitor.runtime import ProgressBar
    from monitor.session import interval_coverage

    with ProgressBar("looking back") as bar:
        stated = interval_coverage(folder, bar)
    for line in coverage_text(coverage_counts([interval for _, interval in stated])):
        print(line)
    return 0
