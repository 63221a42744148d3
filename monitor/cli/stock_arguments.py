"""The arguments of what can be done with the stock, apart from the doing, so that --help loads none of it."""

import argparse
import re
from pathlib import Path

from monitor.cli.sums_arguments import SumArguments, share

KINDS = ("oil", "alkali", "reagent", "bottle", "other")
_PRICE = re.compile(r"(\d+(?:[.,]\d+)?)\s*([A-Za-z]{3})")


def price(text: str) -> tuple[str, str]:
    """An amount of money with its currency.

    >>> price("24.50 EUR"), price("24,5eur")
    (('24.50', 'EUR'), ('24.5', 'EUR'))
    """
    found = _PRICE.fullmatch(text.strip())
    if found is None:
        raise argparse.ArgumentTypeError(f"it is {text!r}; it must be like 24.50 EUR, with its currency")
    return found[1].replace(",", "."), found[2].upper()


def _thing(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("name", metavar="NAME", help="as on the shelf: olive, KOH, citric acid; for bottles their mL")
    parser.add_argument("--lot", default="", metavar="NUMBER", help="printed on the bottle or bag")


def _show(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("words", nargs="*", metavar="WORD", help="only what has these words")
    parser.add_argument("--empty", action="store_true", help="lots that are used up too")


def _add(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("kind", choices=KINDS)
    _thing(parser)
    parser.add_argument("amount", metavar="AMOUNT", help="g, or pieces of bottles")
    parser.add_argument("--price", type=price, metavar="'N CUR'", help="paid for all of it, such as '24.50 EUR'")
    parser.add_argument("--saponification-value", metavar="V", help="of its certificate, mg KOH per g")
    parser.add_argument("--assay", type=share, metavar="F", help="of its certificate: 0.9 or 90%%")
    parser.add_argument("--carbonate", type=share, metavar="F", help="potassium carbonate in the flakes, likewise")
    parser.add_argument("--opened", action="store_true", help="it is open already")
    parser.add_argument("--note", default="", metavar="TEXT")


def _open(parser: argparse.ArgumentParser) -> None:
    _thing(parser)


def _amount(parser: argparse.ArgumentParser) -> None:
    _thing(parser)
    parser.add_argument("amount", metavar="AMOUNT", help="g, or pieces of bottles")
    parser.add_argument("--note", default="", metavar="TEXT")


def _take(parser: argparse.ArgumentParser) -> None:
    which = parser.add_mutually_exclusive_group(required=True)
    which.add_argument("--batch", dest="named", metavar="NAME", help="what a kept sheet or a sheet's file asks for")
    which.add_argument("--cook", metavar="NAME", help="what a cook, or 'latest', weighed, added and filled")
    parser.add_argument("--for", dest="purpose", metavar="TEXT", help="what the batch is called (its name)")
    parser.add_argument("--bottles", type=int, metavar="N", help="so many bottles too")
    parser.add_argument("--bottle", type=float, default=250.0, metavar="ML", help="what goes into one (250)")
    parser.add_argument("--partly", action="store_true", help="what is there, where something is short")
    parser.add_argument("--look", action="store_true", help="only say what it would take and cost")


def _back(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("purpose", metavar="BATCH", help="what the batch was called")


def _nothing(_parser: argparse.ArgumentParser) -> None:
    """It takes no more."""


def _file(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", type=Path, metavar="FILE.csv")


ACTS = (
    SumArguments("show", "what is on the shelf, lot by lot", _show),
    SumArguments("add", "something that was bought, with its lot, price and certificate", _add),
    SumArguments("open", "a lot was opened today", _open),
    SumArguments("count", "what is really left of a lot", _amount),
    SumArguments("discard", "what was thrown away or spilt of a lot", _amount),
    SumArguments("take", "what a batch takes, and what it costs", _take),
    SumArguments("give-back", "what a batch has taken goes back on the shelf", _back),
    SumArguments("undo", "the latest entry was a mistake: as if it had not been made", _nothing),
    SumArguments("export", "every movement as a CSV file", _file),
    SumArguments("import", "movements from a CSV file; those that are there already count once", _file),
)
