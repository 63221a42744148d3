"""Units as senders write them, and their meaning: the one table for sources, imported tables and alarms.

Readings are stored with the unit that was sent, and the unit is looked up whenever they are read. So a recording made
before a word was in this table is read correctly too.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
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
    """A unit, and its conversion into the unit in which values are used here.

    name: unique among the units. symbol: of the unit in which values are used, by the names of SenML (RFC 8428
    section 12.1; mV is a secondary unit of RFC 8798). zero, per: a value v in this unit is (v - zero) / per in
    ``symbol``.
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
    """The unit that a sender's word means; a unit of that name where the word is not known."""
    return parse_unit(word) or Unit(word, word)


_CELSIUS, _KELVIN, _FAHRENHEIT = Unit("Cel", "Cel"), Unit("K", "K"), Unit("degF", "Cel", 32.0, 1.8)
# In SenML C is the coulomb and F the farad; no cooker measures these.
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
# The unit of raw words of a converter chip, which are decoded by the name of the channel (firmware_notes).
COUNT = "count"
# Case is ignored, except here: MV would be megavolts.
_REFUSED = ("MV",)
# A sketch that prints ASCII alone writes *C.
_SIGNS = str.maketrans({"º": "°", "˚": "°", "*": "°", "℃": "°C", "℉": "°F"})
_IGNORED = re.compile(r"[\s._]+")

# The roles of channels, and for a sentence the units in which they may come.
TEMPERATURES = ("paste", "wall", "room", "cold", "sample")
PH = "ph"
ALLOWED_TEMPERATURE = "°C, °F, K (or degC, Cel, C, degF, F)"
ALLOWED_PH = "V, mV, pH"


# A cook comes in a few units, which are asked after at every look.
@lru_cache(maxsize=256)
def parse_unit(text: str) -> Unit | None:
    """The unit that a sender's word means, without regard to blanks and case; None for one that is not known.

    >>> parse_unit("Cel").symbol, parse_unit("°F").value(212.0), parse_unit("deg C").symbol, parse_unit("foo")
    ('Cel', 100.0, 'Cel', None)
    """
    if text in _REFUSED:
        return None
    return _WORDS.get(_IGNORED.sub("", text.translate(_SIGNS)).lower())


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


@lru_cache(maxsize=256)
def is_temperature(unit: str) -> bool:
    """Whether readings in this unit are temperatures."""
    return to_celsius(0.0, unit) is not None


@lru_cache(maxsize=256)
def is_usable_unit(role: str, unit: str) -> bool:
    """Whether readings in this unit serve a channel of this role; a channel without a role serves in any unit.

    >>> is_usable_unit("paste", "degF"), is_usable_unit("paste", "foo"), is_usable_unit("fan", "rpm")
    (True, False, True)
    """
    if role in TEMPERATURES:
        return is_temperature(unit)
    known = parse_unit(unit)
    return role != PH or (known is not None and known.symbol in ("V", "mV", "pH"))


def is_announceable_unit(role: str, unit: str) -> bool:
    """Whether a channel of this role may be announced in this unit: a usable one, or the raw signal of a sensor.

    The voltage of a thermocouple becomes a temperature as soon as its type is known, the raw word of a chip as soon as
    it is decoded.

    >>> is_announceable_unit("paste", "mV"), is_announceable_unit("paste", "pH")
    (True, False)
    """
    known = parse_unit(unit)
    return is_usable_unit(role, unit) or unit == COUNT or (known is not None and known.symbol in ("V", "mV"))


def allowed_units(role: str) -> str:
    """The units in which a channel of this role may come, for a sentence."""
    return ALLOWED_PH if role == PH else ALLOWED_TEMPERATURE


def unit_text(unit: str) -> str:
    """The unit that was sent, for a sentence.

    >>> unit_text("Cel"), unit_text(""), unit_text("foo"), unit_text("a" + chr(10))
    ('in Cel', 'without a unit', 'in foo', "in 'a\\\\n'")
    """
    if not unit.strip():
        return "without a unit"
    # A sender may put any characters there, line ends too.
    return f"in {unit if unit.isprintable() else ascii(unit)}"
