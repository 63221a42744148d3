"""What a number probably is: its channel and unit, guessed from names and sizes, each with its reason.

Only for proposals that a person sees: while logging nothing is guessed.
"""

import re
from dataclasses import dataclass
from functools import lru_cache

from monitor.model import is_temperature, parse_unit, role, to_celsius

# Paste boils a little above 100 degC and a crock's wall is hotter; no probe of a cooker is beyond this, degC.
HOTTEST_C = 125.0
COLDEST_C = -30.0
# A room is no warmer than this, degC.
WARMEST_ROOM_C = 45.0
# Above this a number without a unit can be kelvins, because as degF it would be hotter than ``HOTTEST_C``.
LOWEST_K, HIGHEST_K = 263.0, 400.0
# A number without a unit that would be a usual temperature in degF too.
DOUBTFUL_FROM = 50.0


def _set(text: str) -> frozenset[str]:
    return frozenset(text.split())


_ROLE_WORDS = (
    ("paste", _set("paste soap pot batch cooker core mass food")),
    ("wall", _set("wall crock liner jacket surface outside vessel")),
    ("cold", _set("cold junction internal coldjunction cj")),
    ("room", _set("room ambient air indoor")),
)
_TEMPERATURE_WORDS = _set("temperature temp temps thermocouple thermometer celsius fahrenheit probe t tc")
_TEMPERATURE_SENSORS = _set("ds18b20 ds18s20 max6675 max31855 max31856 max31865 ntc pt100 pt1000")
_UNIT_WORDS = {"celsius": "degC", "degc": "degC", "fahrenheit": "degF", "degf": "degF", "kelvin": "K"}
# What is no temperature, though it is a number.
_OTHER_WORDS = _set(
    "battery batt voltage rssi linkquality lqi humidity hum uptime heap signal wifi snr pressure power energy current "
    "id index seq counter version brightness time timestamp ts epoch interval loadavg sleep illuminance lux altitude "
    "latitude longitude speed volume code error free port"
)
# What is a temperature, and of no probe of a cooker.
_NO_PROBE_WORDS = _set(
    "dew dewpoint setpoint target set limit alarm min max offset calibration cpu chip esp battery device board "
    "threshold"
)
# The last levels of topics that name nothing.
_NAMELESS_LEVELS = ("state", "status", "value", "get", "readings", "data", "raw", "current", "")
_NAMELESS_KEYS = _set("value val v reading state data")
_WORD = re.compile(r"[A-Z]+(?![a-z])|[A-Z]?[a-z]+|[0-9]+")


@dataclass(frozen=True, slots=True)
class Nature:
    """What a number seems to be.

    kind: "temperature", "ph" or "other". unit: for a source's URL, empty for "other". celsius: of a temperature.
    named: whether a name or a unit says so, not its size alone. why: the reason, as a part of a sentence.
    doubt: what to check, as a sentence, or empty.
    """

    kind: str
    unit: str
    celsius: float | None
    named: bool
    why: str
    doubt: str = ""


@lru_cache(maxsize=4096)
def words(name: str) -> tuple[str, ...]:
    """The words in a topic or a key, in lower case.

    >>> words("stat/kitchen_1/DS18B20-1.paintTempF")
    ('stat', 'kitchen', '1', 'ds18b20', '1', 'paint', 'temp', 'f')
    """
    found = []
    for part in re.split(r"[^A-Za-z0-9]+", name):
        if part.lower() in _TEMPERATURE_SENSORS:
            found.append(part.lower())
        else:
            found += [word.lower() for word in _WORD.findall(part)]
    return tuple(found)


def nature(place: str, path: str, unit: str, value: float) -> Nature:
    """What the number at this place and path seems to be. unit: the payload's own word for it, or empty."""
    own = words(path) if path and not path.isdecimal() else ()
    near = own or _last_words(place)
    known = parse_unit(unit)
    if (known is not None and known.symbol == "pH") or ("ph" in near and not unit and 0.0 <= value <= 14.0):
        return Nature("ph", "pH", None, True, "it is named pH")
    if "ph" in near and known is not None and known.symbol in ("V", "mV"):
        return Nature("ph", known.name, None, True, f"it is named pH and comes in {known.name}")
    excluded = (
        _NO_PROBE_WORDS if any(word in _TEMPERATURE_WORDS for word in near) else (*_OTHER_WORDS, *_NO_PROBE_WORDS)
    )
    other = next((word for word in reversed(near) if word in excluded), None)
    if other is not None or (unit and not is_temperature(unit)):
        return Nature("other", "", None, True, f"it is named {other}" if other else f"it comes in {unit}")
    if unit:
        return _temperature(unit, value, True, f"its unit is sent with it: {unit}")
    says_little = not own or set(own) <= _NAMELESS_KEYS
    telling = (*near, *words(place)) if says_little else own
    named = any(word in _TEMPERATURE_WORDS or word in _TEMPERATURE_SENSORS for word in telling)
    spelled = _spelled_unit(near)
    if spelled:
        return _temperature(spelled, value, True, f"its name says {spelled}")
    if not says_little and not named and not any(word in names for _, names in _ROLE_WORDS for word in own):
        return Nature("other", "", None, False, "neither its name nor a unit says that it is a temperature")
    return _sized(value, named)


def _last_words(place: str) -> tuple[str, ...]:
    """The words of the last level of a topic that names something."""
    return next((words(level) for level in reversed(place.split("/")) if level.lower() not in _NAMELESS_LEVELS), ())


def _spelled_unit(near: tuple[str, ...]) -> str:
    if near and near[-1] in ("c", "f") and (len(near) <= 2 or near[-2] in _TEMPERATURE_WORDS or near[-2].isdecimal()):
        return "degC" if near[-1] == "c" else "degF"
    return next((_UNIT_WORDS[word] for word in near if word in _UNIT_WORDS), "")


def _temperature(unit: str, value: float, named: bool, why: str, doubt: str = "") -> Nature:
    celsius = to_celsius(value, unit)
    if celsius is None or not COLDEST_C <= celsius <= HOTTEST_C:
        return Nature("other", "", None, named, f"{value:.5g} is the temperature of no cooker")
    known = parse_unit(unit)
    written = {"Cel": "degC"}.get(known.name, known.name) if known is not None else unit
    return Nature("temperature", written, celsius, named, why, doubt)


def _sized(value: float, named: bool) -> Nature:
    """A number without a unit, by its size."""
    if LOWEST_K <= value <= HIGHEST_K:
        return _temperature("K", value, named, "no unit is named; in °F it would be beyond any pot, so it is K")
    if value > HOTTEST_C:
        return _temperature("degF", value, named, "no unit is named; in °C it would be beyond any pot, so it is °F")
    doubt = ""
    if value >= DOUBTFUL_FROM:
        doubt = f"{value:.5g} would be {(value - 32.0) / 1.8:.0f} °C if it is °F: compare it with a thermometer."
    return _temperature("degC", value, named, "no unit is named; °C is taken", doubt)


def named_role(place: str, path: str, celsius: float | None) -> str:
    """The channel that a name says: the key's own words first, then the topic's from its end. Empty where none does."""
    own = words(path) if path and not path.isdecimal() else ()
    for group in (own, tuple(reversed(words(place)))):
        for word in group:
            for channel, names in _ROLE_WORDS:
                too_hot = channel in ("room", "cold") and celsius is not None and celsius > WARMEST_ROOM_C
                if word in names and not too_hot:
                    return channel
    return ""


def plain_name(place: str, path: str) -> str:
    """A channel's name made of where it comes from, for one that plays no part.

    >>> plain_name("home/boiler/temp", ""), plain_name("x", "DS18B20-2.Temperature"), plain_name("/dev/ttyUSB0", "3")
    ('temp', 'ds18b20-2', 'column3')
    """
    if path.isdecimal():
        return f"column{path}"
    parts = [part for part in re.split(r"[./]", path or place) if part]
    while len(parts) > 1 and set(words(parts[-1])) <= {*_TEMPERATURE_WORDS, "value"} and path:
        parts.pop()
    name = re.sub(r"[^a-z0-9_-]+", "-", parts[-1].lower() if parts else "").strip("-_")[:40]
    return role(name) if name else "probe"
