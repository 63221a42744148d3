"""Units as senders write them, and what is made of them: the one table for wire, tables and alarms.

Readings are stored with the unit that was sent and understood whenever they are read, so that a recording made before
a word was known here is read rightly too.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, TypeVar

from monitor.model.records import ABSOLUTE_ZERO_C

if TYPE_CHECKING:
    # The logger reads this too and does without numpy.
    import numpy as np
    from numpy.typing import NDArray

Values = TypeVar("Values", float, "NDArray[np.float64]")


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit that is understood.

    name: the one word by which it is told from the others. symbol: what its values are given in, by the names of SenML
    (RFC 8428 section 12.1; mV of RFC 8798). zero, per: a value v of it is (v - zero) / per in that symbol.
    """

    name: str
    symbol: str
    zero: float = 0.0
    per: float = 1.0

    def value(self, sent: Values) -> Values:
        """The value or values in ``symbol``."""
        return sent if self.is_plain else (sent - self.zero) / self.per

    @property
    def is_plain(self) -> bool:
        """Whether values stay the numbers that were sent."""
        return self.zero == 0.0 and self.per == 1.0


def unit_as_sent(word: str) -> Unit:
    """The unit that a sender's word means, or one of its own where the word is not known."""
    return parse_unit(word) or Unit(word, word)


_CELSIUS, _KELVIN, _FAHRENHEIT = Unit("Cel", "Cel"), Unit("K", "K"), Unit("degF", "Cel", 32.0, 1.8)
# SenML has C for coulomb and F for farad, which no cooker measures.
_WORDS: Mapping[str, Unit] = MappingProxyType(
    {
        **dict.fromkeys(("c", "°c", "cel", "degc", "celsius", "degcelsius", "degreescelsius"), _CELSIUS),
        **dict.fromkeys(("f", "°f", "degf", "fahrenheit", "degfahrenheit", "degreesfahrenheit"), _FAHRENHEIT),
        **dict.fromkeys(("k", "°k", "degk", "kelvin"), _KELVIN),
        **dict.fromkeys(("v", "volt", "volts"), Unit("V", "V")),
        **dict.fromkeys(("mv", "millivolt", "millivolts"), Unit("mV", "mV")),
        "ph": Unit("pH", "pH"),
    }
)
# Raw words of a converter chip, decoded by what the channel is called (firmware_notes).
COUNT = "count"
# Beside millivolts, capitals would mean megavolts.
_OTHER = ("MV",)
_SIGNS = str.maketrans({"º": "°", "˚": "°", "℃": "°C", "℉": "°F"})
_LAID_ASIDE = re.compile(r"[\s._]+")

# What a channel may be called that plays a part, and what it may come in.
TEMPERATURES = ("paste", "wall", "room", "cold", "sample")
PH = "ph"
ALLOWED_TEMPERATURE = "°C, °F, K (or degC, Cel, C, degF, F)"
ALLOWED_PH = "V, mV, pH"


def parse_unit(text: str) -> Unit | None:
    """The unit that a sender's word means, without regard to blanks and case; None for one that is not known.

    >>> parse_unit("Cel").symbol, parse_unit("°F").value(212.0), parse_unit("deg C").symbol, parse_unit("foo")
    ('Cel', 100.0, 'Cel', None)
    """
    if text in _OTHER:
        return None
    return _WORDS.get(_LAID_ASIDE.sub("", text.translate(_SIGNS)).lower())


def to_celsius(value: Values, unit: str) -> Values | None:
    """A temperature or an array of them in degC, or None where the unit is that of no temperature, or not known.

    >>> to_celsius(368.15, "K"), to_celsius(212.0, "F"), to_celsius(5.0, "V")
    (95.0, 100.0, None)
    """
    known = parse_unit(unit)
    if known is None or known.symbol not in ("Cel", "K"):
        return None
    shown = known.value(value)
    return shown + ABSOLUTE_ZERO_C if known.symbol == "K" else shown


def is_temperature(unit: str) -> bool:
    """Whether readings in this unit are temperatures."""
    return to_celsius(0.0, unit) is not None


def is_usable_unit(part: str, unit: str) -> bool:
    """Whether readings in this unit serve a channel that plays this part; any other channel serves in any.

    >>> is_usable_unit("paste", "degF"), is_usable_unit("paste", "foo"), is_usable_unit("fan", "rpm")
    (True, False, True)
    """
    if part in TEMPERATURES:
        return is_temperature(unit)
    known = parse_unit(unit)
    return part != PH or (known is not None and known.symbol in ("V", "mV", "pH"))


def is_announceable_unit(part: str, unit: str) -> bool:
    """Whether a channel that plays this part may be announced in this unit: one that serves, or a chip's own signal.

    A thermocouple's own voltage is a temperature as soon as its type is told, a chip's raw word as soon as it is
    decoded.

    >>> is_announceable_unit("paste", "mV"), is_announceable_unit("paste", "pH")
    (True, False)
    """
    known = parse_unit(unit)
    return is_usable_unit(part, unit) or unit == COUNT or (known is not None and known.symbol in ("V", "mV"))


def allowed_units(part: str) -> str:
    """The units that a channel of this part may come in, for a sentence."""
    return ALLOWED_PH if part == PH else ALLOWED_TEMPERATURE


def unit_text(unit: str) -> str:
    """What a person is told of the unit that was sent.

    >>> unit_text("Cel"), unit_text(""), unit_text("foo"), unit_text("a" + chr(10))
    ('in Cel', 'without a unit', 'in foo', "in 'a\\\\n'")
    """
    if not unit.strip():
        return "without a unit"
    # A sender may put anything there, the end of a line too.
    return f"in {unit if unit.isprintable() else ascii(unit)}"
