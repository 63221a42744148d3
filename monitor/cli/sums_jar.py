"""The jar on the command line: the pot's dose from the pH of a jar, and the thickening curve from its run-out."""

import argparse
from collections.abc import Callable, Mapping
from types import MappingProxyType

from monitor.cli.sums_batch import Answer, SumError, batch_and_state, log_in_cook
from monitor.cli.sums_layout import NUMBER, amount_lines
from monitor.formulation import (
    USUAL_JAR_G,
    Jar,
    JarReading,
    MassBalance,
    borate_warning,
    good_ph,
    jar_dose,
    latest_jar,
    thickening_curve,
)
from monitor.model import Event

DEFAULT_REAGENT, DEFAULT_THICKENER = "citric acid", "salt"


def _jar(args: argparse.Namespace) -> Answer:
    pot, events = _pot(args)
    jar, logged = _jar_of(args, events, "jar neutralised", args.reagent, DEFAULT_REAGENT)
    lines = _jar_lines(jar, "pH {:.2f}") + logged
    if not jar.has_two_totals:
        return {"jar": jar, "dose": None}, [*lines, "Read it, add a portion and read again."]
    if args.end_ph is None and pot is None:
        raise SumError("name the pH to stop at with --end-ph")
    target = args.end_ph if args.end_ph is not None or pot is None else good_ph(pot)
    dose = jar_dose(jar, _pot_g(args, pot, jar), target, warning_read=args.borate_warning_read)
    low, middle, high = dose.stock_g
    of_range = f"in all to pH {target:g}, likely {low:.1f} to {high:.1f} g"
    amounts = [(dose.first_stock_g, "of the stock to the pot first"), (middle, of_range)] if dose.first_stock_g else []
    return {"jar": jar, "dose": dose}, lines + amount_lines(amounts, args.ounces, dose.cautions, dose.meaning)


def _thickening(args: argparse.Namespace) -> Answer:
    pot, events = _pot(args)
    jar, logged = _jar_of(args, events, "jar thickened", args.thickener, DEFAULT_THICKENER)
    lines = _jar_lines(jar, "{:g} s") + logged
    if not jar.has_two_totals:
        return {"jar": jar, "curve": None}, [*lines, "Time it, add a portion and time it again."]
    curve = thickening_curve(jar, _pot_g(args, pot, jar), wanted_s=args.wanted, warning_read=args.borate_warning_read)
    first, most = (curve.first_stock_g, "of the stock to the pot first"), (curve.stock_g, "of it in all, never more")
    amounts = [first, most] if curve.stock_g else []
    return {"jar": jar, "curve": curve}, lines + amount_lines(amounts, args.ounces, curve.cautions, curve.meaning)


def _check_warning(args: argparse.Namespace, name: str) -> None:
    warning = borate_warning(name) if name.casefold().strip().startswith("bor") else None
    if warning and not args.borate_warning_read:
        raise SumError(f"{warning} To go on all the same, add --borate-warning-read")


def _pot(args: argparse.Namespace) -> tuple[MassBalance | None, tuple[Event, ...]]:
    if args.batch is None and args.cook is None:
        if args.pot is None:
            raise SumError("name a batch sheet with --batch, a recording with --cook, or grams of product with --pot")
        return None, ()
    _, _, events, now = batch_and_state(args)
    return now.pot, events


def _pot_g(args: argparse.Namespace, pot: MassBalance | None, jar: Jar) -> float:
    """Product to be dosed, g: as given, or what the log says less the jar."""
    if args.pot is not None or pot is None:
        return float(args.pot)
    return pot.total_g - jar.jar_g


def _jar_of(
    args: argparse.Namespace, events: tuple[Event, ...], kind: str, what: str | None, usual: str
) -> tuple[Jar, list[str]]:
    """The jar of the log with the readings typed now, and the lines that say what of it was logged."""
    typed = tuple(JarReading(*each) for each in args.reading)
    found = latest_jar(events, kind)
    base = found or Jar(USUAL_JAR_G, usual, None, ())
    jar_g = base.jar_g if args.jar is None else args.jar
    percent = base.stock_percent if args.stock_percent is None else args.stock_percent
    what = base.what if what is None else what
    same = not args.new_jar and (jar_g, what, percent) == (base.jar_g, base.what, base.stock_percent)
    jar = Jar(jar_g, what, percent, (*(base.readings if same else ()), *typed))
    _check_warning(args, what)
    if not jar.readings:
        raise SumError("the jar has no reading; name each with --reading, like 2=9.8")
    if not args.log:
        return jar, []
    name, measured = ("reagent", "ph") if kind == "jar neutralised" else ("thickener", "run_out_s")
    for reading in typed:
        fields: dict[str, object] = {"jar_g": jar_g, name: what, "stock_g": reading.stock_g, measured: reading.value}
        fields |= {} if percent is None else {"stock_percent": percent}
        log_in_cook(args, kind, fields | {"look": "clear" if reading.clear else "cloudy"})
    return jar, [f"Logged: {kind}, {len(typed)} readings." if len(typed) > 1 else f"Logged: {kind}."]


def _jar_lines(jar: Jar, value: str) -> list[str]:
    of = "" if jar.stock_percent is None else f" of {jar.stock_percent:g} %"
    lines = [f"{jar.jar_g:g} g of product; stock so far, {jar.what}{of}:"]
    for each in jar.readings:
        look = "" if each.clear else ", cloudy"
        lines.append(f"{f'{each.stock_g:g} g'.rjust(NUMBER)}  {value.format(each.value)}{look}")
    return lines


SUMS: Mapping[str, Callable[[argparse.Namespace], Answer]] = MappingProxyType({"jar": _jar, "thickening": _thickening})
