"""``kettleside stock``: what is on the shelf, what a batch takes from it, and what it costs."""

import argparse
from pathlib import Path

from monitor.cli import stock_arguments

HELP = "What is on the shelf with its lots, prices and certificates; what a batch takes from it and costs."


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declares the command's arguments, those of each act under its name."""
    acts = parser.add_subparsers(dest="act", required=True, metavar="WHAT")
    for one in stock_arguments.ACTS:
        one_parser = acts.add_parser(one.name, help=one.help, description=one.help)
        one_parser.add_argument("--recordings", type=Path, default=Path("recordings"), metavar="DIR")
        one_parser.add_argument("--json", action="store_true", help="the same as one JSON object")
        one.add(one_parser)


def run(args: argparse.Namespace) -> int:
    """Does it and says what came of it, for a person or as JSON. Raises StockError."""
    import json

    from monitor.chemistry import IN_PERCENT, OutOfRangeError
    from monitor.cli.stock_acts import ACTS
    from monitor.cli.sums_batch import SumError
    from monitor.formulation import to_json_value
    from monitor.stock import StockError

    try:
        result, lines = ACTS[args.act](args)
    except OutOfRangeError as error:
        raise StockError(error.in_words(error.name, IN_PERCENT)) from None
    except SumError as error:
        raise StockError(error.why) from None
    print(json.dumps(to_json_value(result), ensure_ascii=False, indent=1) if args.json else "\n".join(lines))
    return 0
