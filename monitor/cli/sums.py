"""``kettleside sums``: the bench sums, from the oils to the label."""

import argparse
from pathlib import Path

HELP = "The bench sums of a batch: alkali, heat, clarity sample, dilution, neutralising, bottles, label."


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's arguments: one sum each."""
    sums = parser.add_subparsers(dest="sum", required=True, metavar="SUM")

    def a_sum(name: str, words: str, *, of_batch: bool = False) -> argparse.ArgumentParser:
        one = sums.add_parser(name, help=words, description=words)
        one.add_argument("--json", action="store_true", help="the numbers as JSON")
        one.add_argument("--ounces", action="store_true", help="ounces and fluid ounces too")
        if of_batch:
            which = one.add_mutually_exclusive_group()
            which.add_argument("--batch", type=Path, metavar="FILE", help="a batch sheet")
            which.add_argument("--cook", metavar="NAME", help="a recording, or 'latest': its sheet and what was logged")
            one.add_argument("--recordings", type=Path, default=Path("recordings"), metavar="DIR")
        return one

    oils = a_sum("oils", "the oils table: ranges, sources, and how each row stands against its fatty acids")
    oils.add_argument("words", nargs="*", metavar="WORD", help="an oil, or words to look for in every column")

    _charge_arguments(a_sum("alkali", "potassium hydroxide and water for the oils, and how sure it is", of_batch=True))

    heat = a_sum("heat", "how hot the lye gets, and in how many parts to add the flakes", of_batch=True)
    heat.add_argument("--start", type=float, default=20.0, metavar="C", help="what flakes and water start at (20)")
    heat.add_argument("--limit", type=float, default=70.0, metavar="C", help="not to go above (70)")

    sample = a_sum("sample", "the clarity sample: boiling water, and what is seen")
    sample.add_argument("grams", type=float, help="paste in the sample, g")

    dilution = a_sum("dilution", "water for a strength, as real soap and as paste", of_batch=True)
    target = dilution.add_mutually_exclusive_group(required=True)
    target.add_argument("--soap-percent", type=float, metavar="P", help="real soap wished for")
    target.add_argument("--paste-percent", type=float, metavar="P", help="paste in the product wished for")
    target.add_argument("--water", type=float, metavar="G", help="this much more water: what comes of it")
    dilution.add_argument("--log", action="store_true", help="it went in, or was weighed: log it in the recording")
    _pot_arguments(dilution)

    titration = a_sum("titration", "free alkali from a titration, and how to do one")
    titration.add_argument("acid_ml", type=float, help="acid run in, mL")
    titration.add_argument("--acid", type=float, default=0.1, metavar="MOL_L", help="its strength, mol/L (0.1)")
    titration.add_argument("--sample", type=float, default=10.0, metavar="G", help="soap in the flask, g (10)")
    _log_arguments(titration)

    neutralise = a_sum("neutralise", "what to add, in which parts, and when to stop", of_batch=True)
    neutralise.add_argument("--reagent", default="citric acid", help="citric acid, or another of the table")
    neutralise.add_argument("--acid-ml", type=float, metavar="ML", help="a titration of this soap: acid run in")
    neutralise.add_argument("--acid", type=float, default=0.1, metavar="MOL_L", help="its strength, mol/L (0.1)")
    neutralise.add_argument("--sample", type=float, default=10.0, metavar="G", help="soap in the flask, g (10)")
    neutralise.add_argument("--ph", type=float, help="pH of a cooled sample: decide by it")
    neutralise.add_argument("--sample-percent", type=float, default=1.0, metavar="P", help="that sample's strength (1)")
    neutralise.add_argument("--sample-c", type=float, default=25.0, metavar="C", help="its temperature (25)")
    neutralise.add_argument("--end-ph", type=float, default=10.0, help="where to stop; tells only with borates (10)")
    neutralise.add_argument("--stock-percent", type=float, metavar="P", help="strength of the stock solution")
    neutralise.add_argument("--give", type=float, metavar="G", help="a dose of your own: would it overshoot?")
    neutralise.add_argument("--log", action="store_true", help="it went in: log it in the recording")
    neutralise.add_argument("--borate-warning-read", action="store_true", help="needed for borax and boric acid")
    _pot_arguments(neutralise)

    stock = a_sum("stock", "whether a stock solution stays dissolved")
    stock.add_argument("reagent")
    stock.add_argument("grams", type=float, help="reagent, g")
    stock.add_argument("water", type=float, help="water, g")
    stock.add_argument("--at", type=float, default=20.0, metavar="C", help="the temperature it will stand at (20)")

    settle = a_sum("settle", "when to look whether it has settled", of_batch=True)
    settle.add_argument("--days", type=float, default=7.0)
    settle.add_argument("--calendar", type=Path, metavar="FILE.ics", help="write a reminder for a phone's calendar")

    bottle = a_sum("bottles", "additions by percentage, and how many bottles are filled")
    bottle.add_argument("grams", type=float, help="finished soap, g")
    bottle.add_argument("--bottle", type=float, default=250.0, metavar="ML", help="what goes into one (250)")
    bottle.add_argument("--filled", type=float, metavar="N", help="bottles really filled; with --log they are logged")
    _log_arguments(bottle)
    bottle.add_argument("--density", type=float, default=1.02, metavar="KG_L", help="of the soap (1.02)")
    bottle.add_argument(
        "--add", type=addition, action="append", default=[], metavar="WHAT=PERCENT/MOST", help="with its maker's limit"
    )

    label = a_sum("label", "the ingredient list, with lot and date", of_batch=True)
    label.add_argument("--contents", type=float, default=250.0, metavar="ML", help="in one bottle (250)")
    label.add_argument("--made", default="", metavar="DATE", help="as it is to be printed")
    label.add_argument("--as-put-in", action="store_true", help="what went into the pot, not what is in the bottle")
    _pot_arguments(label)


def _charge_arguments(one: argparse.ArgumentParser) -> None:
    one.add_argument(
        "--oil", type=oil, action="append", default=[], metavar="NAME=GRAMS[@VALUE]", help="instead of a sheet"
    )
    one.add_argument("--assay", type=float, metavar="F", help="mass fraction of KOH in the flakes")
    one.add_argument("--carbonate", type=float, metavar="F", help="mass fraction of potassium carbonate in the flakes")
    one.add_argument("--total-assay", action="store_true", help="the assay counts the carbonate too")
    one.add_argument("--excess", type=float, metavar="F", help="alkali above need, as a fraction")
    one.add_argument("--naoh-share", type=float, metavar="F", help="the part of the need that NaOH meets")
    one.add_argument("--scale", type=float, metavar="G", help="the smallest step of the scale")
    water = one.add_mutually_exclusive_group()
    water.add_argument("--water", type=float, metavar="G")
    water.add_argument("--lye-strength", type=float, metavar="F", help="mass fraction of alkali in the lye")
    water.add_argument("--water-per-alkali", type=float, metavar="R", help="grams of water to a gram of flakes")
    one.add_argument("--weighed-oil", type=weight, action="append", default=[], metavar="NAME=G", help="really weighed")
    one.add_argument("--weighed-koh", type=float, metavar="G", help="flakes really weighed")
    one.add_argument("--weighed-naoh", type=float, metavar="G")
    one.add_argument("--weighed-water", type=float, metavar="G")
    one.add_argument("--cooker", type=float, metavar="L", help="what the cooker holds to the rim")
    one.add_argument("--write", type=Path, metavar="FILE", help="write the sheet anew with what was weighed")


def _log_arguments(one: argparse.ArgumentParser) -> None:
    one.add_argument("--log", action="store_true", help="log it in the recording named with --cook")
    one.add_argument("--cook", metavar="NAME", help="a recording, or 'latest'")
    one.add_argument("--recordings", type=Path, default=Path("recordings"), metavar="DIR")


def _pot_arguments(one: argparse.ArgumentParser) -> None:
    which = one.add_mutually_exclusive_group()
    which.add_argument("--paste-weighed", type=float, metavar="G", help="the paste on the scale, before dilution")
    which.add_argument("--water-lost", type=float, metavar="G", help="water that boiled off")


def weight(text: str) -> tuple[str, float]:
    """NAME=GRAMS."""
    try:
        return _weight(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"it is {text!r}; it must be like rapeseed=600") from None


def _weight(text: str) -> tuple[str, float]:
    name, _, grams = text.rpartition("=")
    return _named(name), float(grams)


def oil(text: str) -> tuple[str, float, float | None]:
    """NAME=GRAMS or NAME=GRAMS@VALUE."""
    head, _, value = text.partition("@")
    try:
        return *_weight(head), float(value) if value else None
    except ValueError:
        raise argparse.ArgumentTypeError(f"it is {text!r}; it must be like rapeseed=600@189") from None


def addition(text: str) -> tuple[str, float, float]:
    """WHAT=PERCENT/MOST."""
    what, _, shares = text.rpartition("=")
    percent, _, most = shares.partition("/")
    try:
        return _named(what), float(percent), float(most)
    except ValueError:
        raise argparse.ArgumentTypeError(f"it is {text!r}; it must be like scent=1/2") from None


def _named(name: str) -> str:
    if not name.strip():
        raise ValueError("no name")
    return name.strip()


def run(args: argparse.Namespace) -> int:
    """Makes the sum and tells it."""
    import json

    from monitor.cli.sums_run import SUMS, SumError
    from monitor.formulation import to_json_value

    try:
        result, lines = SUMS[args.sum](args)
    except ValueError as error:
        raise SumError(str(error)) from None
    if args.json:
        print(json.dumps(to_json_value(result), ensure_ascii=False, indent=1))
        return 0
    for line in lines:
        print(line)
    return 0
