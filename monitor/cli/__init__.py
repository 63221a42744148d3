"""The command line: finds the command, and turns errors into one sentence and an exit status.

The pages that ``serve`` shows implement ``Pages`` and are found by the entry point ``kettleside.pages``.
"""

import argparse
import os
import sys
from collections.abc import Mapping, Sequence
from difflib import get_close_matches
from importlib import import_module
from types import MappingProxyType
from typing import TYPE_CHECKING, NoReturn

from monitor.runtime import MonitorError, end_with_parent, hear_ctrl_c, lazy_exports, take_heartbeat

if TYPE_CHECKING:
    from monitor.cli.pages import Pages, PagesMissingError, PairedDevice, ServeOptions

__all__ = ["COMMANDS", "Pages", "PagesMissingError", "PairedDevice", "ServeOptions", "main"]

if not TYPE_CHECKING:
    __getattr__ = lazy_exports(__name__, {"pages": ("Pages", "PagesMissingError", "PairedDevice", "ServeOptions")})

FAILED = 1
WRONG_USAGE = 2
INTERRUPTED = 130

# By command: its module under monitor.cli and its line in the help, or None to keep it out of the help.
COMMANDS: Mapping[str, tuple[str, str | None]] = MappingProxyType(
    {
        "demo": ("demo", "a whole virtual cook, faster than life, on your phone or screen"),
        "start": ("start", "watch a cook: logger, dashboard and notices together"),
        "log": ("log", "the logger alone"),
        "listen": ("listen", "what arrives on a broker or port, and the command that reads it"),
        "serve": ("serve", "the dashboard alone"),
        "phones": ("phones", "the phones that may open the pages: pair, list, shut out"),
        "notices": ("notices", "the notices alone; --test tests every channel"),
        "now": ("now", "the outlook of the running cook, as one line of JSON"),
        "event": ("event", "what was done or seen, logged into the running cook"),
        "stream": ("stream", "packs and events on standard input, outlooks on standard output"),
        "rig": ("rig", "the virtual rig as a device of its own"),
        "calibrate": ("calibrate", "a pH probe or a thermocouple, guided through its baths"),
        "kitchen": ("kitchen", "what the kitchen's finished cooks have taught"),
        "outcomes": ("outcomes", "how batches look after their week, and what went with haze"),
        "list": ("list_", "the cooks of a folder"),
        "show": ("show", "one cook in words"),
        "delete": ("delete", "a cook out of the list; it can be restored within a day"),
        "export": ("export", "one cook as a Frictionless Data Package"),
        "install-service": ("install_service", "a systemd unit and a udev rule, printed"),
        "doctor": ("doctor", "whether this machine is fit for a cook, and what to do where it is not"),
        "manual": ("manual", "what the manual says of some words, an alarm or a refusal"),
        "plan": ("plan", "a batch and its day before it is made, and the sheets that are kept"),
        "stock": ("stock", "what is on the shelf, what a batch takes from it and costs"),
        "sums": ("sums", "the bench sums: alkali, dilution, neutralising, label"),
        "invent": ("invent", "three invented cooks to look at"),
        "files": ("files", "the sample cooks and the firmware that came with the program"),
        "completion": ("completion", "completion of the commands in a shell"),
        "man": ("man", "the manual page for man(1)"),
        "import": ("import_", "a cook from a data package, a .zip, another program's CSV file or a damaged recording"),
    }
)


class _Parser(argparse.ArgumentParser):
    """Reports wrong usage in one sentence."""

    def error(self, message: str) -> NoReturn:
        self.exit(WRONG_USAGE, f"{self.prog}: {message}; see {self.prog} --help.\n")


def _overview() -> _Parser:
    width = max(len(name) for name, (_, line) in COMMANDS.items() if line)
    lines = [f"  {name.ljust(width)}  {line}" for name, (_, line) in COMMANDS.items() if line]
    parser = _Parser(
        prog="kettleside",
        usage="kettleside COMMAND ...",
        description="A watch beside the cooker for potassium soap made by the hot process.",
        epilog="commands:\n" + "\n".join(lines) + "\n\nkettleside COMMAND --help says more of each.",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="store_true", help="show the version and end")
    parser.add_argument("command", nargs="?", help=argparse.SUPPRESS)
    return parser


def _version() -> str:
    """The version of the installed program, whose one source is pyproject.toml."""
    from importlib.metadata import PackageNotFoundError, version

    try:
        return version("kettleside")
    except PackageNotFoundError:
        return "not installed"


def _run(argv: Sequence[str]) -> int:
    if argv and argv[0] in COMMANDS:
        module = import_module(f"monitor.cli.{COMMANDS[argv[0]][0]}")
        parser = _Parser(prog=f"kettleside {argv[0]}", description=module.HELP)
        module.add_arguments(parser)
        return int(module.run(parser.parse_args(argv[1:])))
    overview = _overview()
    args = overview.parse_args(argv[:1])
    if not args.version:
        nearest = get_close_matches(args.command or "", list(COMMANDS), 1, 0.0)[0]
        message = (
            f"there is no command {args.command!r}; the nearest is {nearest!r}" if args.command else "name a command"
        )
        overview.error(message)
    print(f"kettleside {_version()}")
    return 0


def main(argv: Sequence[str] | None = None) -> int:
    """Runs one command and returns its exit status: 0, 1 failed, 2 wrong usage, 130 after Ctrl-C."""
    try:
        if argv is None:
            hear_ctrl_c()
        end_with_parent()
        take_heartbeat()
        status = _run(sys.argv[1:] if argv is None else argv)
        sys.stdout.flush()
    except MonitorError as error:
        from monitor.runtime import Level, is_journal

        # Whoever looks why a service does not start filters the journal by errors.
        prefix = f"<{Level.ERROR.value}>" if is_journal(sys.stderr) else ""
        print(f"{prefix}kettleside: {error}", file=sys.stderr)
        return error.exit_status
    except KeyboardInterrupt:
        return INTERRUPTED
    except BrokenPipeError:
        # The reader of the output has gone; Python would fail once more when it closes standard output.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    return status
