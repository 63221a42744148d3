"""What a sum accepts: a number in its range, told in one sentence when it is not."""

import math


def within(name: str, value: float, low: float, high: float, unit: str = "") -> float:
    """``value`` as a float when it lies from ``low`` to ``high``.

    Raises ValueError that names the argument, its value and the allowed range.

    >>> within("assay", 0.9, 0.5, 1.0)
    0.9
    >>> within("oil", -3, 0.1, 100_000, "g")
    Traceback (most recent call last):
    ValueError: oil is -3 g; it must be from 0.1 to 100000 g
    """
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise ValueError(f"{name} is {value!r}; it must be a number from {low:g} to {high:g}{_with(unit)}")
    if not low <= value <= high:
        raise ValueError(
            f"{name} is {value:.6g}{_with(unit)}; it must be from {_shown(low)} to {_shown(high)}{_with(unit)}"
        )
    return float(value)


def _shown(number: float) -> str:
    """A bound in at most six figures, without an exponent below a million."""
    return f"{number:.6g}"


def _with(unit: str) -> str:
    return f" {unit}" if unit else ""
