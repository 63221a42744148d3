"""The jar test: what measured portions of stock did to the pH of a jar of product, and the dose of the pot from it."""

from dataclasses import dataclass

from monitor.chemistry import check_range
from monitor.formulation.cautions import Caution
from monitor.formulation.jar import Jar, JarReading
from monitor.formulation.line_fit import LineFit, fit_line
from monitor.formulation.neutralisers import find_allowed_neutraliser

# Standard deviation of one reading of a good probe in a cooled sample, pH (judgement).
READING_NOISE = 0.05
# How far a straight line is off for each unit of pH from the target, pH (judgement): readings far from it count less.
BEND_PER_PH = 0.2
# The part of the low end of a dose that goes in first: half to two thirds, common practice.
FIRST_SHARE = 0.6
ENOUGH_READINGS = 3
# The range is too wide to go by where its high end is more than this many times its low end.
TOO_WIDE = 2.0


@dataclass(frozen=True, slots=True)
class JarDose:
    """What the jar says of the pot.

    ph_per_g: fall of the jar's pH for each gram of stock. ph_per_g_sd: standard deviation of that. stock_g: stock for
    the pot: low end of the central 80 %, middle, high end, each at most ``most_stock_g``. reagent_g: the same as
    reagent, None where the strength of the stock is unknown. most_stock_g: the last clear portion, scaled to the pot.
    first_stock_g: what to add first, 0 where the jar does not say. sure: whether the jar says enough to dose by.
    """

    reagent: str
    target_ph: float
    ph_per_g: float
    ph_per_g_sd: float
    stock_g: tuple[float, float, float]
    reagent_g: tuple[float, float, float] | None
    most_stock_g: float
    first_stock_g: float
    sure: bool
    meaning: tuple[str, ...]
    cautions: tuple[Caution, ...]


def jar_dose(jar: Jar, pot_g: float, target_ph: float, *, warning_read: bool = False) -> JarDose:
    """The stock that brings the pot to a pH, by the jar.

    A line of pH against grams by weighted least squares over the clear readings, those near the target counting most;
    the grams at which it reaches the target, as a range, times pot over jar.

    Parameters
    ----------
    jar : of "jar neutralised": at least two different totals, the first of them clear.
    pot_g : product to be dosed, g, 10 to 1e6; without the jar, unless that goes back.
    target_ph : 8 to 11, below the jar's first reading.
    warning_read : that a person has read ``cautions.BORATES``.

    Limits: one standard deviation of a reading is 0.05, and of the line 0.2 for each unit from the target (judgement).
    Nothing at or past the first cloudy portion is advised, nor past the last portion that was tried.

    Raises ValueError outside these ranges, and for a borate whose warning was not read.

    >>> readings = (JarReading(0, 10.2), JarReading(1, 9.8), JarReading(2, 9.4))
    >>> jar = Jar(100, "citric acid", 50, readings)
    >>> [round(grams, 1) for grams in jar_dose(jar, 2500, 9.6).stock_g]
    [34.1, 37.5, 41.3]
    """
    reagent = find_allowed_neutraliser(jar.what, warning_read=warning_read)
    check_range("pot_g", pot_g, 10.0, 1e6, "g")
    line, clear = jar_line(jar, target_ph), jar.clear_readings
    scale, last_g = pot_g / jar.jar_g, clear[-1].stock_g
    reached = line.reaches(target_ph) if line.slope < 0.0 else None
    ends = (0.0, last_g, last_g) if reached is None else reached
    low, middle, high = (min(max(grams, 0.0), last_g) * scale for grams in ends)
    narrow = reached is not None and reached[0] > 0.0 and reached[2] <= TOO_WIDE * reached[0]
    sure = narrow and len(clear) >= ENOUGH_READINGS
    stock = (low, middle, high)
    return JarDose(
        reagent.name,
        target_ph,
        -line.slope,
        line.slope_sd,
        stock,
        _dissolved(jar, stock),
        last_g * scale,
        FIRST_SHARE * low,
        sure,
        _meaning(jar, clear, reached, target_ph, sure),
        reagent.cautions,
    )


def jar_line(jar: Jar, target_ph: float) -> LineFit:
    """The line of pH against grams of stock through the clear readings of a jar, those near the target counting most.

    jar, target_ph: as for ``jar_dose``. Raises ValueError outside their ranges.
    """
    clear = _readings_above(jar, check_range("target_ph", target_ph, 8.0, 11.0))
    return fit_line([_weighted(reading, target_ph) for reading in clear])


def _readings_above(jar: Jar, target_ph: float) -> tuple[JarReading, ...]:
    """The clear readings, when there are enough and the first lies above the target; else raises ValueError."""
    clear = jar.clear_readings
    if len({reading.stock_g for reading in clear}) < 2:
        raise ValueError("readings are too few; read the jar, add a portion and read again, so that there are two")
    if target_ph >= clear[0].value:
        raise ValueError(
            f"target_ph is {target_ph:g}; the jar read {clear[0].value:g} at first and acid brings it down, so it must "
            f"be from 8 to less than {clear[0].value:g}"
        )
    return clear


def _weighted(reading: JarReading, target_ph: float) -> tuple[float, float, float]:
    bend = BEND_PER_PH * (reading.value - target_ph)
    return reading.stock_g, reading.value, (READING_NOISE**2 + bend**2) ** 0.5


def _dissolved(jar: Jar, stock: tuple[float, float, float]) -> tuple[float, float, float] | None:
    if jar.stock_percent is None:
        return None
    low, middle, high = (grams * jar.stock_percent / 100.0 for grams in stock)
    return low, middle, high


def _meaning(
    jar: Jar,
    clear: tuple[JarReading, ...],
    reached: tuple[float, float, float] | None,
    target_ph: float,
    sure: bool,
) -> tuple[str, ...]:
    last = clear[-1]
    if reached is None:
        return ("The pH fell by no more than a probe's scatter: add a larger portion and read again.",)
    low, middle, high = reached
    sentences = [
        f"In the jar {middle:.2g} g of the stock bring it to {target_ph:g}, likely {max(low, 0.0):.2g} to {high:.2g} g."
    ]
    if middle > last.stock_g:
        more = (
            "that is as far as it stays clear" if jar.cloudy_from_g is not None else "add portions until it reads less"
        )
        sentences.append(f"The jar was brought to {last.value:g} with {last.stock_g:g} g: {more}.")
    if jar.cloudy_from_g is not None:
        sentences.append(f"It was cloudy at {jar.cloudy_from_g:g} g: never more than {last.stock_g:g} g to such a jar.")
    if len(clear) < ENOUGH_READINGS:
        sentences.append("Two readings make a line that nothing checks: add a portion and read again.")
    elif not sure:
        sentences.append("The range is too wide to go by: more readings near the target narrow it.")
    return tuple(sentences)
