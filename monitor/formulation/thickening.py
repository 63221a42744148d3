"""The thickening curve: how long a jar of product takes to run out, against the salt or borax dissolved in it.

A soap solution thickens as salt goes in, comes to a peak and thins beyond it (common practice, no source). Where the
peak lies depends on the oils, so it is found in a jar.
"""

from dataclasses import dataclass
from itertools import pairwise

from monitor.chemistry import check_range
from monitor.formulation.cautions import Caution
from monitor.formulation.jar import Jar, JarReading
from monitor.formulation.jar_neutralising import FIRST_SHARE
from monitor.formulation.neutralisers import all_neutralisers, find_allowed_neutraliser

SALTS = ("sodium chloride", "potassium chloride")
SALT_NAMES = {"salt": SALTS[0], "table salt": SALTS[0]} | {name: name for name in SALTS}
# Two run-outs that differ by less than this fraction are the same: stopwatch, drips, temperature (judgement).
SAME_WITHIN = 0.05
SALT_CAUTION = Caution(
    "stock_g", "Salt that has gone in does not come out: past the peak only more soap thickens again."
)


@dataclass(frozen=True, slots=True)
class ThickeningCurve:
    """What the jar says of the pot.

    peak_found: whether more was seen to thin it. peak_g: stock in the jar between which the peak lies, g, or None.
    thickest_s: run-out at the last portion that still thickened. stock_g: stock for the pot, g: as in that portion, or
    for the run-out that is wanted; 0 where no portion thickened. thickener_g: the same as salt or borax, None where the
    strength of the stock is unknown. first_stock_g: what to add first.
    """

    thickener: str
    peak_found: bool
    peak_g: tuple[float, float] | None
    thickest_s: float
    stock_g: float
    thickener_g: float | None
    first_stock_g: float
    meaning: tuple[str, ...]
    cautions: tuple[Caution, ...]


def thickener_names() -> list[str]:
    """What may thicken: the salts, then the borates, which need their warning read."""
    rows = dict.fromkeys(row.name for row in all_neutralisers().values() if row.kind == "borate")
    return [*SALTS, *(name for name in rows if name.startswith("borax"))]


def find_thickener(name: str, *, warning_read: bool = False) -> str:
    """The full name of a salt or of borax.

    Raises ValueError for anything else, and for borax whose warning was not read.

    >>> find_thickener("salt")
    'sodium chloride'
    """
    folded = " ".join(name.casefold().split())
    if folded in SALT_NAMES:
        return SALT_NAMES[folded]
    full = {row: all_neutralisers()[row].name for row in all_neutralisers() if row.startswith("borax")}
    if folded not in full:
        raise ValueError(f"thickener is {name!r}; it must be one of {', '.join(thickener_names())}")
    return find_allowed_neutraliser(full[folded], warning_read=warning_read).name


def thickening_curve(
    jar: Jar, pot_g: float, *, wanted_s: float | None = None, warning_read: bool = False
) -> ThickeningCurve:
    """Where the peak lies, or that it is not yet found, and the stock for the pot.

    Parameters
    ----------
    jar : of "jar thickened": at least two different totals, the first of them clear; run-outs of 0.1 to 36 000 s, all
        through one opening, of one volume, at one temperature.
    pot_g : product to be thickened, g, 10 to 1e6; without the jar, unless that goes back.
    wanted_s : the run-out that is wanted, s; between two readings straight lines. None for the thickest.
    warning_read : that a person has read ``cautions.BORATES``.

    Never more than the last portion that still thickened, and nothing at or past the first cloudy one. Differences of
    less than 5 % do not count (judgement). Raises ValueError outside these ranges, and as ``find_thickener``.

    >>> readings = (JarReading(0, 8), JarReading(2, 14), JarReading(4, 30), JarReading(6, 21))
    >>> jar = Jar(100, "salt", 20, readings)
    >>> curve = thickening_curve(jar, 2500)
    >>> curve.peak_found, curve.peak_g, curve.stock_g, curve.thickener_g
    (True, (2, 6), 100.0, 20.0)
    """
    thickener = find_thickener(jar.what, warning_read=warning_read)
    check_range("pot_g", pot_g, 10.0, 1e6, "g")
    clear = jar.clear_readings
    for reading in clear:
        check_range("run_out_s", reading.value, 0.1, 36_000.0, "s")
    if len({reading.stock_g for reading in clear}) < 2:
        raise ValueError("readings are too few; time the jar, add a portion and time it again, so that there are two")
    best, fell = _thickest(clear)
    found = fell is not None
    peak = (clear[max(best - 1, 0)].stock_g, clear[fell].stock_g) if fell is not None else None
    rising = clear[: best + 1]
    jar_stock_g = rising[-1].stock_g if wanted_s is None else _stock_for(rising, wanted_s)
    stock_g = jar_stock_g * pot_g / jar.jar_g
    cautions = (SALT_CAUTION,) if thickener in SALTS else all_neutralisers()[thickener].cautions
    return ThickeningCurve(
        thickener,
        found,
        peak,
        rising[-1].value,
        stock_g,
        jar.dissolved_g(stock_g),
        FIRST_SHARE * stock_g,
        _meaning(jar, clear, best, fell),
        cautions,
    )


def _thickest(clear: tuple[JarReading, ...]) -> tuple[int, int | None]:
    """The last reading that was thicker than all before, and the first after it that was thinner, or None."""
    best = 0
    for n, reading in enumerate(clear):
        if reading.value > clear[best].value * (1.0 + SAME_WITHIN):
            best = n
        elif reading.value < clear[best].value * (1.0 - SAME_WITHIN) and reading.stock_g > clear[best].stock_g:
            return best, n
    return best, None


def _stock_for(rising: tuple[JarReading, ...], wanted_s: float) -> float:
    """Stock in the jar that gives this run-out, g. Raises ValueError where the jar did not run so."""
    check_range("wanted_s", wanted_s, rising[0].value, rising[-1].value, "s")
    for before, after in pairwise(rising):
        if before.value <= wanted_s <= after.value:
            share = (wanted_s - before.value) / (after.value - before.value) if after.value > before.value else 0.0
            return before.stock_g + share * (after.stock_g - before.stock_g)
    return rising[-1].stock_g


def _meaning(jar: Jar, clear: tuple[JarReading, ...], best: int, fell: int | None) -> tuple[str, ...]:
    top, last = clear[best], clear[-1]
    if best == 0:
        if fell is not None:
            return ("Each portion thinned it: this soap is past its peak or has none; add nothing.",)
        return ("It has not thickened yet: add a portion and time it again.",)
    if fell is not None:
        low, high = clear[best - 1].stock_g, clear[fell].stock_g
        sentences = [
            f"The peak lies between {low:g} and {high:g} g of stock in the jar; beyond {top.stock_g:g} g it thinned, "
            "so no more than that is advised."
        ]
    elif last.stock_g > top.stock_g:
        sentences = [f"Peak not yet found: after {top.stock_g:g} g it has stayed as thick, so the peak may be near."]
    else:
        sentences = [f"Peak not yet found: {top.stock_g:g} g still thickened it. Add a portion and time it again."]
    if jar.cloudy_from_g is not None:
        sentences.append(f"It was cloudy at {jar.cloudy_from_g:g} g: never so much.")
    return tuple(sentences)
