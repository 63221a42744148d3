"""``kettleside delete``: takes a cook out of the list, and puts it back within a day."""

import argparse
import sys
from pathlib import Path

HELP = "Takes a cook out of the list. It can be put back for a day with --undo; after that it is gone for good."


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declares the command's arguments."""
    parser.add_argument(
        "recording",
        nargs="?",
        help="its name in the recordings folder, of which a part will do; without one, what can still be put back",
    )
    parser.add_argument("--undo", action="store_true", help="put it back")
    parser.add_argument("--yes", action="store_true", help="do not ask")
    parser.add_argument(
        "--recordings", type=Path, default=Path("recordings"), metavar="DIR", help="default: recordings"
    )


def run(args: argparse.Namespace) -> int:
    """Deletes a cook, puts one back, or lists what can be put back. Raises RecordingError, ManyCooksError."""
    from monitor.cli.resolve import find, single_match
    from monitor.model import local
    from monitor.runtime import SystemClock
    from monitor.storage import purge, remove, restore, trashed

    now = SystemClock().now()
    purge(args.recordings, now)
    if args.recording is None:
        waiting = trashed(args.recordings)
        for cook in waiting:
            print(f"{cook.name}  deleted {local(cook.at):%d %b %Y %H:%M}")
        if not waiting:
            print("Nothing was deleted in the last day.")
        return 0
    if args.undo:
        names = {cook.name: cook.path for cook in trashed(args.recordings)}
        part = None if args.recording in names else single_match(args.recording, names)
        print(f"{restore(args.recordings, args.recording if part is None else part.stem).stem} is back.")
        return 0
    path = find(args.recording, args.recordings)
    if not args.yes and not _confirmed(path.stem):
        print("Nothing was deleted.")
        return 1
    deleted = remove(path, now)
    print(f"{deleted.name} is deleted. For a day, this puts it back: kettleside delete --undo {deleted.name}")
    return 0


def _confirmed(name: str) -> bool:
    if not sys.stdin.isatty():
        print("kettleside delete: nobody can be asked here; say --yes.", file=sys.stderr)
        return False
    return input(f"Delete {name}? It can be put back for a day. Type yes: ").strip().lower() in ("y", "yes")
