"""Range checks: a number in its range, or one sentence that says why not."""

import math


def check_range(name: str, value: float, low: float, high: float, unit: str = "") -> float:
    """``value`` as a float when it lies from ``low`` to ``high``, both included.

    Parameters
    ----------
    name : of the argument, for the message.
    unit : of the value and its limits, for the message.

    Raises ValueError that names the argument, its value and the allowed range, also for what is no finite number.

    >>> check_range("assay", 0.9, 0.5, 1.0)
    0.9
    >>> check_range("oil", -3, 0.1, 100_000, "g")
    Traceback (most recent call last):
    ValueError: oil is -3 g; it must be from 0.1 to 100000 g
    """
    suffix = f" {unit}" if unit else ""
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise ValueError(f"{name} is {value!r}; it must be a number from {low:g} to {high:g}{suffix}")
    if not low <= value <= high:
        raise ValueError(f"{name} is {value:.6g}{suffix}; it must be from {low:.6g} to {high:.6g}{suffix}")
    return float(value)
