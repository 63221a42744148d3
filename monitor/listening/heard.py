"""What is heard: one message or line, what kind of payload it is, and the quantities in it."""

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum

from monitor.model import is_temperature
from monitor.protocol import PackError, is_path, pack_of, parse_json, parse_labels, parse_row, parse_value, value_at

LONGEST_PAYLOAD = 65536
# Of one object; a person's sensor has a handful.
MOST_QUANTITIES = 32
DEEPEST = 6
LONGEST_ROW = 1000


@dataclass(frozen=True, slots=True)
class Heard:
    """One message or line. place: the topic of a broker, or the path of a serial port. arrived: Unix seconds.

    retained: it is the broker's copy of an earlier message, which may be of any day.
    """

    place: str
    payload: bytes
    arrived: float
    retained: bool = False


class PayloadKind(Enum):
    """What a payload is. The value is what a sentence calls it."""

    PACK = "a pack of readings"
    VALUE = "a plain value"
    OBJECT = "a JSON object"
    COLUMNS = "separated values"
    LABELS = "values with labels"
    TEXT = "text"
    BINARY = "bytes that are no text"
    EMPTY = "nothing"

    @property
    def is_readable(self) -> bool:
        """Whether a source can read it."""
        return self not in (PayloadKind.TEXT, PayloadKind.BINARY, PayloadKind.EMPTY)


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number in a payload.

    path: the keys to it with dots between, the number of its column from 1, its channel in a pack, or empty for a plain
    value. unit: the word that the payload itself has for it, or empty. value: None where it says that there is none.
    """

    path: str
    value: float | None
    unit: str


@dataclass(frozen=True, slots=True)
class Payload:
    """A payload as it was understood. width: how many columns."""

    kind: PayloadKind
    quantities: tuple[Quantity, ...] = ()
    width: int = 0


def understood(payload: bytes) -> Payload:
    """What this payload is; never an error.

    >>> understood(b"93.5 C").quantities, understood(b"94.25,21").kind
    ((Quantity(path='', value=93.5, unit='C'),), <PayloadKind.COLUMNS: 'separated values'>)
    """
    if not payload.strip():
        return Payload(PayloadKind.EMPTY)
    if len(payload) > LONGEST_PAYLOAD:
        return Payload(PayloadKind.BINARY)
    try:
        text = payload.decode().strip()
    except UnicodeDecodeError:
        return Payload(PayloadKind.BINARY)
    if any(not character.isprintable() and not character.isspace() for character in text[:200]):
        return Payload(PayloadKind.BINARY)
    if text.startswith(("{", "[{")):
        return _understood_json(text)
    value = parse_value(text)
    if value is not None and (value.value is not None or text.lower() in ("nan", "unavailable", "unknown")):
        return Payload(PayloadKind.VALUE, (Quantity("", value.value, value.unit),))
    labels = [(label, parse_value(text)) for label, text in parse_labels(text).items() if is_path(label)]
    if labels:
        quantities = [Quantity(label, value.value, value.unit) for label, value in labels if value is not None]
        return Payload(PayloadKind.LABELS, tuple(quantities))
    return _understood_row(text)


def _understood_row(text: str) -> Payload:
    values = parse_row(text) if len(text) <= LONGEST_ROW else ()
    if len(values) < 2 or None in values or all(value is None or value.value is None for value in values):
        return Payload(PayloadKind.TEXT)
    quantities = [Quantity(str(number), value.value, "") for number, value in enumerate(values, 1) if value is not None]
    return Payload(PayloadKind.COLUMNS, tuple(quantities[:MOST_QUANTITIES]), len(values))


def _understood_json(text: str) -> Payload:
    # A line of a cable may carry the sum of a CRC behind the pack.
    text = re.sub(r"\*[0-9A-F]{4}\Z", "", text)
    try:
        value = parse_json(text)
    except PackError:
        return Payload(PayloadKind.TEXT)
    if isinstance(value, dict):
        quantities: list[Quantity] = []
        for quantity, number in _numbers(value, ""):
            # Keys that hold dots of their own, or nothing, can make a path lead elsewhere.
            if leads_to(value, quantity.path, number):
                quantities.append(quantity)
            if len(quantities) >= MOST_QUANTITIES:
                break
        return Payload(PayloadKind.OBJECT, tuple(quantities))
    try:
        pack = pack_of(value, 0.0)
    except PackError:
        return Payload(PayloadKind.TEXT)
    records = pack.records[:MOST_QUANTITIES]
    return Payload(PayloadKind.PACK, tuple(Quantity(one.channel, one.value, one.unit) for one in records))


def leads_to(whole: object, path: str, leaf: object) -> bool:
    """Whether a source that is told this path reads this very value."""
    try:
        return is_path(path) and value_at(whole, path) is leaf
    except KeyError:
        return False


def _numbers(value: object, path: str, depth: int = 0, unit: str = "") -> Iterator[tuple[Quantity, object]]:
    if isinstance(value, dict) and depth < DEEPEST:
        near = unit_beside(value) or unit
        for key, inner in value.items():
            yield from _numbers(inner, f"{path}.{key}" if path else str(key), depth + 1, near)
    elif isinstance(value, list) and depth < DEEPEST:
        for place, inner in enumerate(value[:8]):
            yield from _numbers(inner, f"{path}.{place}", depth + 1, unit)
    elif isinstance(value, int | float | str) and not isinstance(value, bool):
        found = parse_value(value if isinstance(value, str) else _number_text(value))
        if found is not None and found.value is not None:
            yield Quantity(path, found.value, found.unit or unit), value


def _number_text(value: float) -> str:
    try:
        return repr(float(value)) if math.isfinite(value) else "nan"
    except OverflowError:
        return "nan"


def unit_beside(fields: dict[str, object]) -> str:
    """The unit of temperature that a field of an object tells for those beside and beneath it, or empty.

    >>> unit_beside({"TempUnit": "F", "DS18B20": {"Temperature": 200.3}})
    'F'
    """
    for key, value in fields.items():
        if "unit" in str(key).lower() and isinstance(value, str) and is_temperature(value):
            return value
    return ""
