"""Bytes to packs and back: SenML (RFC 8428), CRC-16/IBM-3740, bare columns.

Sans-IO: bytes and their arrival time go in, packs and bad lines come out, the same whether fed one byte at
a time or all at once.
"""

import hashlib
import json
import math
import re
from binascii import crc_hqx
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeAlias

from monitor.model import allowed, announceable, role
from monitor.runtime import MonitorError

LONGEST_LINE = 4096
KEPT_BYTES = 60
# RFC 8428 section 4.5.3: smaller times are relative to now.
RELATIVE_BELOW = 2**28
MOST_RECORDS = 256
# RFC 7493 section 2.2: whole numbers beyond this are not exact in JSON, and SQLite takes none beyond 2^63.
MOST_SEQ = 2**53

_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9\-:./_]*\Z")
_HALF_CHARACTER = re.compile("[\ud800-\udfff]")
_CRC_END = re.compile(rb"\*([0-9A-F]{4})\Z")
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
    """One resolved SenML record.

    time: Unix seconds, None where the pack sent none (then the arrival counts).
    value: None where the probe reported a fault, worded in ``fault``.
    relative: whether the time was sent as a distance from now.
    said: the time that the sender gave, Unix seconds or a count of its own, where it was not believed as it stood.
    """

    channel: str
    unit: str
    value: float | None
    fault: str | None
    time: float | None
    relative: bool = False
    said: float | None = None


@dataclass(frozen=True, slots=True)
class Pack:
    """Records that came together.

    arrived: Unix seconds. seq: the sender's count, if sent.
    digest: tells a pack delivered twice from a new one; None where nothing in the pack could.
    redelivered: whether who delivered it says that it may have done so before.
    delivery: what its source knows the delivery by, None where it keeps none.
    """

    records: tuple[SenmlRecord, ...]
    arrived: float
    seq: int | None
    digest: int | None
    redelivered: bool = False
    delivery: int | None = None


@dataclass(frozen=True, slots=True)
class BadLine:
    """A line from which nothing is stored. first_bytes: at most 60 bytes, printable."""

    first_bytes: str
    why: str
    arrived: float


Item: TypeAlias = Pack | BadLine


def crc16(data: bytes) -> int:
    """CRC-16/IBM-3740: poly 1021, init FFFF, no reflection.

    >>> f"{crc16(b'123456789'):04X}"
    '29B1'
    """
    return crc_hqx(data, 0xFFFF)


def encode_line(records: Sequence[Mapping[str, object]]) -> bytes:
    """One pack as a serial line with its CRC and LF.

    >>> encode_line([{"n": "paste", "u": "Cel", "v": 94.25}])
    b'[{"n":"paste","u":"Cel","v":94.25}]*0067\\n'
    """
    body = json.dumps(records, separators=(",", ":"), allow_nan=False).encode()
    return body + f"*{crc16(body):04X}\n".encode()


def _refuse_constant(word: str) -> float:
    raise PackError(f"{word} is not a JSON number")


def parse_json(text: bytes | str) -> object:
    """JSON that RFC 8259 allows, or WireError."""
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
    tellable = seq is not None or any(record.time is not None for record in records)
    digest = _digest(pack, origin) if tellable else None
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
    if not _NAME.match(name) or len(name) > 200:
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
    """The time, Unix seconds, and whether it was sent as a distance from now."""
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


@dataclass(frozen=True, slots=True)
class ColumnSpec:
    """One bare column of a sketch that prints numbers: its channel and unit."""

    channel: str
    unit: str


def parse_columns_spec(text: str) -> tuple[ColumnSpec, ...]:
    """What ``--columns`` says.

    Raises ValueError naming the part that is wrong.

    >>> parse_columns_spec("paste:Cel,ph:V")[1]
    Column(channel='ph', unit='V')
    """
    columns = []
    for part in text.split(","):
        channel, colon, unit = part.strip().rpartition(":")
        if not colon or not _NAME.match(channel) or not unit:
            raise ValueError(f"columns has the part {part!r}; each part is NAME:UNIT, such as paste:Cel")
        if not announceable(role(channel), unit):
            raise ValueError(f"columns has the part {part!r}; {role(channel)} comes in {allowed(role(channel))}")
        columns.append(ColumnSpec(channel, unit))
    if len({column.channel for column in columns}) < len(columns):
        raise ValueError(f"columns is {text!r}, which names a channel twice")
    return tuple(columns)


_BLANKS = re.compile(r"[,;\t]|(?<=\S) +(?=\S)")


def _parse_bare(text: str, columns: Sequence[ColumnSpec], arrived: float) -> Pack:
    parts = [part.strip() for part in _BLANKS.split(re.sub(r"\s*([,;\t])\s*", r"\1", text.strip()))]
    if len(parts) != len(columns):
        raise PackError(f"it has {len(parts)} columns where {len(columns)} were announced")
    records = []
    for part, column in zip(parts, columns, strict=True):
        try:
            value = float(part)
        except ValueError:
            raise PackError("a column is not a number") from None
        if not math.isfinite(value):
            # Sketches print nan for an open probe: a fault, not a number.
            records.append(SenmlRecord(column.channel, column.unit, None, f"sent {part.lower()[:20]}", None))
        else:
            records.append(SenmlRecord(column.channel, column.unit, value, None, None))
    return Pack(tuple(records), arrived, None, None)


def parse_line(line: bytes, arrived: float, columns: Sequence[ColumnSpec] | None = None) -> Item | None:
    """One line without its end: a pack, a bad line, or None for a blank one."""
    body = line.removesuffix(b"\r")
    if not body.strip():
        return None
    try:
        crc = _CRC_END.search(body)
        if crc is not None:
            body = body[: crc.start()]
            if crc16(body) != int(crc.group(1), 16):
                raise PackError("its CRC does not fit")
        try:
            text = body.decode()
        except UnicodeDecodeError:
            raise PackError("it is not UTF-8") from None
        if columns is not None and not text.lstrip().startswith("["):
            return _parse_bare(text, columns, arrived)
        return parse_pack(text, arrived)
    except PackError as error:
        return _bad(line, error.why, arrived)


def _bad(line: bytes, why: str, arrived: float) -> BadLine:
    return BadLine(ascii(line[:KEPT_BYTES])[2:-1], why, arrived)


class LineFeed:
    """Cuts a stream of bytes into lines and lines into packs.

    >>> feed = LineFeed()
    >>> feed.feed(b'[{"n":"paste","u":"Cel",', 5.0)
    []
    >>> feed.feed(b'"v":94.25}]\\r\\n', 6.0)[0].records[0].value
    94.25
    """

    def __init__(self, columns: Sequence[ColumnSpec] | None = None) -> None:
        self._columns = columns
        self._held = bytearray()
        self._overlong = False

    def feed(self, data: bytes, arrived: float) -> list[Item]:
        """Packs and bad lines that these bytes complete; arrived in Unix seconds."""
        items: list[Item] = []
        for index, piece in enumerate(data.split(b"\n")):
            if index:
                self._end_line(items, arrived)
            if self._overlong:
                continue
            self._held += piece[: LONGEST_LINE + 2 - len(self._held)]
            # One more than the longest, for the CR of a CRLF.
            if len(self._held) > LONGEST_LINE + 1 or (
                len(self._held) == LONGEST_LINE + 1 and not self._held.endswith(b"\r")
            ):
                self._overlong = True
        return items

    def cut(self, arrived: float) -> list[Item]:
        """The stream broke off: what is held is a line cut short."""
        held = bool(self._held)
        line, self._held, self._overlong = bytes(self._held), bytearray(), False
        return [_bad(line, "it was cut short", arrived)] if held else []

    def _end_line(self, items: list[Item], arrived: float) -> None:
        line = bytes(self._held)
        self._held.clear()
        if self._overlong:
            self._overlong = False
            items.append(_bad(line, f"it is longer than {LONGEST_LINE} bytes", arrived))
            return
        item = parse_line(line, arrived, self._columns)
        if item is not None:
            items.append(item)


def packs(items: Iterable[Item]) -> list[Pack]:
    """The packs among items."""
    return [item for item in items if isinstance(item, Pack)]
