"""The arguments of each bench sum, apart from the sums themselves, so that --help loads none of them."""

import argparse
import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from monitor.cli.sums_values import addition, jar_reading, named


@dataclass(frozen=True, slots=True)
class SumArguments:
    """One sum on the command line. add: declares its own arguments. of_batch: it also takes a batch sheet or a cook."""

    name: str
    help: str
    add: Callable[[argparse.ArgumentParser], None]
    of_batch: bool = False


class TypedShare(float):
    """A fraction of one as it was typed. in_percent: with a per cent sign."""

    in_percent = False


def add_common(parser: argparse.ArgumentParser, *, of_batch: bool) -> None:
    """Declares what all sums take, and with ``of_batch`` what those of a batch take."""
    parser.add_argument("--json", action="store_true", help="the same numbers as one JSON object")
    parser.add_argument("--ounces", action="store_true", help="ounces and fluid ounces too")
    if of_batch:
        which = parser.add_mutually_exclusive_group()
        which.add_argument("--batch", type=Path, metavar="FILE", help="a batch sheet")
        which.add_argument("--cook", metavar="NAME", help="a recording, or 'latest': its sheet and what was logged")
        parser.add_argument("--recordings", type=Path, default=Path("recordings"), metavar="DIR")


def _oils(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("words", nargs="*", metavar="WORD", help="an oil, or words to look for in every column")


def _heat(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--start", type=float, default=20.0, metavar="C", help="what flakes and water start at (20)")
    parser.add_argument("--limit", type=float, default=70.0, metavar="C", help="not to go above (70)")


def _sample(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("grams", type=float, help="paste in the sample, g")


def _dilution(parser: argparse.ArgumentParser) -> None:
    target = parser.add_mutually_exclusive_group(required=True)
    target.add_argument("--soap-percent", type=float, metavar="P", help="real soap wished for")
    target.add_argument("--paste-percent", type=float, metavar="P", help="paste in the product wished for")
    target.add_argument("--water", type=float, metavar="G", help="this much more water: what comes of it")
    parser.add_argument("--log", action="store_true", help="it went in, or was weighed: log it in the recording")
    _pot(parser)


def _titration(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("acid_ml", type=float, help="acid run in, mL")
    _acid(parser)
    parser.add_argument("--sample", type=float, default=10.0, metavar="G", help="soap in the flask, g (10)")
    _log(parser)


def _paste(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("acid_ml", type=float, nargs="?", help="acid run in, mL; without it, how much to expect")
    _acid(parser)
    parser.add_argument("--sample", type=float, default=1.0, metavar="G", help="paste in the flask, g (1)")
    parser.add_argument("--scale", type=float, default=0.01, metavar="G", help="smallest step of that scale (0.01)")
    parser.add_argument("--water-lost", type=float, default=0.0, metavar="G", help="water that has boiled off (0)")
    parser.add_argument("--log", action="store_true", help="log it in the recording named with --cook")
    parser.add_argument("--ago", type=float, default=0.0, metavar="MIN", help="it was taken so many minutes ago (0)")


def _acid(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--acid",
        type=acid_strength,
        default=0.1,
        metavar="MOL_L",
        help="its strength in mol of H+ per litre (0.1): hydrochloric acid of 0.1 mol/L is 0.1, and so is sulfuric "
        "acid of 0.05 mol/L; 0.1N is taken too; citric acid is too weak",
    )


def _neutralise(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--reagent", default="citric acid", help="citric acid, or another of the table")
    parser.add_argument("--acid-ml", type=float, metavar="ML", help="a titration of this soap: acid run in")
    _acid(parser)
    parser.add_argument("--sample", type=float, default=10.0, metavar="G", help="soap in the flask, g (10)")
    parser.add_argument("--ph", type=float, help="pH of a cooled sample: decide by it")
    parser.add_argument("--sample-percent", type=float, default=1.0, metavar="P", help="that sample's strength (1)")
    parser.add_argument("--sample-c", type=float, default=25.0, metavar="C", help="its temperature (25)")
    parser.add_argument("--end-ph", type=float, metavar="PH", help="where to stop (the most that is found good)")
    parser.add_argument("--stock-percent", type=float, metavar="P", help="strength of the stock solution")
    parser.add_argument("--give", type=float, metavar="G", help="a dose of your own: would it overshoot?")
    parser.add_argument("--log", action="store_true", help="it went in: log it in the recording")
    parser.add_argument("--borate-warning-read", action="store_true", help="needed for borax and boric acid")
    _pot(parser)


def _haze(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--hardness", type=float, metavar="DH", help="tap water went in, of so many German degrees")
    parser.add_argument("--tap-water", type=float, metavar="G", help="so much of it, g (all that went in)")
    trials = ("not tried", "clears", "stays hazy")
    parser.add_argument("--warmed", choices=trials, default="not tried", help="a sample in a jar at 50 °C")
    parser.add_argument("--thinned", choices=trials, default="not tried", help="a spoon in twice its warm water")
    _pot(parser)


def _jar(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--reagent", help="what is in the stock (as in the log, else citric acid)")
    parser.add_argument("--end-ph", type=float, metavar="PH", help="where to stop (the most that is found good)")
    _jar_readings(parser, "PH")


def _thickening(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--thickener", help="salt, potassium chloride or borax in the stock (as in the log, else salt)")
    parser.add_argument("--wanted", type=float, metavar="S", help="the run-out that is wanted (the thickest)")
    _jar_readings(parser, "SECONDS")


def _jar_readings(parser: argparse.ArgumentParser, value: str) -> None:
    parser.add_argument("--jar", type=float, metavar="G", help="product in the jar (as in the log, else 100)")
    parser.add_argument("--stock-percent", type=float, metavar="P", help="strength of the stock solution")
    parser.add_argument(
        "--reading",
        type=jar_reading,
        action="append",
        default=[],
        metavar=f"G={value}[@cloudy]",
        help="stock in the jar so far, and what it then read; once for each portion, 0 first",
    )
    parser.add_argument("--new-jar", action="store_true", help="leave out the jar that is in the log")
    parser.add_argument("--pot", type=float, metavar="G", help="product to be dosed, instead of what the log says")
    parser.add_argument("--log", action="store_true", help="log these readings in the recording")
    parser.add_argument("--borate-warning-read", action="store_true", help="needed for borax and boric acid")
    _pot(parser)


def _stock(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("reagent")
    parser.add_argument("grams", type=float, help="reagent, g")
    parser.add_argument("water", type=float, help="water, g")
    parser.add_argument("--at", type=float, default=20.0, metavar="C", help="the temperature it will stand at (20)")


def _settle(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--days", type=float, default=7.0)
    parser.add_argument("--calendar", type=Path, metavar="FILE.ics", help="write a reminder for a phone's calendar")


def _bottles(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("grams", type=float, help="finished soap, g")
    parser.add_argument("--bottle", type=float, default=250.0, metavar="ML", help="what goes into one (250)")
    parser.add_argument("--filled", type=float, metavar="N", help="bottles really filled; with --log they are logged")
    _log(parser)
    parser.add_argument("--density", type=float, default=1.02, metavar="KG_L", help="of the soap (1.02)")
    parser.add_argument(
        "--add", type=addition, action="append", default=[], metavar="WHAT=PERCENT/MOST", help="with its maker's limit"
    )


def _label(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--contents", type=float, default=250.0, metavar="ML", help="in one bottle (250)")
    parser.add_argument("--made", default="", metavar="DATE", help="as it is to be printed")
    parser.add_argument("--as-put-in", action="store_true", help="what went into the pot, not what is in the bottle")
    _pot(parser)


def _alkali(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--oil", type=oil, action="append", default=[], metavar="NAME=GRAMS[@VALUE]", help="instead of a sheet"
    )
    parser.add_argument("--assay", type=share, metavar="F", help="KOH in the flakes: 0.9 or 90%%")
    parser.add_argument("--carbonate", type=share, metavar="F", help="potassium carbonate in the flakes, likewise")
    parser.add_argument("--total-assay", action="store_true", help="the assay counts the carbonate too")
    parser.add_argument("--excess", type=share, metavar="F", help="alkali above need: 0.03 or 3%%")
    parser.add_argument("--naoh-share", type=share, metavar="F", help="the part of the need that NaOH meets")
    parser.add_argument("--scale", type=float, metavar="G", help="the smallest step of the scale")
    water = parser.add_mutually_exclusive_group()
    water.add_argument("--water", type=float, metavar="G")
    water.add_argument("--lye-strength", type=share, metavar="F", help="alkali in the whole lye: 0.3 or 30%%")
    water.add_argument("--water-per-alkali", type=float, metavar="R", help="grams of water to a gram of flakes")
    parser.add_argument(
        "--weighed-oil", type=weight, action="append", default=[], metavar="NAME=G", help="really weighed"
    )
    parser.add_argument("--weighed-koh", type=float, metavar="G", help="flakes really weighed")
    parser.add_argument("--weighed-naoh", type=float, metavar="G")
    parser.add_argument("--weighed-water", type=float, metavar="G")
    parser.add_argument("--cooker", type=float, metavar="L", help="what the cooker holds to the rim")
    parser.add_argument("--write", type=Path, metavar="FILE", help="write the sheet anew with what was weighed")
    # argparse must not take an excess such as -5% for an option.
    parser._negative_number_matcher = re.compile(r"-\.?\d")


def _log(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--log", action="store_true", help="log it in the recording named with --cook")
    parser.add_argument("--cook", metavar="NAME", help="a recording, or 'latest'")
    parser.add_argument("--recordings", type=Path, default=Path("recordings"), metavar="DIR")


def _pot(parser: argparse.ArgumentParser) -> None:
    which = parser.add_mutually_exclusive_group()
    which.add_argument("--paste-weighed", type=float, metavar="G", help="the paste on the scale, before dilution")
    which.add_argument("--water-lost", type=float, metavar="G", help="water that boiled off")


def share(text: str) -> TypedShare:
    """A fraction of one, also in per cent.

    >>> share("0.03"), share("3 %"), share("3%").in_percent
    (0.03, 0.03, True)
    """
    digits = text.strip()
    in_percent = digits.endswith("%")
    try:
        found = TypedShare(float(digits.removesuffix("%")) / 100.0 if in_percent else float(digits))
    except ValueError:
        raise argparse.ArgumentTypeError(f"it is {text!r}; it must be like 0.03 or 3%") from None
    found.in_percent = in_percent
    return found


def acid_strength(text: str) -> float:
    """The strength of an acid, mol of H+ per litre, which is its normality.

    >>> acid_strength("0.1"), acid_strength("0.1 N")
    (0.1, 0.1)
    """
    try:
        return float(text.strip().removesuffix("N"))
    except ValueError:
        raise argparse.ArgumentTypeError(f"it is {text!r}; write mol of H+ per litre, such as 0.1 or 0.1N") from None


def weight(text: str) -> tuple[str, float]:
    """NAME=GRAMS."""
    try:
        return _weight(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"it is {text!r}; it must be like rapeseed=600") from None


def _weight(text: str) -> tuple[str, float]:
    name, _, grams = text.rpartition("=")
    return named(name), float(grams)


def oil(text: str) -> tuple[str, float, float | None]:
    """NAME=GRAMS or NAME=GRAMS@VALUE."""
    head, _, value = text.partition("@")
    try:
        return *_weight(head), float(value) if value else None
    except ValueError:
        raise argparse.ArgumentTypeError(f"it is {text!r}; it must be like rapeseed=600@189") from None


SUMS = (
    SumArguments("oils", "the oils table: ranges, sources, and how each row stands against its fatty acids", _oils),
    SumArguments("alkali", "potassium hydroxide and water for the oils, and how sure it is", _alkali, of_batch=True),
    SumArguments("heat", "how hot the lye gets, and in how many parts to add the flakes", _heat, of_batch=True),
    SumArguments("sample", "the clarity sample: boiling water, and what is seen", _sample),
    SumArguments("dilution", "water for a strength, as real soap and as paste", _dilution, of_batch=True),
    SumArguments("titration", "free alkali from a titration, and how to do one", _titration),
    SumArguments(
        "paste", "a titrated sample of the paste in the cook: the acid to expect, what it tells", _paste, of_batch=True
    ),
    SumArguments("neutralise", "what to add, in which parts, and when to stop", _neutralise, of_batch=True),
    SumArguments("haze", "a batch that stayed hazy: what may be the cause, and what can be done", _haze, True),
    SumArguments("jar", "the pot's dose from a jar of product: portions of stock, and the pH after each", _jar, True),
    SumArguments("thickening", "the salt or borax that thickens, from a jar and a stopwatch", _thickening, True),
    SumArguments("stock", "whether a stock solution stays dissolved", _stock),
    SumArguments("settle", "when to look whether it has settled", _settle, of_batch=True),
    SumArguments("bottles", "additions by percentage, and how many bottles are filled", _bottles),
    SumArguments("label", "the ingredient list, with lot and date", _label, of_batch=True),
)
