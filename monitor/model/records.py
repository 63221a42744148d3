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


@dataclass(frozen=True, slots=True)
class Number:
    """A numeric event field and the closed range it must lie in."""

    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Text:
    """A free text field of at most ``longest`` characters."""

    longest: int = 2000


@dataclass(frozen=True, slots=True)
class OneOf:
    """A field that holds one of a few words."""

    words: tuple[str, ...]


FieldRule: TypeAlias = Number | Text | OneOf

GRAMS = Number(0.0, 100_000.0)

PERCENT = Number(0.01, 100.0)
JAR = Number(10.0, 5_000.0)
JAR_LOOKS = ("clear", "cloudy")

# What a sample in twice its weight of boiling water shows, from done to not nearly done.
CHECK_RESULTS = ("clear", "nearly clear", "hazy", "cloudy")
# How the paste looks on its way; recordings of before also have "opaque", which is thin or stiff.
PASTE_STAGES = ("thin", "stiff", "patchy", "translucent")

# How the bottled soap looks, feels and flows after its week of rest.
OUTCOME_LOOKS = ("clear", "hazy", "cloudy")
LATHERS = ("little", "some", "much")
THICKNESSES = ("like water", "like oil", "like honey", "a jelly")

# kind -> (required fields, optional fields)
PERSON_EVENTS: Mapping[str, tuple[Mapping[str, FieldRule], Mapping[str, FieldRule]]] = MappingProxyType(
    {
        "oils melted": ({}, {}),
        "lye cooled": ({}, {}),
        "lye in": ({}, {}),
        "thick trace": ({}, {}),
        "lid on": ({}, {}),
        "lid off": ({}, {}),
        "heat": ({"setting": Text(60)}, {}),
        "stirred": ({}, {}),
        "checked": (
            {"result": OneOf(CHECK_RESULTS)},
            {"sample_g": GRAMS, "water_g": GRAMS},
        ),
        # How the paste looks: a weak observation between two checks.
        "looked": ({"paste": OneOf((*PASTE_STAGES, "opaque"))}, {}),
        "ph read": (
            {"ph": Number(-2.0, 16.0)},
            {"sample_percent": Number(0.0, 100.0), "temperature_c": Number(-10.0, 110.0)},
        ),
        "water added": ({"grams": GRAMS}, {}),
        "neutraliser added": ({"reagent": Text(60), "grams": GRAMS}, {}),
        "added": ({"what": Text(60), "grams": GRAMS}, {}),
        # What was entered on the bench pages, so that every phone and the printed record have it.
        "weighed": ({"what": Text(60), "grams": GRAMS}, {}),
        "paste weighed": ({"grams": GRAMS}, {}),
        "boiled off": ({"grams": GRAMS}, {}),
        # acid_mol_l: mol of H+ per litre, of which sulfuric acid gives two.
        "titrated": (
            {"acid_ml": Number(0.0, 100.0), "acid_mol_l": Number(0.001, 2.0), "sample_g": Number(0.1, 200.0)},
            {},
        ),
        # A jar of product that stock solution is dosed into: portions so far, and what was seen after the last of them.
        # reagent: a neutraliser; thickener: salt or borax. look: of the jar.
        "jar neutralised": (
            {"jar_g": JAR, "reagent": Text(60), "stock_g": Number(0.0, 500.0), "ph": Number(-2.0, 16.0)},
            {"stock_percent": PERCENT, "look": OneOf(JAR_LOOKS)},
        ),
        "jar thickened": (
            {"jar_g": JAR, "thickener": Text(60), "stock_g": Number(0.0, 500.0), "run_out_s": Number(0.1, 36_000.0)},
            {"stock_percent": PERCENT, "look": OneOf(JAR_LOOKS)},
        ),
        # For this cook: what a check costs (minutes of labour), what a minute past clear costs, and the stir interval.
        "costs set": (
            {},
            {
                "check_min": Number(0.0, 240.0),
                "overcook_per_min": Number(0.0, 10.0),
                "stir_every_min": Number(5.0, 240.0),
            },
        ),
        "bottled": ({"bottles": Number(0.0, 10_000.0), "bottle_ml": Number(5.0, 20_000.0)}, {"grams": GRAMS}),
        # cloudy_below_c: the soap's own temperature below which it turns cloudy.
        "outcome": (
            {"look": OneOf(OUTCOME_LOOKS)},
            {
                "lather": OneOf(LATHERS),
                "thickness": OneOf(THICKNESSES),
                "cloudy_below_c": Number(-20.0, 60.0),
                "complaints": Text(),
                "note": Text(),
            },
        ),
        # What a qualified person's assessment says of a batch's keeping. months: from filling on.
        "keeping": (
            {},
            {"preservative": Text(120), "months": Number(0.0, 120.0), "assessed_by": Text(120)},
        ),
        "heat off": ({}, {}),
        "finished": ({}, {}),
        # photo: the name of a photograph's file, which stays where it is.
        "note": ({"text": Text()}, {"photo": Text(200)}),
    }
)

# What a person answers to what the monitor says: to a condition, or to something noticed, by its name.
ANSWERS: Mapping[str, tuple[Mapping[str, FieldRule], Mapping[str, FieldRule]]] = MappingProxyType(
    {
        "acknowledged": ({"condition": Text(60)}, {}),
        "shelved": ({"condition": Text(60), "minutes": Number(1.0, 1440.0)}, {}),
        # at: when it seemed to have happened, Unix seconds.
        "dropped": ({"noticed": Text(60), "at": Number(0.0, 1e11)}, {}),
    }
)

# Events of the logger itself; a person cannot log these.
LOGGER_EVENTS: Mapping[str, tuple[Mapping[str, FieldRule], Mapping[str, FieldRule]]] = MappingProxyType(
    {
        "resumed": ({}, {}),
        "bad line": ({"reason": Text(200), "bytes": Text(400)}, {"count": Number(1, 1e12)}),
        "packs lost": ({"count": Number(1, 1e12)}, {}),
        # ahead_s: of this machine, negative when behind, 0 when it is right (again); own_ahead_s: by how much this
        # machine's clock was set ahead since the cook began. count: packs whose time was not believed since the last.
        "rig clock": (
            {"ahead_s": Number(-1e11, 1e11), "own_ahead_s": Number(-1e11, 1e11)},
            {"count": Number(1, 1e12), "counts": Text(60)},
        ),
        "source lost": ({"reason": Text(400)}, {}),
        "source back": ({}, {}),
    }
)


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
