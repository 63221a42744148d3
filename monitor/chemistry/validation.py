"""Range checks: a number in its range, or one sentence that says why not, in the unit in which it was typed."""

import math
import re
from collections.abc import Mapping
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from types import MappingProxyType
from typing import TypeGuard

from monitor.runtime import MonitorError

# The unit of a share, strength or excess: a fraction of one, which pages show in per cent.
FRACTION = "fraction"
# How many significant figures a bound is told with.
BOUND_FIGURES = 4
# Units at the end of an argument's name, and words that are written otherwise than in a name.
_UNIT_SUFFIX = re.compile(r"_(g|ml|l|c|s|percent)\Z")
_SPELLED = MappingProxyType({"koh": "KOH", "naoh": "NaOH", "ph": "pH"})
# By the unit of a sum: the unit in which a person typed the number, and how many of those make one.
DisplayUnits = Mapping[str, tuple[str, float]]
AS_CALCULATED: DisplayUnits = MappingProxyType({FRACTION: ("", 1.0)})
IN_PERCENT: DisplayUnits = MappingProxyType({FRACTION: ("%", 100.0)})


class OutOfRangeError(MonitorError, ValueError):
    """A number lies outside its range.

    name: of the argument. value, low, high: in ``unit``. because: a clause on what narrows the range, or empty. The
    text names the argument; ``in_words`` says the same with the words and the unit of whoever typed the number.
    """

    exit_status = 2

    def __init__(self, name: str, value: object, low: float, high: float, unit: str = "", because: str = "") -> None:
        self.name = name
        self.value = value
        self.low = low
        self.high = high
        self.unit = unit
        self.because = because
        super().__init__(self.in_words(name))

    def in_words(self, words: str, units: DisplayUnits = AS_CALCULATED) -> str:
        """One clause: what the number is called, what it is, and from what to what it must be.

        words: what the number goes by where it was typed. units: the units of that place.

        >>> OutOfRangeError("excess", 0.8, -0.2, 0.5, FRACTION).in_words("excess", IN_PERCENT)
        'excess is 80 %; it must be from -20 to 50 %'
        """
        unit, factor = units.get(self.unit, (self.unit, 1.0))
        span = told_range(self.low * factor, self.high * factor, unit)
        if not _is_number(self.value):
            return f"{words} is {self.value!r}; it must be a number {span}"
        reason = f", {self.because}" if self.because else ""
        return f"{words} is {_figures(self.value * factor)}{_suffix(unit)}{reason}; it must be {span}"


def check_range(name: str, value: float, low: float, high: float, unit: str = "", because: str = "") -> float:
    """``value`` as a float when it lies from ``low`` to ``high``, both included.

    Parameters
    ----------
    name : of the argument, for the message.
    unit : of the value and its limits, for the message; ``FRACTION`` for a share of one.
    because : what narrows the range, a clause for the message.

    Raises OutOfRangeError, a ValueError that names the argument, its value and the allowed range, also for what is no
    finite number.

    >>> check_range("assay", 0.9, 0.5, 1.0)
    0.9
    >>> check_range("oil", -3, 0.1, 100_000, "g")
    Traceback (most recent call last):
    monitor.chemistry.validation.OutOfRangeError: oil is -3 g; it must be from 0.1 to 100000 g
    """
    if not _is_number(value) or not low <= value <= high:
        raise OutOfRangeError(name, value, low, high, unit, because)
    return float(value)


def told_range(low: float, high: float, unit: str = "") -> str:
    """A range in words, its bounds rounded inwards, so that a bound that is told can be typed.

    >>> told_range(0.00352739619, 3527.39619, "oz"), told_range(0.0, 0.09999999999999998)
    ('from 0.003528 to 3527 oz', 'from 0 to 0.1')
    """
    return f"from {_rounded(low, ROUND_CEILING)} to {_rounded(high, ROUND_FLOOR)}{_suffix(unit)}"


def plain_words(name: str) -> str:
    """What an argument is called where nobody said better: without its unit, and in words.

    >>> plain_words("koh_assay"), plain_words("stock_strength"), plain_words("end_ph"), plain_words("cooker_l")
    ('KOH assay', 'stock strength', 'end pH', 'cooker')
    """
    words = name.removesuffix("_mol_l") if name.endswith("_mol_l") else _UNIT_SUFFIX.sub("", name)
    return " ".join(_SPELLED.get(word, word) for word in words.replace("_", " ").split(" "))


def _is_number(value: object) -> TypeGuard[float]:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def _suffix(unit: str) -> str:
    return f" {unit}" if unit else ""


def _figures(value: float) -> str:
    """A number with at most six figures, and without an exponent where a person would write none."""
    return f"{value:.6g}" if abs(value) < 1e6 or abs(value) >= 1e15 else f"{value:.0f}"


def _rounded(bound: float, towards: str) -> str:
    exact = Decimal(repr(float(bound)))
    # What binary fractions add, as in 1 - 0.9, is no part of the bound.
    plain = Decimal(f"{bound:.9g}")
    if not plain or len(plain.normalize().as_tuple().digits) <= BOUND_FIGURES + 2:
        return f"{plain.normalize():f}"
    step = Decimal(1).scaleb(exact.adjusted() - BOUND_FIGURES + 1)
    return f"{exact.quantize(step, rounding=towards).normalize():f}"
