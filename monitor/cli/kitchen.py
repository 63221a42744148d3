"""``kettleside kitchen``: what the finished cooks have taught."""

import argparse
from pathlib import Path

HELP = "What the kitchen's finished cooks have taught, in plain words and one picture."


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declares the command's arguments."""
    parser.add_argument(
        "--recordings", type=Path, default=Path("recordings"), metavar="DIR", help="default: recordings"
    )
    parser.add_argument("--picture", type=Path, metavar="FILE", help="also draw it: FILE.html, .svg or .png")


def run(args: argparse.Namespace) -> int:
    """Prints what was learned, and draws it where that is asked. Raises RecordingError."""
    from monitor.estimation import first_prior
    from monitor.plots import kitchen_report, kitchen_sparkline, kitchen_text, need, need_frame, write_figure
    from monitor.session import kitchen_model
    from monitor.storage import RecordingError

    if not args.recordings.is_dir():
        raise RecordingError(args.recordings, "there is no such folder")
    model = kitchen_model(args.recordings)
    for line in kitchen_text(kitchen_report(model)):
        print(line)
    print(f"\nbefore any cook  {kitchen_sparkline(first_prior())}\nnow              {kitchen_sparkline(model.prior())}")
    print("                 a third of the first guess of 160 min, to three times it")
    if args.picture is not None:
        title = f"What a batch needs, after {model.cooks} cooks"
        write_figure(need(need_frame(model), title=title), args.picture)
        print(f"Drawn in {args.picture}.")
    return 0
