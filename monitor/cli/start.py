"""``kettleside start``: loggers, dashboard and notices, each in its own process."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.cli.log import BEGIN_ANEW, rig_name
from monitor.cli.serve import add_page_arguments, page_argv

if TYPE_CHECKING:
    from monitor.logger import RigConfig
    from monitor.ops import ChildProcess

HELP = (
    "Watches one cooker or several: a logger for each, one dashboard and one teller of notices for all, each in a "
    "process of its own, started again when it dies. Several: --source left=URL --source right=URL --batch left=SHEET."
)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declares the command's arguments."""
    add_cooker_arguments(parser)
    parser.add_argument(
        "--recordings", type=Path, default=Path("recordings"), metavar="DIR", help="where the cooks are (recordings)"
    )
    parser.add_argument("--begin-anew", action="store_true", help=BEGIN_ANEW)
    add_page_arguments(parser)


def add_cooker_arguments(parser: argparse.ArgumentParser) -> None:
    """Declares the options that name the cookers, which ``install-service`` shares."""
    parser.add_argument(
        "--source",
        action="append",
        required=True,
        metavar="[NAME=]URL",
        help="once for each cooker: serial:///dev/ttyUSB0, serial://auto, mqtt://[USER@]HOST/TOPIC, ...; with several, "
        "each has a name in front or in its topic kettleside/NAME/readings; sensors of one cooker have the same name",
    )
    parser.add_argument(
        "--batch",
        action="append",
        default=[],
        metavar="[NAME=]SHEET",
        help="the batch sheet of a cooker: a file (TOML), or the name of one that is kept",
    )
    parser.add_argument(
        "--columns",
        action="append",
        default=[],
        metavar="[NAME=]SPEC",
        help="for sketches that print bare numbers: paste:degC,ph:V",
    )
    parser.add_argument(
        "--as",
        dest="renamings",
        action="append",
        default=[],
        metavar="[NAME=]SENT=CHANNEL[:UNIT]",
        help="records a channel of a cooker under another name, and in the unit that it comes in where the sender says "
        "none or a wrong one: temp1=paste, left=temp1=paste, probe2=wall:degF; may be repeated",
    )
    parser.add_argument(
        "--rig", type=rig_name, default="cooker", metavar="NAME", help="the name of a single cooker (cooker)"
    )


def checked_cookers(args: argparse.Namespace, folder: Path) -> "tuple[RigConfig, ...]":
    """The cookers of a command line, each checked before anything is started. Raises MonitorError.

    folder: of the recordings, with the sheets that are kept.
    """
    from dataclasses import replace

    from monitor.cli.log import read_batch_file, sheet_file
    from monitor.logger import RigConfigError, rig_configs
    from monitor.protocol import parse_columns_spec, parse_renamings
    from monitor.runtime import SystemClock
    from monitor.sources import open_source, parse_source_urls

    given = rig_configs(args.source, args.batch, args.columns, args.rig, args.renamings)
    rigs = tuple(replace(cooker, batch=sheet_file(cooker.batch, folder)) for cooker in given)
    clock = SystemClock()
    for cooker in rigs:
        try:
            columns = parse_columns_spec(cooker.columns) if cooker.columns is not None else None
        except ValueError as error:
            raise RigConfigError(f"--columns of the cooker {cooker.name}: {error}.") from None
        try:
            parse_renamings(cooker.renamings)
        except ValueError as error:
            raise RigConfigError(f"--as of the cooker {cooker.name}: {error}.") from None
        urls = parse_source_urls(cooker.sources)
        # The virtual rig begins to play as soon as it is opened; any other source connects only when it is polled.
        if all(url.scheme != "rig" for url in urls):
            open_source(urls, clock, columns).close()
        read_batch_file(cooker.batch)
    return rigs


def children(rigs: "tuple[RigConfig, ...]", args: argparse.Namespace) -> "list[ChildProcess]":
    """The child processes for these cookers: a logger each, the page, the notices."""
    from monitor.ops import ChildProcess

    folder = str(args.recordings)
    loggers, named = [], []
    for cooker in rigs:
        whose = f" of {cooker.name}" if len(rigs) > 1 else ""
        sources = [word for url in cooker.sources for word in ("--source", url)]
        source = (*sources, "--rig", cooker.name, "--recordings", folder)
        sheet = ("--batch", str(cooker.batch)) if cooker.batch is not None else ()
        columns = ("--columns", cooker.columns) if cooker.columns is not None else ()
        names = [word for text in cooker.renamings for word in ("--as", text)]
        loggers.append(ChildProcess(f"logger{whose}", ("log", *source, *sheet, *columns, *names)))
        named += [word for url in cooker.sources for word in ("--source", f"{cooker.name}={url}")]
    notices = ChildProcess("notices", ("notices", *named, "--recordings", folder))
    page = ChildProcess("dashboard", ("serve", "--recordings", folder, "--make-folder", *page_argv(args)))
    # The loggers first: nothing that a page shows is worth a reading.
    return [*loggers, page, notices]


def run(args: argparse.Namespace) -> int:
    """Runs all processes until a signal stops them. Raises MonitorError for what is wrong before the start."""
    import os

    from monitor.logger import StateFile, shares_cook
    from monitor.notifications import load_notice_settings
    from monitor.ops import ServiceManager, Supervisor
    from monitor.runtime import Level, Reporter, SystemClock

    report = Reporter("kettleside")
    rigs = checked_cookers(args, args.recordings)
    load_notice_settings(args.recordings)
    for cooker in rigs:
        if args.begin_anew:
            StateFile(args.recordings, cooker.name).forget()
        for source in filter(shares_cook, cooker.sources):
            report(
                f"{source} takes in every rig of that broker, and all their readings go into the one cook of "
                f"{cooker.name}; with several rigs give each its own --source (.../kettleside/left/readings).",
                Level.WARNING,
            )
    manager = ServiceManager.of_environment(os.environ)
    return Supervisor(children(rigs, args), SystemClock(), report, manager).run()
