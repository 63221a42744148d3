"""``kettleside serve``: the dashboard alone."""

import argparse
from pathlib import Path

HELP = "Shows the cooks of a folder to phones and screens at home."


def add_page_arguments(parser: argparse.ArgumentParser) -> None:
    """What ``serve`` and ``start`` both take."""
    parser.add_argument("--host", default="0.0.0.0", metavar="ADDRESS", help="the address to listen on (all)")
    parser.add_argument(
        "--port", type=port_number, default=8050, metavar="PORT", help="the port to listen on (8050); 0 for a free one"
    )


def port_number(text: str) -> int:
    """A TCP port."""
    if not text.isdecimal() or int(text) > 65535:
        raise argparse.ArgumentTypeError(f"it is {text!r}; it must be a whole number up to 65535")
    return int(text)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declares the command's arguments."""
    parser.add_argument(
        "--recordings", type=Path, default=Path("recordings"), metavar="DIR", help="where the cooks are (recordings)"
    )
    add_page_arguments(parser)


def run(args: argparse.Namespace) -> int:
    """Serves until it is told to stop."""
    from dashboard.server import serve

    serve(args.recordings, host=args.host, port=args.port, announce=lambda text: print(text, flush=True))
    return 0
