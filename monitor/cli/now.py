"""``kettleside now``: the outlook of the running cook as JSON."""

import argparse
from pathlib import Path

HELP = "What the monitor thinks of the running cook now: its outlook, as one line of JSON for scripts."


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declares the command's arguments."""
    add_cook_arguments(parser)


def add_cook_arguments(parser: argparse.ArgumentParser) -> None:
    """Declares the options that name the running cook, which ``event`` shares."""
    parser.add_argument("--rig", metavar="NAME", help="the cooker's name; wanted only where several cooks run")
    parser.add_argument(
        "--recordings", type=Path, default=Path("recordings"), metavar="DIR", help="default: recordings"
    )


def run(args: argparse.Namespace) -> int:
    """Prints the outlook. Raises NoCookRunsError."""
    import json

    from monitor.cli.resolve import running_cook

    print(json.dumps(running_cook(args.recordings, args.rig).outlook().as_json(), ensure_ascii=False))
    return 0
