"""``kettleside log``: from a source into recordings."""

import argparse
import re
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from monitor.protocol import Columns, Renaming
    from monitor.runtime import Anchor

HELP = "Records what a source sends, one file a cook, and goes on with the running cook after a restart."

BEGIN_ANEW = "do not wait for a cook that was under way on a disk or share that is away"


def add_source_arguments(parser: argparse.ArgumentParser) -> None:
    """Declares the options that say where readings come from and where they go."""
    parser.add_argument(
        "--source",
        required=True,
        action="append",
        metavar="URL",
        help="serial:///dev/ttyUSB0, serial://auto, serial+socket://HOST:PORT, mqtt://[USER@]HOST/TOPIC, mqtts://...; "
        "what is no pack: ...?channel=paste:degC, ?field=temperature:paste:degC, ?columns=paste:degC,room:degC "
        "(kettleside listen finds it out); may be repeated for further sensors of the cooker",
    )
    parser.add_argument(
        "--batch", type=Path, metavar="SHEET", help="the batch sheet: a file (TOML), or the name of one that is kept"
    )
    parser.add_argument(
        "--recordings", type=Path, default=Path("recordings"), metavar="DIR", help="where the cooks are (recordings)"
    )
    parser.add_argument("--rig", type=rig_name, default="cooker", metavar="NAME", help="the cooker's name (cooker)")
    parser.add_argument(
        "--columns", type=columns_spec, metavar="SPEC", help="for sketches that print bare numbers: paste:degC,ph:V"
    )
    parser.add_argument(
        "--as",
        dest="renamings",
        action="append",
        type=renaming,
        default=[],
        metavar="SENT=CHANNEL[:UNIT]",
        help="records a channel under another name, and in the unit that it comes in where the sender says none or a "
        "wrong one: temp1=paste, probe2=wall:degF; may be repeated",
    )


def rig_name(text: str) -> str:
    """A cooker's name, which is also a level of MQTT topics. Raises argparse.ArgumentTypeError."""
    if not re.fullmatch(r"[\w][\w .-]{0,39}", text):
        raise argparse.ArgumentTypeError(f"it is {text!r}; it must be 1 to 40 letters, digits, blanks, dots or dashes")
    return text


def columns_spec(text: str) -> "Columns":
    """The columns of a sketch that prints bare numbers. Raises argparse.ArgumentTypeError."""
    from monitor.protocol import parse_columns_spec

    try:
        return parse_columns_spec(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(str(error)) from None


def renaming(text: str) -> "Renaming":
    """The name and unit under which a channel is recorded. Raises argparse.ArgumentTypeError."""
    from monitor.protocol import parse_renaming

    try:
        return parse_renaming(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(str(error)) from None


def clock_anchor(text: str) -> "Anchor":
    """The anchor of cook time to the clock, as ``demo`` hands it on. Raises argparse.ArgumentTypeError."""
    from monitor.runtime import Anchor

    try:
        return Anchor.from_text(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(str(error)) from None


def sheet_file(named: Path | None, folder: Path) -> Path | None:
    """The batch sheet of this name: a file, or one kept in the folder of recordings; as named where there is none."""
    from monitor.storage import kept_sheet_path

    if named is None or named.exists():
        return named
    return kept_sheet_path(folder, str(named)) or named


def read_batch_file(path: Path | None) -> str | None:
    """The text of the batch sheet, checked. Raises SheetError."""
    from monitor.formulation import SheetError, read_sheet

    if path is None:
        return None
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        why = error.strerror if isinstance(error, OSError) else "it is not UTF-8"
        raise SheetError(f"its file {path}", str(why).lower()) from None
    read_sheet(text)
    return text


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declares the command's arguments."""
    add_source_arguments(parser)
    parser.add_argument("--once", action="store_true", help="end when the cook is finished")
    parser.add_argument("--begin-anew", action="store_true", help=BEGIN_ANEW)
    parser.add_argument("--virtual-clock", type=clock_anchor, metavar="ANCHOR", help=argparse.SUPPRESS)


def run(args: argparse.Namespace) -> int:
    """Records until a signal, or with --once the end of the cook, stops it."""
    import platform

    from monitor.logger import DEFAULT_RIG, StateFile, run_logger, starting_anchor
    from monitor.runtime import Reporter, SystemClock, stop_on_signal
    from monitor.sources import open_source, parse_source_urls

    if args.begin_anew:
        StateFile(args.recordings, args.rig).forget()
    urls = parse_source_urls(args.source)
    sheet = read_batch_file(sheet_file(args.batch, args.recordings))
    anchor = args.virtual_clock or starting_anchor(args.recordings, args.rig, SystemClock().anchor())
    clock = SystemClock(anchor)
    identity = "\n".join([platform.node(), str(args.recordings.absolute()), args.rig])
    with stop_on_signal() as stop:
        source = open_source(urls, clock, args.columns, identity, args.renamings)
        report = Reporter("logger" if args.rig == DEFAULT_RIG else f"logger of {args.rig}")
        for further in urls[1:]:
            report(f"Also reads {further.text}.")
        for renamed in args.renamings:
            report(renamed.sentence())
        run_logger(source, args.recordings, clock, args.rig, sheet, report, stop, once=args.once)
        return stop.exit_status
