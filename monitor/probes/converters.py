"""Raw words of thermocouple converters to temperatures and faults, and the MAX31855's linearity correction.

Bit layouts are from the data sheets: MAX31855 (19-5793, tables 2 to 5), MAX31856 (19-7534) and MAX6675 (19-2235), the
bits of the last two from memory.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from monitor.probes.thermocouple import Floats, emf_mv, temperature_c

# uV per degC that the chip assumes between its cold junction and the tip; data sheet 19-5793 (K seen; J and T from
# memory of its table 1).
GAIN_MV_PER_C: Mapping[str, float] = MappingProxyType({"K": 0.041276, "J": 0.057953, "T": 0.052180})

OPEN = "open circuit"
TO_GROUND = "short to ground"
TO_SUPPLY = "short to supply"
ALL_ZEROS = "all bits are 0: is the converter powered and its data line whole?"
ALL_ONES = "all bits are 1: is the converter plugged in and selected?"
NO_WORD = "no such word: is it the converter that was named?"
OUT_OF_RANGE = "out of the converter's range"


@dataclass(frozen=True)
class Decoded:
    """Decoded words.

    temperature_c, cold_c: shape (n,), degC, NaN at a fault; cold_c None where the chip does not send it.

    faults: (index, text) of each faulty word.
    """

    temperature_c: Floats
    cold_c: Floats | None
    faults: tuple[tuple[int, str], ...]


def decode(converter: str, words: Floats) -> Decoded:
    """The temperatures and faults of raw words. A fault is data: no word raises.

    Parameters
    ----------
    converter : MAX31855 (32 bits: tip in 0.25 degC, cold junction in 0.0625 degC), MAX31856 (registers 0C to 0F in one
        burst: 24 bits of temperature in 1/128 degC, 8 of fault status) or MAX6675 (16 bits, 0.25 degC).
    words : whole numbers, shape (n,); NaN stays NaN.

    Raises ValueError for another converter.

    References
    ----------
    .. [1] MAX31855 data sheet 19-5793, tables 2 and 3, memory map of the 32-bit word.
    .. [2] MAX31856 data sheet 19-7534 and MAX6675 data sheet 19-2235, bits from memory.

    >>> decode("MAX31855", np.array([0x064C1900, 0x00011901])).temperature_c.tolist()
    [100.75, nan]
    """
    if converter not in _DECODERS:
        raise ValueError(f"converter is {converter!r}; it must be one of {', '.join(_DECODERS)}")
    bits, decoder = _DECODERS[converter]
    top = 2**bits - 1
    given = np.asarray(words, dtype=np.float64)
    finite = np.isfinite(given)
    whole = finite & (given >= 0) & (given <= top) & (given == np.floor(np.where(finite, given, 0.0)))
    word = np.where(whole, given, 0.0).astype(np.int64)
    temperature, cold, flagged = decoder(word)
    # The first fault that applies is reported: faults of the whole word precede those of its bits.
    checks = [(finite & ~whole, NO_WORD), (whole & (word == 0), ALL_ZEROS), (whole & (word == top), ALL_ONES)]
    faults: dict[int, str] = {}
    for where, fault_text in [*checks, *((whole & flag, fault_text) for flag, fault_text in flagged)]:
        for index in np.flatnonzero(where).tolist():
            faults.setdefault(index, fault_text)
    faulty = ~whole
    faulty[list(faults)] = True
    return Decoded(
        np.where(faulty, math.nan, temperature),
        None if cold is None else np.where(~whole | (word == 0) | (word == top), math.nan, cold),
        tuple(sorted(faults.items())),
    )


_Word = np.ndarray[tuple[int, ...], np.dtype[np.int64]]
_Flags = list[tuple[np.ndarray[tuple[int, ...], np.dtype[np.bool_]], str]]


def _signed(word: _Word, shift: int, bits: int) -> Floats:
    field = (word >> shift) & (2**bits - 1)
    return np.asarray(field - (field >> (bits - 1)) * 2**bits, dtype=np.float64)


def _max31855(word: _Word) -> tuple[Floats, Floats | None, _Flags]:
    flagged: _Flags = [
        ((word & 0x20008) != 0, NO_WORD),
        ((word & 1) != 0, OPEN),
        ((word & 2) != 0, TO_GROUND),
        ((word & 4) != 0, TO_SUPPLY),
        ((word & 0x10000) != 0, "fault without a reason given"),
    ]
    return _signed(word, 18, 14) * 0.25, _signed(word, 4, 12) * 0.0625, flagged


def _max31856(word: _Word) -> tuple[Floats, Floats | None, _Flags]:
    flagged: _Flags = [
        ((word & 1) != 0, OPEN),
        ((word & 2) != 0, "voltage out of bounds: is the probe shorted to the supply?"),
        ((word & 0xC0) != 0, OUT_OF_RANGE),
    ]
    return _signed(word, 13, 19) / 128.0, None, flagged


def _max6675(word: _Word) -> tuple[Floats, Floats | None, _Flags]:
    flagged: _Flags = [((word & 0x8002) != 0, NO_WORD), ((word & 4) != 0, OPEN)]
    return np.asarray((word >> 3) & 0xFFF, dtype=np.float64) * 0.25, None, flagged


_DECODERS: Mapping[str, tuple[int, Callable[[_Word], tuple[Floats, Floats | None, _Flags]]]] = MappingProxyType(
    {"MAX31855": (32, _max31855), "MAX31856": (32, _max31856), "MAX6675": (16, _max6675)}
)
CONVERTERS = tuple(_DECODERS)


def linearised_c(letter: str, reading_c: Floats | float, cold_junction_c: Floats | float) -> Floats:
    """A MAX31855's reading corrected with the true thermocouple function, degC.

        T = E^-1(g (T_chip - T_cold) + E(T_cold))

    with the chip's constant gain g in mV/K and the reference function E in mV.

    Parameters
    ----------
    letter : K, J or T.
    reading_c : what the chip reports, degC, any shape.
    cold_junction_c : its cold junction, degC, broadcast to the same shape.

    Returns degC, NaN outside the reference function. At a true 95 degC a type K reads 0.1 low beside a cold junction of
    20 degC and 0.2 high beside one of 40.

    References
    ----------
    .. [1] MAX31855 data sheet 19-5793 (gain of K seen; J and T from memory).

    >>> f"{float(linearised_c('K', 94.91, 20.0)):.1f}"
    '95.0'
    """
    if letter not in GAIN_MV_PER_C:
        raise ValueError(f"letter is {letter!r}; it must be one of {', '.join(GAIN_MV_PER_C)}")
    cold = np.asarray(cold_junction_c, dtype=np.float64)
    chip_mv = GAIN_MV_PER_C[letter] * (np.asarray(reading_c, dtype=np.float64) - cold)
    return temperature_c(letter, chip_mv + emf_mv(letter, cold))
