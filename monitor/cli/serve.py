"""``kettleside serve``: the dashboard alone."""

import argparse
from pathlib import Path

from monitor.runtime import MonitorError

DEFAULT_FOLDER = Path("recordings")
HELP = "Shows the cooks of a folder to phones and screens at home."


class ServeUsageError(MonitorError):
    """The pages cannot be served as asked. why: one sentence."""

    def __init__(self, why: str) -> None:
        self.why = why
        super().__init__(why)


def add_page_arguments(parser: argparse.ArgumentParser) -> None:
    """Declares the options of the page server, which ``serve`` and ``start`` share."""
    parser.add_argument("--host", default="0.0.0.0", metavar="ADDRESS", help="the address to listen on (all)")
    parser.add_argument(
        "--port", type=port_number, default=8050, metavar="PORT", help="the port to listen on (8050); 0 for a free one"
    )
    parser.add_argument(
        "--name", action="append", default=[], metavar="HOST", help="a name, beside the machine's own, to answer to"
    )
    parser.add_argument("--no-mdns", action="store_true", help="do not be found on the network as kettleside.local")
    parser.add_argument("--tls", choices=("own",), help="serve over TLS with a certificate that kettleside makes")
    parser.add_argument("--tls-cert", type=Path, metavar="FILE", help="serve over TLS with this certificate, PEM")
    parser.add_argument("--tls-key", type=Path, metavar="FILE", help="the key of that certificate, PEM")
    parser.add_argument("--user", metavar="NAME", help="started by root: serve as this user")


def page_argv(args: argparse.Namespace) -> list[str]:
    """The parsed options of the page server as command-line words for another process."""
    argv = ["--host", args.host, "--port", str(args.port)]
    for name in args.name:
        argv += ["--name", name]
    for option, value in (("--tls", args.tls), ("--tls-cert", args.tls_cert), ("--tls-key", args.tls_key)):
        argv += [] if value is None else [option, str(value.absolute() if isinstance(value, Path) else value)]
    argv += ["--no-mdns"] if args.no_mdns else []
    return argv if args.user is None else [*argv, "--user", args.user]


def port_number(text: str) -> int:
    """A TCP port from 0 to 65535. Raises argparse.ArgumentTypeError."""
    if not text.isdecimal() or int(text) > 65535:
        raise argparse.ArgumentTypeError(f"it is {text!r}; it must be a whole number up to 65535")
    return int(text)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declares the command's arguments."""
    parser.add_argument(
        "--recordings", type=Path, default=DEFAULT_FOLDER, metavar="DIR", help="where the cooks are (recordings)"
    )
    parser.add_argument("--make-folder", action="store_true", help="make the folder of the cooks where it is missing")
    add_page_arguments(parser)


def run(args: argparse.Namespace) -> int:
    """Serves until a signal stops it. Raises ServeUsageError, and MonitorError for what the pages need."""
    from monitor.cli.pages import ServeOptions, installed_pages
    from monitor.runtime import Level, Reporter

    _check(args)
    pages, report = installed_pages(), Reporter("dashboard")
    options = ServeOptions(
        args.recordings,
        args.host,
        args.port,
        names=args.name,
        tls=bool(args.tls or args.tls_cert),
        certificate=args.tls_cert,
        key=args.tls_key,
        user=args.user,
        mdns=not args.no_mdns,
    )
    pages.serve(
        options,
        announce=lambda text: print(text, flush=True),
        complain=lambda text: report(text, Level.WARNING),
    )
    return 0


def _check(args: argparse.Namespace) -> None:
    if (args.tls_cert is None) != (args.tls_key is None):
        raise ServeUsageError("--tls-cert and --tls-key go together; one of them is missing.")
    if args.tls and args.tls_cert:
        raise ServeUsageError("--tls own makes a certificate, --tls-cert brings one; give one of the two.")
    # A misspelt name would show an empty list, so only the default folder is made unasked.
    may_be_made = args.make_folder or args.recordings == DEFAULT_FOLDER
    if not may_be_made and not args.recordings.is_dir():
        raise ServeUsageError(f"There is no folder {args.recordings}; --recordings wants the one with the cooks.")
