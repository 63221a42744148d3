"""``kettleside plan``: a batch before it is made, and the sheets that are kept."""

import argparse
from pathlib import Path

from monitor.cli import plan_arguments

# What the sums call a number, and what it is called here.
CALLED = {
    "soap_share": "the strength",
    "bottle_ml": "the bottle",
    "bottles": "the number of bottles",
    "cooker_l": "the pot",
    "oil_g": "the weight of all oils",
    "prepare_min": "--prepare-min",
    "rest_days": "--rest-days",
}
HELP = "Plans a batch from its oils, or the day on which it is made; keeps batch sheets for later."


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declares the command's arguments, those of each plan under its name."""
    plans = parser.add_subparsers(dest="plan", required=True, metavar="WHAT")
    for one in plan_arguments.PLANS:
        one_parser = plans.add_parser(one.name, help=one.help, description=one.help)
        one_parser.add_argument("--recordings", type=Path, default=Path("recordings"), metavar="DIR")
        one_parser.add_argument("--json", action="store_true", help="the same as one JSON object")
        one.add(one_parser)


def run(args: argparse.Namespace) -> int:
    """Prints the plan, for a person or as JSON. Raises PlanError."""
    import json
    from importlib import import_module

    from monitor.chemistry import OutOfRangeError, plain_words
    from monitor.cli.kitchen_units import kitchen_units
    from monitor.cli.sums_batch import SumError
    from monitor.cli.sums_layout import printed
    from monitor.formulation import to_json_value
    from monitor.planning import PlanError

    units = kitchen_units(args)
    try:
        result, lines = import_module(f"monitor.cli.plan_{args.plan}").answer(args, units)
    except OutOfRangeError as error:
        raise PlanError(error.in_words(CALLED.get(error.name) or plain_words(error.name), units.refusals)) from None
    except SumError as error:
        raise PlanError(error.why) from None
    except ValueError as error:
        raise PlanError(str(error)) from None
    if args.json:
        print(json.dumps(to_json_value(result), ensure_ascii=False, indent=1))
        return 0
    for line in printed(lines):
        print(line)
    return 0
