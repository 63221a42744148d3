"""``kettleside phones``: who may open the pages."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from dashboard.phones import Guest

HELP = "The phones that are paired and the links that let look; pairs more, and shuts any of them out."


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declares the command's arguments."""
    parser.add_argument(
        "--recordings", type=Path, default=Path("recordings"), metavar="DIR", help="where the cooks are (recordings)"
    )
    what = parser.add_mutually_exclusive_group()
    what.add_argument("--invite", action="store_true", help="show the square code that pairs a phone")
    what.add_argument("--look", metavar="NAME", help="make a link by which NAME may look and not log")
    what.add_argument("--shut-out", metavar="ID", help="shut out this phone, or end this link, at once")
    parser.add_argument("--hours", type=_hours, default=24.0, metavar="N", help="how long the link is good for (24)")


def run(args: argparse.Namespace) -> int:
    """Does the one thing that was asked for, or lists who may come in."""
    from urllib.parse import quote

    from dashboard.pairing import DashboardError, look_path, pairing_key
    from dashboard.phones import Book
    from monitor.runtime import SystemClock
    from monitor.storage import RecordingError

    if not args.recordings.is_dir():
        raise RecordingError(args.recordings, "there is no such folder")
    book = Book(args.recordings)
    now = SystemClock().now()
    if args.shut_out is not None:
        if not book.forget(args.shut_out):
            raise DashboardError(f"Nobody here has the id {args.shut_out!r}; kettleside phones lists them.")
        print("Done: nobody comes in by it any more.")
    elif args.invite or args.look is not None:
        if not book.address:
            raise DashboardError("The pages of this folder were never served; start kettleside first.")
        key = pairing_key(args.recordings)
        if args.invite:
            from dashboard.server import invitation

            print(invitation(f"{book.address}/?key={quote(key, safe='')}"))
        else:
            guest = book.add(args.look, now, valid_s=args.hours * 3600.0)
            print(f"Whoever has this link may look for {args.hours:g} h: {book.address}{look_path(key, guest)}")
    else:
        guests = [guest for guest in book.guests() if guest.is_welcome(now)]
        for guest in guests:
            print(_line(guest))
        if not guests:
            print(f"No phone is paired with {args.recordings}.")
    return 0


def _line(guest: "Guest") -> str:
    from monitor.model import local

    def told(moment: float) -> str:
        return f"{local(moment):%Y-%m-%d %H:%M}"

    may = "looks" if guest.looks_only else "looks and logs"
    seen = "never" if guest.last_seen is None else told(guest.last_seen)
    end = "" if guest.expires is None else f", ends {told(guest.expires)}"
    return f"{guest.id}  {guest.name}: {may}, since {told(guest.made)}, last seen {seen}{end}"


def _hours(text: str) -> float:
    try:
        hours = float(text)
    except ValueError:
        hours = 0.0
    if not 0.0 < hours <= 8784.0:
        raise argparse.ArgumentTypeError(f"it is {text!r}; it must be hours, up to 8784 (a year)")
    return hours
