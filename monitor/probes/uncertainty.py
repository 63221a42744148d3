"""The tolerance of a thermocouple chain: wire class after IEC 60584-1, and converter."""

import math
from collections.abc import Mapping
from types import MappingProxyType

from monitor.probes.thermocouple import LETTERS

# (degC, share of the temperature): whichever is larger. IEC 60584-1:2013 for types K, J and T, as makers' tables give
# it; the standard itself was not seen.
_CLASSES: Mapping[tuple[str, int], tuple[float, float]] = MappingProxyType(
    {
        ("K", 1): (1.5, 0.004),
        ("K", 2): (2.5, 0.0075),
        ("J", 1): (1.5, 0.004),
        ("J", 2): (2.5, 0.0075),
        ("T", 1): (0.5, 0.004),
        ("T", 2): (1.0, 0.0075),
    }
)
# degC at kitchen temperatures, cold junction included. MAX31855: data sheet 19-5793, type K from -200 to 700 degC; the
# two others from memory of their data sheets.
CONVERTER_C: Mapping[str, float] = MappingProxyType({"MAX31855": 2.0, "MAX31856": 0.9, "MAX6675": 3.0})
# What a bath of ice or boiling water in a kitchen is worth (judgement): slush not quite stirred, bubbles, a pressure
# from the weather report; with it the converter's own wander between the two readings and the cook.
CHECKED_C = 0.5


def wire_tolerance_c(letter: str, tolerance_class: int, temperature_c: float) -> float:
    """The tolerance of the wire, degC either way: max(a, b |t|) with a and b of its class.

    Parameters
    ----------
    letter : K, J or T.
    tolerance_class : 1 or 2.
    temperature_c : t, degC, -40 to 350, where both classes hold for all three types.

    Raises ValueError for another letter or class.

    References
    ----------
    .. [1] IEC 60584-1:2013, tolerance classes, by makers' tables (-40 to 750 degC for J, 350 for T, 1000 for K).

    >>> wire_tolerance_c("K", 1, 95.0), wire_tolerance_c("K", 2, 95.0)
    (1.5, 2.5)
    """
    if (letter, tolerance_class) not in _CLASSES:
        raise ValueError(
            f"letter and class are {letter!r} and {tolerance_class!r}; they must be one of {', '.join(LETTERS)}, 1 or 2"
        )
    fixed_c, share = _CLASSES[letter, tolerance_class]
    return max(fixed_c, share * abs(temperature_c))


def chain_tolerance_c(
    letter: str, tolerance_class: int, converter: str | None, temperature_c: float, *, checked: bool = False
) -> float:
    """The tolerance of wire and converter together, degC either way, added in quadrature as independent.

    Parameters
    ----------
    letter, tolerance_class, temperature_c : as in ``wire_tolerance_c``.
    converter : the chip, or None where the sketch measures the emf itself.
    checked : whether a field correction removed the error; then the uncertainty of its baths remains (0.5 degC,
        judgement).

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 5.1.2, eq. 10, the combined uncertainty of independent quantities. A tolerance is taken
       as an uncertainty of the same coverage for both parts (judgement).

    >>> round(chain_tolerance_c("K", 2, "MAX31855", 95.0), 1)
    3.2
    """
    wire_c = wire_tolerance_c(letter, tolerance_class, temperature_c)
    return CHECKED_C if checked else math.hypot(wire_c, CONVERTER_C[converter] if converter else 0.0)
