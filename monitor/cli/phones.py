"""``kettleside phones``: who may open the pages."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.runtime import MonitorError

if TYPE_CHECKING:
    from monitor.cli.pages import PairedDevice

HELP = "Lists the paired phones and the view-only links; pairs a phone, makes a link, or shuts one of them out."


class UnknownDeviceError(MonitorError):
    """No phone and no link has this id. device_id: what was asked for."""

    def __init__(self, device_id: str) -> None:
        self.device_id = device_id
        super().__init__(f"Nobody here has the id {device_id!r}; kettleside phones lists them.")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declares the command's arguments."""
    parser.add_argument(
        "--recordings", type=Path, default=Path("recordings"), metavar="DIR", help="where the cooks are (recordings)"
    )
    what = parser.add_mutually_exclusive_group()
    what.add_argument("--invite", action="store_true", help="show the square code that pairs a phone")
    what.add_argument("--look", metavar="NAME", help="make a view-only link for NAME")
    what.add_argument("--shut-out", metavar="ID", help="shut out this phone, or end this link, at once")
    parser.add_argument("--hours", type=_hours, default=24.0, metavar="N", help="how long the link is valid (24)")


def run(args: argparse.Namespace) -> int:
    """Pairs, shuts out, makes a link, or lists who may open the pages. Raises UnknownDeviceError, RecordingError."""
    from monitor.cli.pages import installed_pages
    from monitor.runtime import SystemClock
    from monitor.storage import RecordingError

    folder: Path = args.recordings
    if not folder.is_dir():
        raise RecordingError(folder, "there is no such folder")
    pages = installed_pages()
    now = SystemClock().now()
    if args.shut_out is not None:
        if not pages.remove_device(folder, args.shut_out):
            raise UnknownDeviceError(args.shut_out)
        print("Done: nobody comes in by it any more.")
    elif args.invite:
        print(pages.invitation(folder))
    elif args.look is not None:
        link = pages.view_only_link(folder, args.look, now, args.hours * 3600.0)
        print(f"Whoever has this link may look for {args.hours:g} h: {link}")
    else:
        devices = pages.devices(folder, now)
        for device in devices:
            print(_line(device))
        if not devices:
            print(f"No phone is paired with {folder}.")
    return 0


def _line(device: "PairedDevice") -> str:
    from monitor.model import local

    def date_text(moment: float) -> str:
        return f"{local(moment):%Y-%m-%d %H:%M}"

    may = "looks" if device.view_only else "looks and logs"
    seen = "never" if device.last_seen is None else date_text(device.last_seen)
    end = "" if device.expires is None else f", ends {date_text(device.expires)}"
    return f"{device.id}  {device.name}: {may}, since {date_text(device.created)}, last seen {seen}{end}"


def _hours(text: str) -> float:
    try:
        hours = float(text)
    except ValueError:
        hours = 0.0
    if not 0.0 < hours <= 8784.0:
        raise argparse.ArgumentTypeError(f"it is {text!r}; it must be hours, up to 8784 (a year)")
    return hours
