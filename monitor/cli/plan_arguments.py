"""The arguments of each plan, apart from the plans themselves, so that --help loads none of them."""

import argparse
import re
from pathlib import Path
from typing import NamedTuple

from monitor.cli.sums_arguments import SumArguments, share


class TypedOil(NamedTuple):
    """An oil as it was typed. amount: grams, or a fraction of all oils where it was typed in per cent."""

    name: str
    amount: float
    in_percent: bool
    saponification_value: float | None


def mass(text: str) -> float:
    """A mass in g, also as it is typed in ounces.

    >>> mass("700"), mass("700 g"), round(mass("16oz"), 5)
    (700.0, 700.0, 453.59237)
    """
    digits = text.strip().casefold()
    try:
        if not digits.endswith("oz"):
            return float(digits.removesuffix("g"))
        # Loaded only for those who type ounces.
        from monitor.formulation import OUNCE_G

        return float(digits.removesuffix("oz")) * OUNCE_G
    except ValueError:
        raise argparse.ArgumentTypeError(f"it is {text!r}; it must be like 700 or 25oz") from None


def _oil_at_hand(text: str) -> tuple[str, float | None]:
    """NAME=MASS, or NAME alone for what is on the shelf."""
    name, equals, grams = text.partition("=")
    if not name.strip():
        raise argparse.ArgumentTypeError(f"it is {text!r}; it must be like olive=700, olive=25oz or olive")
    return name.strip(), mass(grams) if equals else None


def oil_amount(text: str) -> TypedOil:
    """NAME=GRAMS or NAME=PERCENT%, each with @VALUE of a certificate or without.

    >>> oil_amount("olive=70%"), oil_amount("olive=700@189")[1:]
    (TypedOil(name='olive', amount=0.7, in_percent=True, saponification_value=None), (700.0, False, 189.0))
    """
    head, _, value = text.partition("@")
    name, _, amount = head.rpartition("=")
    try:
        if not name.strip():
            raise ValueError("no name")
        in_percent = amount.strip().endswith("%")
        number = float(share(amount)) if in_percent else mass(amount)
        return TypedOil(name.strip(), number, in_percent, float(value) if value else None)
    except (ValueError, argparse.ArgumentTypeError):
        raise argparse.ArgumentTypeError(
            f"it is {text!r}; it must be like olive=700, olive=70% or olive=70%@189"
        ) from None


def _batch(parser: argparse.ArgumentParser) -> None:
    what = parser.add_argument_group("what goes in")
    what.add_argument(
        "--oil",
        type=oil_amount,
        action="append",
        default=[],
        metavar="NAME=AMOUNT[@VALUE]",
        help="grams, ounces (25oz) or per cent of all oils, once for each oil; VALUE is a certificate's saponification "
        "value. With --from it takes the place of all oils there",
    )
    what.add_argument("--oil-weight", type=mass, metavar="G", help="all oils together, for oils in per cent (1000)")
    what.add_argument("--from", dest="start", metavar="NAME", help="a kept sheet, a sheet's file, a cook or 'latest'")
    what.add_argument("--title", metavar="TEXT")
    what.add_argument("--assay", type=share, metavar="F", help="KOH in the flakes: 0.9 or 90%% (90%%)")
    what.add_argument("--excess", type=share, metavar="F", help="alkali above need (3%%)")
    what.add_argument("--from-shelf", action="store_true", help="take over the lots and certificates of the stock")
    water = what.add_mutually_exclusive_group()
    water.add_argument("--water", type=mass, metavar="G")
    water.add_argument("--water-per-alkali", type=float, metavar="R", help="grams of water to a gram of flakes (3)")
    size = parser.add_argument_group("how much of it").add_mutually_exclusive_group()
    size.add_argument("--fill-pot", action="store_true", help="the largest batch that --pot takes, with room to stir")
    size.add_argument("--bottles", type=float, metavar="N", help="as much as fills so many bottles")
    size.add_argument(
        "--use-up",
        type=_oil_at_hand,
        metavar="NAME[=G]",
        help="as much as takes this much of an oil at hand, or all that the shelf has",
    )
    into = parser.add_argument_group("what it goes into")
    into.add_argument("--pot", type=float, metavar="L", help="what the cooker holds to the rim")
    into.add_argument("--bottle", type=float, metavar="ML", help="what goes into one bottle (250)")
    into.add_argument("--strength", type=share, metavar="F", help="real soap in the bottle (as far as it stays fluid)")
    parser.add_argument("--ounces", action="store_true", help="ounces and fluid ounces too")
    parser.add_argument("--keep", nargs="?", const="", metavar="NAME", help="keep it as a batch sheet, by its title")
    parser.add_argument("--replace", action="store_true", help="a kept sheet of that name is written over")
    # argparse must not take an excess such as -5% for an option.
    parser._negative_number_matcher = re.compile(r"-\.?\d")


def _day(parser: argparse.ArgumentParser) -> None:
    when = parser.add_mutually_exclusive_group(required=True)
    when.add_argument(
        "--start",
        metavar="TIME",
        help="when the oils go on: 14:00, 'tomorrow 14:00', 'saturday 9:30', 2026-12-05T14:00",
    )
    when.add_argument(
        "--clear-by", metavar="TIME", help="start as late as will do, to be clear by then in 9 of 10 cooks"
    )
    when.add_argument("--bottled-by", metavar="DAY", help="start as late as will do, to bottle on that day: saturday")
    parser.add_argument(
        "--batch", dest="named", metavar="NAME", help="a kept sheet, a sheet's file, a cook or 'latest'"
    )
    parser.add_argument("--prepare-min", type=float, metavar="MIN", help="from the oils on low to the lid on (45)")
    parser.add_argument("--rest-days", type=float, metavar="N", help="from the diluted soap to its bottles (7)")
    parser.add_argument("--calendar", type=Path, metavar="FILE.ics", help="write it for a phone's calendar")
    parser.add_argument(
        "--picture", type=Path, metavar="FILE", help="draw the day of the cook: FILE.html, .svg or .png"
    )


def _sheets(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--remove", metavar="NAME", help="removes a kept sheet")


PLANS = (
    SumArguments("batch", "a batch from its oils: what to weigh, what it gives, what it costs", _batch),
    SumArguments("day", "the day of a batch: when to start, stir, check, dilute and bottle", _day),
    SumArguments("sheets", "the batch sheets that are kept in the recordings folder", _sheets),
)
