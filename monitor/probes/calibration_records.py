"""Calibrations as facts: what was dipped into what and what it read, dated, and never what was made of it.

A fact is kept as one JSON object. It holds for one channel of one rig, from the moment it became known until a later
one of its kind takes its place or it is taken back.
"""

import json
import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields
from types import MappingProxyType
from typing import Any, ClassVar, TypeAlias, TypeVar

from monitor.probes.converters import CONVERTERS
from monitor.probes.ph_calibration import BufferPoint, ph_map
from monitor.probes.thermocouple import LETTERS
from monitor.probes.two_point_correction import BathPoint, field_correction


@dataclass(frozen=True, slots=True)
class PhCalibration:
    """A pH probe dipped in buffers. known: Unix seconds. probe: which one, in its owner's words."""

    kind: ClassVar[str] = "ph"
    uid: str
    rig: str
    channel: str
    known: float
    points: tuple[BufferPoint, ...]
    probe: str = ""


@dataclass(frozen=True, slots=True)
class FieldCheck:
    """A thermocouple dipped in ice water, boiling water, or both. known: Unix seconds."""

    kind: ClassVar[str] = "field check"
    uid: str
    rig: str
    channel: str
    known: float
    points: tuple[BathPoint, ...]


@dataclass(frozen=True, slots=True)
class SensorConfig:
    """Which thermocouple hangs on a channel. known: Unix seconds.

    letter: K, J or T. tolerance_class: 1 or 2 of IEC 60584-1. converter: its chip, or "" where the sketch sends emf.
    linearise: whether a MAX31855's straight line is to be mended. An earlier field check ends with a new fitting.
    """

    kind: ClassVar[str] = "fitting"
    uid: str
    rig: str
    channel: str
    known: float
    letter: str
    tolerance_class: int = 2
    converter: str = ""
    linearise: bool = False


@dataclass(frozen=True, slots=True)
class Retraction:
    """A fact that was wrong: ``of`` no longer holds from ``known`` (Unix seconds) on."""

    kind: ClassVar[str] = "taken back"
    uid: str
    of: str
    known: float


CalibrationRecord: TypeAlias = PhCalibration | FieldCheck | SensorConfig
One = TypeVar("One", PhCalibration, FieldCheck, SensorConfig)

_KINDS: Mapping[str, type[CalibrationRecord] | type[Retraction]] = MappingProxyType(
    {kind.kind: kind for kind in (PhCalibration, FieldCheck, SensorConfig, Retraction)}
)
_POINTS: Mapping[str, type[BufferPoint] | type[BathPoint]] = MappingProxyType(
    {PhCalibration.kind: BufferPoint, FieldCheck.kind: BathPoint}
)


@dataclass(frozen=True)
class CalibrationRecords:
    """Every calibration ever made, in the order in which they became known, and when some were taken back."""

    all: tuple[CalibrationRecord, ...] = ()
    taken_back: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))

    def only(self, *kinds: type[CalibrationRecord]) -> "CalibrationRecords":
        """The facts of these kinds alone."""
        return CalibrationRecords(tuple(fact for fact in self.all if isinstance(fact, kinds)), self.taken_back)

    def standing(self, as_of: float) -> tuple[str, ...]:
        """The uids of the facts that stood at ``as_of`` (Unix seconds)."""
        return tuple(fact.uid for fact in self.all if self._stands(fact, as_of))

    def _stands(self, fact: CalibrationRecord, as_of: float) -> bool:
        gone = fact.uid in self.taken_back and self.taken_back[fact.uid] <= as_of
        return fact.known <= as_of and not gone

    def history(self, kind: type[One], rig: str, channel: str, as_of: float = math.inf) -> list[One]:
        """The facts of this kind and channel that stood at ``as_of`` (Unix seconds), oldest first."""
        return [
            fact
            for fact in self.all
            if isinstance(fact, kind)
            and (fact.rig, fact.channel.lower()) == (rig, channel.lower())
            and self._stands(fact, as_of)
        ]

    def latest(self, kind: type[One], rig: str, channel: str, as_of: float = math.inf) -> One | None:
        """The fact of this kind that holds for a channel at ``as_of`` (Unix seconds), or None."""
        found = self.history(kind, rig, channel, as_of)
        return found[-1] if found else None

    def field_check(self, rig: str, channel: str, as_of: float = math.inf) -> FieldCheck | None:
        """The field check that holds: made since the latest fitting of the channel."""
        check = self.latest(FieldCheck, rig, channel, as_of)
        fitting = self.latest(SensorConfig, rig, channel, as_of)
        return None if check is None or (fitting is not None and fitting.known > check.known) else check


def records_from(entries: list[CalibrationRecord | Retraction]) -> CalibrationRecords:
    """Facts in order, from entries in any order; one that came twice counts once."""
    made = {entry.uid: entry for entry in entries if not isinstance(entry, Retraction)}
    back: dict[str, float] = {}
    for entry in entries:
        if isinstance(entry, Retraction):
            back[entry.of] = min(entry.known, back.get(entry.of, math.inf))
    return CalibrationRecords(tuple(sorted(made.values(), key=lambda fact: fact.known)), MappingProxyType(back))


def checked(fact: CalibrationRecord) -> CalibrationRecord:
    """The fact, when what was read makes sense.

    Raises ValueError with one sentence that says what was seen and what to try.
    """
    if isinstance(fact, PhCalibration):
        ph_map(fact.points)
    elif isinstance(fact, FieldCheck):
        field_correction(fact.points)
    elif fact.letter not in LETTERS or fact.tolerance_class not in (1, 2):
        raise ValueError(
            f"letter and class are {fact.letter!r} and {fact.tolerance_class!r}; they must be one of "
            f"{', '.join(LETTERS)}, and 1 or 2"
        )
    elif fact.converter not in ("", *CONVERTERS):
        raise ValueError(f"converter is {fact.converter!r}; it must be one of {', '.join(CONVERTERS)}, or empty")
    elif fact.linearise and fact.converter != "MAX31855":
        raise ValueError(f"linearise is for the MAX31855 alone, and converter is {fact.converter!r}")
    return fact


def to_json(entry: CalibrationRecord | Retraction) -> str:
    """One line of JSON.

    >>> to_json(Retraction("b", "a", 5.0))
    '{"kind":"taken back","uid":"b","of":"a","known":5.0}'
    """
    return json.dumps({"kind": entry.kind, **asdict(entry)}, separators=(",", ":"), allow_nan=False)


def from_json(text: str) -> CalibrationRecord | Retraction:
    """The fact in one line of JSON. Raises ValueError and nothing else when it is none."""
    try:
        given = json.loads(text)
        kind = _KINDS[given.pop("kind")]
        if kind.kind in _POINTS:
            given["points"] = tuple(
                _made(_POINTS[kind.kind], point) for point in given["points"] if isinstance(point, dict)
            )
        entry: CalibrationRecord | Retraction = _made(kind, given)
    except (KeyError, TypeError, AttributeError, OverflowError, RecursionError) as error:
        raise ValueError(f"calibration is {text[:60]!r}, which is not one: {error}") from None
    return entry if isinstance(entry, Retraction) else checked(entry)


_TYPES: Mapping[str, tuple[type, ...]] = MappingProxyType(
    {
        "str": (str,),
        "bool": (bool,),
        "int": (int,),
        "float": (float, int),
        "float | None": (float, int, type(None)),
    }
)


def _made(kind: type[Any], given: Mapping[str, object]) -> Any:
    """A dataclass from JSON, its plain fields of the right type and finite."""
    for wanted in fields(kind):
        allowed = _TYPES.get(getattr(wanted.type, "__name__", str(wanted.type)))
        if allowed is None or wanted.name not in given:
            continue
        value = given[wanted.name]
        if not isinstance(value, allowed) or (isinstance(value, bool) and bool not in allowed):
            raise TypeError(f"{wanted.name} is of the wrong type")
        if isinstance(value, int | float) and not math.isfinite(value):
            raise TypeError(f"{wanted.name} is beyond any number")
    return kind(**given)
