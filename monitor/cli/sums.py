"""``kettleside sums``: the bench sums, from the oils to the label."""

import argparse

from monitor.cli import sums_arguments

HELP = "The bench sums of a batch: alkali, heat, clarity sample, dilution, neutralising, bottles, label."


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declares the command's arguments, those of each sum under its name."""
    sums = parser.add_subparsers(dest="sum", required=True, metavar="SUM")
    for one in sums_arguments.SUMS:
        one_parser = sums.add_parser(one.name, help=one.help, description=one.help)
        sums_arguments.add_common(one_parser, of_batch=one.of_batch)
        one.add(one_parser)


def run(args: argparse.Namespace) -> int:
    """Prints the sum, for a person or as JSON. Raises SumError."""
    import json

    from monitor.chemistry import OutOfRangeError
    from monitor.cli import sums_charge, sums_finish, sums_jar
    from monitor.cli.kitchen_units import kitchen_units
    from monitor.cli.sums_batch import SumError
    from monitor.cli.sums_layout import printed
    from monitor.cli.sums_refusal import named, refusal
    from monitor.formulation import to_json_value

    args.ounces = args.ounces or kitchen_units(args).in_ounces
    try:
        result, lines = {**sums_charge.SUMS, **sums_finish.SUMS, **sums_jar.SUMS}[args.sum](args)
    except OutOfRangeError as error:
        raise SumError(refusal(error, args)) from None
    except ValueError as error:
        raise SumError(named(str(error), args)) from None
    if args.json:
        print(json.dumps(to_json_value(result), ensure_ascii=False, indent=1))
        return 0
    for line in printed(lines):
        print(line)
    return 0
