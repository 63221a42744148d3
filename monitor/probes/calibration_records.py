"""Calibration records: what was measured in which bath or buffer, dated. What follows from them is never stored.

A record is stored as one JSON object. It holds for one channel of one rig from the moment it became known until a later
record of its kind replaces it or it is retracted.
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
    """A pH calibration in buffers. known: Unix seconds. probe: the electrode's name, as its owner calls it."""

    kind: ClassVar[str] = "ph"
    uid: str
    rig: str
    channel: str
    known: float
    points: tuple[BufferPoint, ...]
    probe: str = ""


@dataclass(frozen=True, slots=True)
class FieldCheck:
    """A thermocouple's readings in ice water, boiling water, or both. known: Unix seconds."""

    kind: ClassVar[str] = "field check"
    uid: str
    rig: str
    channel: str
    known: float
    points: tuple[BathPoint, ...]


@dataclass(frozen=True, slots=True)
class SensorConfig:
    """The thermocouple on a channel. known: Unix seconds.

    letter: type K, J or T. tolerance_class: 1 or 2 of IEC 60584-1. converter: its chip, or "" where the sketch sends
    emf. linearise: whether a MAX31855's linear conversion is to be corrected. An earlier field check ends with a new
    one.
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
    """A wrong record withdrawn: the record ``of`` no longer holds from ``known`` (Unix seconds) on."""

    kind: ClassVar[str] = "taken back"
    uid: str
    of: str
    known: float


CalibrationRecord: TypeAlias = PhCalibration | FieldCheck | SensorConfig
RecordT = TypeVar("RecordT", PhCalibration, FieldCheck, SensorConfig)

_KINDS: Mapping[str, type[CalibrationRecord] | type[Retraction]] = MappingProxyType(
    {kind.kind: kind for kind in (PhCalibration, FieldCheck, SensorConfig, Retraction)}
)
_POINTS: Mapping[str, type[BufferPoint] | type[BathPoint]] = MappingProxyType(
    {PhCalibration.kind: BufferPoint, FieldCheck.kind: BathPoint}
)


@dataclass(frozen=True)
class CalibrationRecords:
    """Every calibration record by the time it became known, and the times of retractions (Unix seconds) by uid."""

    all: tuple[CalibrationRecord, ...] = ()
    retracted: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))

    def of_kinds(self, *kinds: type[CalibrationRecord]) -> "CalibrationRecords":
        """Only the records of these kinds."""
        return CalibrationRecords(tuple(record for record in self.all if isinstance(record, kinds)), self.retracted)

    def active(self, as_of: float) -> tuple[str, ...]:
        """The uids of the records that were valid at ``as_of`` (Unix seconds)."""
        return tuple(record.uid for record in self.all if self._is_active(record, as_of))

    def _is_active(self, record: CalibrationRecord, as_of: float) -> bool:
        is_retracted = record.uid in self.retracted and self.retracted[record.uid] <= as_of
        return record.known <= as_of and not is_retracted

    def history(self, kind: type[RecordT], rig: str, channel: str, as_of: float = math.inf) -> list[RecordT]:
        """The records of this kind and channel that were valid at ``as_of`` (Unix seconds), oldest first."""
        return [
            record
            for record in self.all
            if isinstance(record, kind)
            and (record.rig, record.channel.lower()) == (rig, channel.lower())
            and self._is_active(record, as_of)
        ]

    def latest(self, kind: type[RecordT], rig: str, channel: str, as_of: float = math.inf) -> RecordT | None:
        """The record of this kind in force for a channel at ``as_of`` (Unix seconds), or None."""
        matching = self.history(kind, rig, channel, as_of)
        return matching[-1] if matching else None

    def field_check(self, rig: str, channel: str, as_of: float = math.inf) -> FieldCheck | None:
        """The field check in force: the latest one made since the channel's latest sensor configuration, or None."""
        check = self.latest(FieldCheck, rig, channel, as_of)
        fitting = self.latest(SensorConfig, rig, channel, as_of)
        return None if check is None or (fitting is not None and fitting.known > check.known) else check


def records_from(entries: list[CalibrationRecord | Retraction]) -> CalibrationRecords:
    """Records in order of time, from entries in any order; duplicates count once."""
    by_uid = {entry.uid: entry for entry in entries if not isinstance(entry, Retraction)}
    retracted_at: dict[str, float] = {}
    for entry in entries:
        if isinstance(entry, Retraction):
            retracted_at[entry.of] = min(entry.known, retracted_at.get(entry.of, math.inf))
    return CalibrationRecords(
        tuple(sorted(by_uid.values(), key=lambda record: record.known)), MappingProxyType(retracted_at)
    )


def validated(record: CalibrationRecord) -> CalibrationRecord:
    """The record unchanged, when its values are plausible.

    Raises ValueError with one sentence that says what was seen and what to try.
    """
    if isinstance(record, PhCalibration):
        ph_map(record.points)
    elif isinstance(record, FieldCheck):
        field_correction(record.points)
    elif record.letter not in LETTERS or record.tolerance_class not in (1, 2):
        raise ValueError(
            f"letter and class are {record.letter!r} and {record.tolerance_class!r}; they must be one of "
            f"{', '.join(LETTERS)}, and 1 or 2"
        )
    elif record.converter not in ("", *CONVERTERS):
        raise ValueError(f"converter is {record.converter!r}; it must be one of {', '.join(CONVERTERS)}, or empty")
    elif record.linearise and record.converter != "MAX31855":
        raise ValueError(f"linearise is for the MAX31855 alone, and converter is {record.converter!r}")
    return record


def to_json(entry: CalibrationRecord | Retraction) -> str:
    """A record as one line of JSON.

    >>> to_json(Retraction("b", "a", 5.0))
    '{"kind":"taken back","uid":"b","of":"a","known":5.0}'
    """
    return json.dumps({"kind": entry.kind, **asdict(entry)}, separators=(",", ":"), allow_nan=False)


def from_json(text: str) -> CalibrationRecord | Retraction:
    """The record in one line of JSON. Raises ValueError, and nothing else, for any other text."""
    try:
        values = json.loads(text)
        kind = _KINDS[values.pop("kind")]
        if kind.kind in _POINTS:
            values["points"] = tuple(
                _dataclass_from_json(_POINTS[kind.kind], point) for point in values["points"] if isinstance(point, dict)
            )
        entry: CalibrationRecord | Retraction = _dataclass_from_json(kind, values)
    except (KeyError, TypeError, AttributeError, OverflowError, RecursionError) as error:
        raise ValueError(f"calibration is {text[:60]!r}, which is not one: {error}") from None
    return entry if isinstance(entry, Retraction) else validated(entry)


_TYPES: Mapping[str, tuple[type, ...]] = MappingProxyType(
    {
        "str": (str,),
        "bool": (bool,),
        "int": (int,),
        "float": (float, int),
        "float | None": (float, int, type(None)),
    }
)


def _dataclass_from_json(kind: type[Any], values: Mapping[str, object]) -> Any:
    """A dataclass from decoded JSON, its plain fields of the right type and finite."""
    for wanted_field in fields(kind):
        allowed = _TYPES.get(getattr(wanted_field.type, "__name__", str(wanted_field.type)))
        if allowed is None or wanted_field.name not in values:
            continue
        value = values[wanted_field.name]
        if not isinstance(value, allowed) or (isinstance(value, bool) and bool not in allowed):
            raise TypeError(f"{wanted_field.name} is of the wrong type")
        if isinstance(value, int | float) and not math.isfinite(value):
            raise TypeError(f"{wanted_field.name} is beyond any number")
    return kind(**values)
