"""Packs of SenML (RFC 8428): one JSON array to records with their units and times."""

import hashlib
import json
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass

from monitor.runtime import MonitorError

# RFC 8428 section 4.5.3: smaller times are relative to now.
RELATIVE_BELOW = 2**28
MOST_RECORDS = 256
# RFC 7493 section 2.2: whole numbers beyond this are not exact in JSON, and SQLite takes none beyond 2^63.
MOST_SEQ = 2**53

CHANNEL_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9\-:./_]*\Z")
_HALF_CHARACTER = re.compile("[\ud800-\udfff]")
_BASE_FIELDS = {"bn": str, "bt": float, "bu": str, "bv": float, "bs": float, "bver": float}
_FIELDS = {
    "n": str,
    "u": str,
    "v": float,
    "vs": str,
    "vb": bool,
    "vd": str,
    "s": float,
    "t": float,
    "ut": float,
}


class PackError(MonitorError):
    """A payload that is no pack. why: one clause."""

    def __init__(self, why: str) -> None:
        self.why = why
        super().__init__(f"Not a pack: {why}.")


@dataclass(frozen=True, slots=True)
class SenmlRecord:
    """One resolved SenML record (RFC 8428 section 4.6), as it was sent.

    Unlike a ``monitor.model.Reading`` it may have no time of its own, and it belongs to a pack that has arrived.
    time: Unix seconds, None where none was sent; then the arrival of the pack counts.
    value: in ``unit``; None where the probe reported a fault, which ``fault`` words.
    relative: whether the time was sent as a distance from now.
    sender_time: the time that was sent, Unix seconds or a count from the sender's start, where it was not believed.
    """

    channel: str
    unit: str
    value: float | None
    fault: str | None
    time: float | None
    relative: bool = False
    sender_time: float | None = None


@dataclass(frozen=True, slots=True)
class Pack:
    """Records that arrived together.

    arrived: Unix seconds. seq: the sender's count of packs, where it was sent.
    digest: the same for a pack delivered twice; None where neither a count nor a time would tell it from a new one.
    redelivered: whether the transport says that it may have delivered the pack before.
    delivery: the source's own number for this delivery, None where it needs none.
    """

    records: tuple[SenmlRecord, ...]
    arrived: float
    seq: int | None
    digest: int | None
    redelivered: bool = False
    delivery: int | None = None


def _refuse_constant(word: str) -> float:
    raise PackError(f"{word} is not a JSON number")


def parse_json(text: bytes | str) -> object:
    """The value of a text in JSON (RFC 8259), without the constants that only Python knows. Raises PackError."""
    try:
        return json.loads(text, parse_constant=_refuse_constant)
    except RecursionError:
        raise PackError("it is nested too deeply") from None
    except ValueError:
        raise PackError("it is not JSON") from None


def parse_pack(payload: bytes | str, arrived: float, origin: str = "") -> Pack:
    """The pack in one payload.

    arrived: Unix seconds; relative times count from it.
    origin: where it came from (an MQTT topic), so that equal packs of two rigs stay two.
    Raises PackError and nothing else.
    """
    return pack_of(parse_json(payload), arrived, origin)


def pack_of(pack: object, arrived: float, origin: str = "") -> Pack:
    """The pack in decoded JSON: base fields resolved as RFC 8428 section 4.6 has it."""
    if not isinstance(pack, list):
        raise PackError("a pack is a JSON array of records")
    if not pack:
        raise PackError("the array is empty")
    if len(pack) > MOST_RECORDS:
        raise PackError(f"it has {len(pack)} records; at most {MOST_RECORDS} are taken")
    base: dict[str, object] = {}
    records: list[SenmlRecord] = []
    seq: int | None = None
    for entry in pack:
        if not isinstance(entry, dict):
            raise PackError("a record is not a JSON object")
        resolved = _resolve(entry, base, arrived)
        if resolved is None:
            continue
        if resolved.channel.rsplit("/", 1)[-1].rsplit(":", 1)[-1] == "seq" and resolved.unit == "count":
            if resolved.value is None or not 0 <= resolved.value <= MOST_SEQ or resolved.value != int(resolved.value):
                raise PackError("seq is not a whole number from 0 to 2^53")
            seq = int(resolved.value)
            continue
        records.append(resolved)
    is_distinct = seq is not None or any(record.time is not None for record in records)
    digest = _digest(pack, origin) if is_distinct else None
    return Pack(tuple(records), arrived, seq, digest)


def _digest(pack: object, origin: str) -> int:
    canonical = json.dumps([origin, pack], separators=(",", ":"), sort_keys=True).encode("utf-8", "surrogatepass")
    return int.from_bytes(hashlib.blake2b(canonical, digest_size=8).digest(), signed=True)


def _resolve(entry: dict[str, object], base: dict[str, object], arrived: float) -> SenmlRecord | None:
    for key, value in entry.items():
        if key in _BASE_FIELDS:
            base[key] = _typed(key, value, _BASE_FIELDS[key])
        elif key in _FIELDS:
            _typed(key, value, _FIELDS[key])
        elif key.endswith("_"):
            raise PackError(f"field {key[:20]!r} must be understood and is not")
    if "bver" in entry and not 1 <= _as_float(base["bver"]) <= 10:
        raise PackError("the SenML version is not one of 1 to 10")
    values = [key for key in ("v", "vs", "vb", "vd") if key in entry]
    if len(values) > 1:
        raise PackError("a record holds more than one value")
    if not values and "s" not in entry and not ("bv" in base and ("n" in entry or "t" in entry)):
        if "n" in entry or "t" in entry or "u" in entry or not entry:
            raise PackError("a record holds no value")
        return None
    name = str(base.get("bn", "")) + str(entry.get("n", ""))
    if not CHANNEL_NAME.match(name) or len(name) > 200:
        raise PackError(f"the name {name[:40]!r} is not one that SenML allows")
    if not values and "s" in entry:
        return None
    moment, relative = _time(entry, base, arrived)
    unit = str(entry.get("u", base.get("bu", "")))
    if len(unit) > 40:
        raise PackError("a unit has more than 40 characters")
    if "vs" in entry:
        return SenmlRecord(name, unit, None, str(entry["vs"])[:200] or "no value", moment, relative)
    if "vd" in entry:
        return SenmlRecord(name, unit, None, "sent data instead of a number", moment, relative)
    if "vb" in entry:
        return SenmlRecord(name, unit, 1.0 if entry["vb"] else 0.0, None, moment, relative)
    value = _as_float(base.get("bv", 0.0)) + _as_float(entry.get("v", 0.0))
    if not math.isfinite(value):
        raise PackError("a value is beyond any number")
    return SenmlRecord(name, unit, value, None, moment, relative)


def _time(entry: Mapping[str, object], base: Mapping[str, object], arrived: float) -> tuple[float | None, bool]:
    """The time in Unix seconds, or None, and whether it was sent as a distance from now."""
    if "t" not in entry and "bt" not in base:
        return None, False
    moment = _as_float(base.get("bt", 0.0)) + _as_float(entry.get("t", 0.0))
    relative = moment < RELATIVE_BELOW
    moment = arrived + moment if relative else moment
    if not 0.0 <= moment < 1e11:
        raise PackError("a time is out of range")
    return moment, relative


def _typed(key: str, value: object, kind: type) -> object:
    if kind is float:
        return _as_float(value, key)
    if not isinstance(value, kind):
        raise PackError(f"field {key!r} is of the wrong type")
    if isinstance(value, str) and _HALF_CHARACTER.search(value):
        # JSON's escapes can write it, UTF-8 and so the recording cannot (RFC 8259 section 8.2).
        raise PackError(f"field {key!r} holds half a character")
    return value


def _as_float(value: object, key: str = "v") -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise PackError(f"field {key!r} is not a number")
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        raise PackError(f"field {key!r} is beyond any number")
    return number
