"""``kettleside outcomes``: how the batches turned out, and what went with haze."""

import argparse
from pathlib import Path

HELP = "How batches look after their week, and what differed between the clear ones and the others."


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declares the command's arguments."""
    parser.add_argument("--recordings", type=Path, default=Path("recordings"), metavar="DIR")
    parser.add_argument("--picture", type=Path, metavar="FILE", help="also draw it: FILE.html, .svg or .png")
    parser.add_argument("--csv", type=Path, metavar="FILE", help="also write the table, a row for each batch")
    said = parser.add_argument_group("to say how one batch looks")
    said.add_argument("--cook", metavar="NAME", help="its cook, or 'latest'")
    said.add_argument("--look", metavar="LOOK", help="clear, hazy or cloudy")
    said.add_argument("--lather", metavar="L", help="little, some or much")
    said.add_argument("--thickness", metavar="T", help="'like water', 'like oil', 'like honey' or 'a jelly'")
    said.add_argument("--cloudy-below-c", type=float, metavar="C", help="the soap turns cloudy below it, °C")
    said.add_argument("--complaints", metavar="TEXT")
    said.add_argument("--note", metavar="TEXT")


def run(args: argparse.Namespace) -> int:
    """Logs what is said of one batch, and tells of all. Raises EventError, RecordingError."""
    from monitor.analysis import outcome_text
    from monitor.cli.sums_batch import write_file
    from monitor.plots import write_figure
    from monitor.session import kitchen_outcomes, outcome_words, outcomes_picture

    if args.cook is not None:
        _log(args)
    outcomes = kitchen_outcomes(args.recordings)
    for name, row in outcomes.to_dict("index").items():
        print(f"{name}  {row['title']}: {outcome_words(row)}")
    print("\n".join(outcome_text(outcomes.to_dict("records"))))
    figure = None if args.picture is None else outcomes_picture(outcomes, title="The clear batches beside the others")
    if figure is not None:
        write_figure(figure, args.picture)
        print(f"Drawn in {args.picture}.")
    if args.csv is not None:
        write_file(args.csv, outcomes.to_csv(float_format="%.6g"))
        print(f"{len(outcomes)} batches in {args.csv}.")
    return 0


def _log(args: argparse.Namespace) -> None:
    from monitor.cli.event import EventError
    from monitor.cli.resolve import find
    from monitor.session import Cook

    names = ("look", "lather", "thickness", "cloudy_below_c", "complaints", "note")
    fields = {name: value for name in names if (value := getattr(args, name)) is not None}
    try:
        Cook(find(args.cook, args.recordings)).log_event("outcome", None, fields)
    except ValueError as error:
        raise EventError(str(error)) from None
