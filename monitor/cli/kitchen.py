"""``kettleside kitchen``: what the finished cooks have taught."""

import argparse
from pathlib import Path

HELP = "What the kitchen's finished cooks have taught, in plain words and one picture; and what its checks cost."

UNITS = ("mass", "volume", "temperature")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declares the command's arguments."""
    parser.add_argument(
        "--recordings", type=Path, default=Path("recordings"), metavar="DIR", help="default: recordings"
    )
    parser.add_argument("--picture", type=Path, metavar="FILE", help="also draw it: FILE.html, .svg or .png")
    costs = parser.add_argument_group("set for all cooks of this kitchen, to decide when to check and to stir")
    for option, default, what in (
        ("--check-min", "15", "minutes of work that a clarity check costs"),
        ("--overcook-per-min", "0.25", "minutes of work that a minute cooked past clear counts as"),
        ("--stir-every-min", "35", "minutes from one stir to the next"),
    ):
        costs.add_argument(option, type=float, metavar="N", help=f"{what}; {default} where nothing is set")
    units = parser.add_argument_group("the units in which this kitchen reads; files and exports stay in g, mL and °C")
    units.add_argument("--mass", choices=("g", "oz"))
    units.add_argument("--volume", choices=("mL", "US fl oz", "UK fl oz"))
    units.add_argument("--temperature", choices=("degC", "degF"))


def run(args: argparse.Namespace) -> int:
    """Sets what is to be set, prints what was learned and what counts, and draws it where that is asked.

    Raises RecordingError, KitchenFileError.
    """
    from monitor.estimation import first_prior
    from monitor.plots import kitchen_report, kitchen_sparkline, kitchen_text, need, need_frame, write_figure
    from monitor.session import (
        kitchen_model,
        read_kitchen_costs,
        read_kitchen_units,
        set_kitchen_costs,
        set_kitchen_units,
    )
    from monitor.storage import RecordingError

    if not args.recordings.is_dir():
        raise RecordingError(args.recordings, "there is no such folder")
    given = {name: getattr(args, name) for name in ("check_min", "overcook_per_min", "stir_every_min")}
    if amounts := {name: amount for name, amount in given.items() if amount is not None}:
        set_kitchen_costs(args.recordings, amounts)
    if chosen := {name: unit for name in UNITS if (unit := getattr(args, name)) is not None}:
        set_kitchen_units(args.recordings, chosen)
    units = read_kitchen_units(args.recordings)
    model = kitchen_model(args.recordings)
    for line in kitchen_text(kitchen_report(model), units):
        print(line)
    print(f"\nbefore any cook  {kitchen_sparkline(first_prior())}\nnow              {kitchen_sparkline(model.prior())}")
    print("                 a third of the first guess of 160 min, to three times it")
    if args.picture is not None:
        title = f"What a batch needs, after {model.cooks} cooks"
        write_figure(need(need_frame(model), title=title), args.picture)
        print(f"Drawn in {args.picture}.")
    costs = read_kitchen_costs(args.recordings)
    print(
        f"\nA clarity check counts as {costs.check_min:g} min of work, a minute cooked past clear as "
        f"{costs.overcook_per_min:g} min; stir every {costs.stir_every_s / 60.0:g} min."
    )
    print(f"Read in {units.mass}, {units.volume} and {units.temperature_unit}.")
    return 0
