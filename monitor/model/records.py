"""Readings and events, the facts of a cook. Frozen, with units in the names.

Nothing here is an opinion: what a model makes of the facts is never stored.
"""

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from functools import lru_cache
from types import MappingProxyType
from typing import TypeAlias

from monitor.model.event_kinds import ANSWERS, LOGGER_EVENTS, PERSON_EVENTS, FieldRule, Number, OneOf, Text

FieldValue: TypeAlias = str | float

ABSOLUTE_ZERO_C = -273.15


@dataclass(frozen=True, slots=True)
class Reading:
    """One value of one channel, with both of its times: what a History is built from.

    A ``monitor.protocol.SenmlRecord`` is the same value as it was sent, before its times are settled.
    measured, known: when it was measured and when it became known here, Unix seconds.
    value: in ``unit``; None at a fault of the probe, which ``fault`` words.
    """

    channel: str
    unit: str
    measured: float
    known: float
    value: float | None
    fault: str | None = None


@dataclass(frozen=True, slots=True)
class Event:
    """Something a person did or saw, or the logger noticed.

    uid: unique within all recordings, so that a copy made twice is still one event.
    measured, known: Unix seconds when it happened and when it was logged.
    """

    uid: str
    kind: str
    measured: float
    known: float
    fields: Mapping[str, FieldValue] = field(default_factory=lambda: MappingProxyType({}))


_UID = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{7,63}\Z")


def check_uid(uid: str) -> str:
    """The id of an entry, as whoever sends it made it; a UUID will do (RFC 9562).

    Raises ValueError for anything but 8 to 64 letters, digits, hyphens and underscores, the first no hyphen.

    >>> check_uid("7f0c9a52-1f7e-4d57-9d5e-0c7c2f1d3a11")
    '7f0c9a52-1f7e-4d57-9d5e-0c7c2f1d3a11'
    """
    if not _UID.match(uid):
        raise ValueError(f"id is {uid[:80]!r}; it must be 8 to 64 letters, digits, hyphens or underscores")
    return uid


def make_event(
    uid: str,
    kind: str,
    measured: float,
    known: float,
    fields: Mapping[str, object] | None = None,
    *,
    by_logger: bool = False,
) -> Event:
    """An event whose kind and fields have been checked.

    measured, known: Unix seconds.
    Raises ValueError naming the argument, its value and what is allowed.

    >>> make_event("a", "checked", 0.0, 1.0, {"result": "hazy", "sample_g": 5}).fields["sample_g"]
    5.0
    >>> make_event("a", "stired", 0.0, 1.0)
    Traceback (most recent call last):
    ValueError: event is 'stired', which is not a known kind; the nearest is 'stirred'
    """
    kinds = LOGGER_EVENTS if by_logger else {**PERSON_EVENTS, **ANSWERS}
    if kind not in kinds:
        near = get_close_matches(str(kind), list(kinds), 1, 0.0)
        raise ValueError(f"event is {kind!r}, which is not a known kind; the nearest is {near[0]!r}")
    for name, moment in (("measured", measured), ("known", known)):
        if not (math.isfinite(moment) and 0 <= moment < 1e11):
            raise ValueError(f"{name} is {moment!r}; it must be Unix seconds from 0 to 1e11")
    required, optional = kinds[kind]
    given = dict(fields or {})
    for name in required:
        if name not in given:
            raise ValueError(f"event {kind!r} lacks its field {name!r}")
    checked: dict[str, FieldValue] = {}
    for name, value in given.items():
        rule = required.get(name) or optional.get(name)
        if rule is None:
            allowed = ", ".join([*required, *optional]) or "none"
            raise ValueError(f"event {kind!r} has no field {name!r}; allowed: {allowed}")
        checked[name] = _checked_field(kind, name, value, rule)
    return Event(uid, kind, float(measured), float(known), MappingProxyType(checked))


def storable(text: str) -> str:
    """The text as UTF-8 can hold it: halves of a surrogate pair joined, a lone one replaced by U+FFFD.

    >>> storable("a\\ud83d\\ude00b\\ud83d") == "a\U0001f600b\ufffd"
    True
    """
    return text if text.isascii() else text.encode("utf-16-le", "surrogatepass").decode("utf-16-le", "replace")


def _checked_field(kind: str, name: str, value: object, rule: FieldRule) -> FieldValue:
    if isinstance(rule, Number):
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
            raise ValueError(f"{name} of event {kind!r} is {value!r}; it must be a number")
        if not rule.low <= value <= rule.high:
            raise ValueError(f"{name} of event {kind!r} is {value!r}; it must be from {rule.low:g} to {rule.high:g}")
        return float(value)
    if not isinstance(value, str):
        raise ValueError(f"{name} of event {kind!r} is {value!r}; it must be text")
    value = storable(value)
    if isinstance(rule, OneOf) and value not in rule.words:
        raise ValueError(f"{name} of event {kind!r} is {value!r}; it must be one of {', '.join(rule.words)}")
    if isinstance(rule, Text) and len(value) > rule.longest:
        raise ValueError(f"{name} of event {kind!r} has {len(value)} characters; at most {rule.longest} are kept")
    return value


# A cook has a few names and asks after their roles at every look.
@lru_cache(maxsize=256)
def role(channel: str) -> str:
    """The plain name of a channel, whatever its case: its last part where a base name was put before it.

    >>> role("urn:dev:kitchen:paste"), role("rig/Wall"), role("paste (V)")
    ('paste', 'wall', 'paste')
    """
    # SenML's names hold no blanks: one that came in a second unit has it behind its name.
    return channel.partition(" (")[0].replace(":", "/").rsplit("/", 1)[-1].lower()
