"""Payloads that are no packs, as other people's sensors send them, and what a person announces them to be.

A layout turns the text of one line or message into a pack. What it cannot read it refuses in one clause, with what was
seen and what would do. A word in the place of a number is a fault of the probe: data, never a made-up number.
"""

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol

from monitor.model import allowed_units, is_announceable_unit, parse_unit, role
from monitor.protocol.senml import CHANNEL_NAME, Pack, PackError, SenmlRecord, parse_json

_NUMBER = r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d{1,3})?"
# A unit begins like a word, so that a date, a time of day or a second number is none.
_VALUE = re.compile(rf"({_NUMBER})(?:\s*([°º˚*℃℉%µA-Za-z][^\s,;]{{0,20}}(?: [A-Za-z]{{1,20}})?))?\Z")
# What senders say in place of a number that they do not have.
_NO_VALUE = re.compile(
    r"[-+]?nan|[-+]?inf(?:inity)?|null|none|unknown|unavailable|offline|error|fault|open|n/?a|-+", re.IGNORECASE
)
# A label, a number, and a unit only where it is one that is known, so that the next label is none.
_LABELLED = re.compile(
    rf"([A-Za-z_][\w .()/#-]{{0,39}}?)(\s*[:=]\s*)({_NUMBER}|nan)"
    r"(?:\s*((?:[°º˚*]\s?|deg ?)?(?:Celsius|Cel|C|Fahrenheit|F|K|mV|V|pH)))?(?=[\s,;|]|\Z)",
    re.IGNORECASE,
)
MOST_FIELDS = 32
LONGEST_LABELLED = 1000
SHOWN = 40


class PayloadLayout(Protocol):
    """What the payloads of a source hold, as a person has announced it."""

    def pack(self, text: str, arrived: float) -> Pack:
        """The pack in one payload. arrived: Unix seconds. Raises PackError and nothing else."""
        ...


@dataclass(frozen=True, slots=True)
class PlainValue:
    """One value a payload: ``93.5``, or ``93.5 C`` with its unit, which then counts if it is one that is known."""

    channel: str
    unit: str

    def pack(self, text: str, arrived: float) -> Pack:
        """See PayloadLayout."""
        found = parse_value(text)
        if found is None:
            raise PackError(f"it is {shown(text)} and not a value such as 93.5 or 93.5 C{advice(text)}")
        return _pack([_record(self.channel, self.unit, found)], arrived)


@dataclass(frozen=True, slots=True)
class NamedField:
    """One number in a JSON object or in a text with labels.

    path: its keys with dots between, from the outermost to its own; or its label.
    """

    path: str
    channel: str
    unit: str


@dataclass(frozen=True, slots=True)
class NamedFields:
    """JSON objects, or texts with labels (``T1: 93.5 C, T2: 21``), of which some fields are read.

    One that has none of them is refused.
    """

    fields: tuple[NamedField, ...]

    def pack(self, text: str, arrived: float) -> Pack:
        """See PayloadLayout."""
        whole = _fields_of(text)
        records = []
        for field in self.fields:
            try:
                records.append(_record(field.channel, field.unit, _json_value(value_at(whole, field.path), field.path)))
            except KeyError:
                continue
        if not records:
            wanted = " or ".join(repr(field.path[:SHOWN]) for field in self.fields[:3])
            raise PackError(f"it has no field {wanted}{_held(whole)}")
        return _pack(records, arrived)


def _fields_of(text: str) -> dict[str, object]:
    """The fields of a JSON object or of a text with labels. Raises PackError."""
    labelled = parse_labels(text)
    if labelled:
        return dict(labelled)
    try:
        whole = parse_json(text)
    except PackError as error:
        raise PackError(f"{error.why} and holds no values with labels: it is {shown(text)}") from None
    if not isinstance(whole, dict):
        raise PackError(f"it is {shown(text)} and neither a JSON object nor values with labels{advice(text)}")
    return whole


def parse_labels(text: str) -> dict[str, str]:
    """The values in a text with labels, by label, each with the unit behind it; empty where it has none.

    >>> parse_labels("Temp: 93.50 *C  hum=40"), parse_labels("hello 93.5"), parse_labels('{"t": 1}')
    ({'Temp': '93.50 *C', 'hum': '40'}, {}, {})
    """
    if text.lstrip().startswith(("{", "[{")):
        return {}
    found = [
        (label.strip(), f"{value} {unit}".strip())
        for label, between, value, unit in _LABELLED.findall(text[:LONGEST_LABELLED])
        # Else a time of day behind a word would be one: "at 10:20".
        if not (between == ":" and label[-1].isdecimal() and label.split()[-1].isdecimal() and value.isdecimal())
    ]
    return dict(found[:MOST_FIELDS])


@dataclass(frozen=True, slots=True)
class ParsedValue:
    """A value as it was sent. value: None at a fault, which ``fault`` words. unit: empty where none was sent."""

    value: float | None
    fault: str | None
    unit: str


def parse_value(text: str) -> ParsedValue | None:
    """The value in a short text, with the unit behind it; None where it is neither a value nor says that there is none.

    >>> parse_value("93.5 °C"), parse_value("nan"), parse_value("2026-03-14")
    (ParsedValue(value=93.5, fault=None, unit='°C'), ParsedValue(value=None, fault='sent nan', unit=''), None)
    """
    word = text.strip()
    if len(word) >= 2 and word[0] == word[-1] == '"':
        word = word[1:-1].strip()
    if not word or _NO_VALUE.fullmatch(word):
        return ParsedValue(None, f"sent {word.lower() or 'nothing'}", "")
    found = _VALUE.match(word)
    if found is None:
        return None
    value = float(found[1])
    unit = (found[2] or "").strip()
    # A number can be beyond any, such as 1e999.
    return ParsedValue(value, None, unit) if math.isfinite(value) else ParsedValue(None, f"sent {word[:20]}", unit)


def value_at(whole: object, path: str) -> object:
    """What stands in decoded JSON at this path; a key may hold dots of its own. Raises KeyError.

    >>> value_at({"a": {"b.c": [7, 8]}}, "a.b.c.1")
    8
    """
    if not path:
        return whole
    if isinstance(whole, list):
        head, _, rest = path.partition(".")
        if head.isdecimal() and len(head) < 6 and int(head) < len(whole):
            return value_at(whole[int(head)], rest)
    elif isinstance(whole, dict):
        if path in whole:
            return whole[path]
        keys = path.split(".")
        for count in range(1, len(keys)):
            head = ".".join(keys[:count])
            if head in whole:
                try:
                    return value_at(whole[head], ".".join(keys[count:]))
                except KeyError:
                    continue
    raise KeyError(path)


def is_path(path: str) -> bool:
    """Whether a field can be named so: printable, with at most 200 characters and 16 dots."""
    return bool(path) and path.isprintable() and len(path) <= 200 and path.count(".") <= 16


def shown(text: str) -> str:
    """The beginning of a payload, for a sentence."""
    word = text.strip()
    return repr(word if len(word) <= SHOWN else f"{word[:SHOWN]}…")


def parse_plain_value(text: str) -> PlainValue:
    """What ``channel=`` says: NAME:UNIT, or NAME where each payload brings its unit. Raises ValueError.

    >>> parse_plain_value("paste:degF"), parse_plain_value("paste").unit
    (PlainValue(channel='paste', unit='degF'), '')
    """
    channel, _, unit = text.strip().partition(":")
    _check("channel", text, channel, unit, "paste:Cel", may_lack_unit=True)
    return PlainValue(channel, unit)


def parse_named_fields(texts: Iterable[str]) -> NamedFields:
    """What ``field=`` says, once for each field: PATH:NAME:UNIT. Raises ValueError.

    >>> parse_named_fields(["ds18b20.Temperature:wall:Cel"]).fields[0].path
    'ds18b20.Temperature'
    """
    fields = []
    for text in texts:
        path, channel, unit = ["", "", *text.rsplit(":", 2)][-3:]
        if not is_path(path):
            raise ValueError(f"field is {text!r}; it must be PATH:NAME:UNIT, such as temperature:paste:Cel")
        _check("field", text, channel, unit, "temperature:paste:Cel")
        fields.append(NamedField(path, channel, unit))
    if len(fields) > MOST_FIELDS:
        raise ValueError(f"field is given {len(fields)} times; at most {MOST_FIELDS} are read")
    check_distinct("field", [field.channel for field in fields])
    return NamedFields(tuple(fields))


def check_distinct(option: str, channels: Sequence[str]) -> None:
    """Raises ValueError where two channels have one name."""
    lowered = [channel.lower() for channel in channels]
    twice = next((channel for channel in lowered if lowered.count(channel) > 1), None)
    if twice is not None:
        raise ValueError(f"{option} names the channel {twice!r} twice")


def _check(option: str, text: str, channel: str, unit: str, example: str, *, may_lack_unit: bool = False) -> None:
    if not CHANNEL_NAME.match(channel) or len(channel) > 200 or len(unit) > 40 or not (unit or may_lack_unit):
        raise ValueError(f"{option} is {text!r}; it must be such as {example}")
    if unit and not is_announceable_unit(role(channel), unit):
        raise ValueError(f"{option} is {text!r}; {role(channel)} comes in {allowed_units(role(channel))}")


def advice(text: str) -> str:
    """What would read this payload, as the end of a sentence; empty where it is nothing that is known."""
    if text.lstrip().startswith("{"):
        return "; say which of its fields to read, such as field=temperature:paste:Cel"
    labels = parse_labels(text)
    if labels:
        return f"; say which of its values to read, such as field={next(iter(labels))}:paste:Cel"
    found = parse_value(text)
    if found is not None and found.value is not None:
        return "; a plain value is read by such as channel=paste:Cel"
    parts = re.split(r"[,;\t ]+", text.strip())
    if len(parts) > 1 and all(re.fullmatch(_NUMBER, part) for part in parts):
        return "; several numbers are read by such as columns=paste:Cel,room:Cel"
    return ""


def _held(value: object) -> str:
    """The keys of an object, as the end of a sentence; empty for a list."""
    if not isinstance(value, dict):
        return ""
    return f"; it holds {', '.join(str(key)[:SHOWN] for key in list(value)[:6]) or 'nothing'}"


def _json_value(value: object, path: str) -> ParsedValue:
    if value is None:
        return ParsedValue(None, "sent null", "")
    if isinstance(value, dict | list):
        inner = (
            f"; it holds {', '.join(str(key)[:SHOWN] for key in list(value)[:6])}" if isinstance(value, dict) else ""
        )
        raise PackError(f"its field {path!r} is no number{inner}")
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise PackError(f"its field {path!r} is {str(value).lower()} and no number")
    found = parse_value(value if isinstance(value, str) else repr(value))
    if found is None:
        raise PackError(f"its field {path!r} is {shown(str(value))} and no number")
    return found


def _record(channel: str, unit: str, found: ParsedValue) -> SenmlRecord:
    sent_unit = found.unit if found.unit and (parse_unit(found.unit) is not None or not unit) else unit
    return SenmlRecord(channel, sent_unit, found.value, found.fault, None)


def _pack(records: Sequence[SenmlRecord], arrived: float) -> Pack:
    return Pack(tuple(records), arrived, None, None)
