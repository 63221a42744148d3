"""Serial lines to packs and back: SenML or what a layout reads, with a CRC-16/IBM-3740 where one is sent.

No I/O here: bytes and their time of arrival go in, packs and bad lines come out, the same whether the bytes come one
at a time or all at once.
"""

import json
import re
from binascii import crc_hqx
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TypeAlias

from monitor.protocol.layouts import PayloadLayout, advice
from monitor.protocol.senml import Pack, PackError, parse_pack

LONGEST_LINE = 4096
SHOWN_BYTES = 60

_CRC_END = re.compile(rb"\*([0-9A-F]{4})\Z")


@dataclass(frozen=True, slots=True)
class BadLine:
    """A line that is no pack. first_bytes: its first 60 bytes, printable. why: one clause. arrived: Unix seconds."""

    first_bytes: str
    why: str
    arrived: float


LineItem: TypeAlias = Pack | BadLine


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


def parse_line(line: bytes, arrived: float, layout: PayloadLayout | None = None) -> LineItem | None:
    """One line without its LF: a pack, a bad line, or None for a blank one. arrived: Unix seconds."""
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
        return parse_payload(text, arrived, layout)
    except PackError as error:
        return bad_line(line, error.why, arrived)


def parse_payload(text: str, arrived: float, layout: PayloadLayout | None = None, origin: str = "") -> Pack:
    """The pack in one line or message, which without a layout is one of SenML. Arguments as for ``parse_pack``.

    Raises PackError, which says what would read the payload where that is known.
    """
    if layout is not None:
        return layout.pack(text, arrived)
    try:
        return parse_pack(text, arrived, origin)
    except PackError as error:
        raise PackError(error.why + advice(text)) from None


def bad_line(line: bytes, why: str, arrived: float) -> BadLine:
    """A line or payload that is no pack. why: one clause. arrived: Unix seconds."""
    return BadLine(ascii(line[:SHOWN_BYTES])[2:-1], why, arrived)


class LineDecoder:
    """Splits a stream of bytes into lines, and decodes each.

    >>> decoder = LineDecoder()
    >>> decoder.feed(b'[{"n":"paste","u":"Cel",', 5.0)
    []
    >>> decoder.feed(b'"v":94.25}]\\r\\n', 6.0)[0].records[0].value
    94.25
    """

    def __init__(self, layout: PayloadLayout | None = None) -> None:
        self._layout = layout
        self._partial = bytearray()
        self._overlong = False

    def feed(self, data: bytes, arrived: float) -> list[LineItem]:
        """Packs and bad lines that these bytes complete; arrived in Unix seconds."""
        items: list[LineItem] = []
        for index, piece in enumerate(data.split(b"\n")):
            if index:
                self._end_line(items, arrived)
            if self._overlong:
                continue
            self._partial += piece[: LONGEST_LINE + 2 - len(self._partial)]
            # One byte more than the longest line, for the CR of a CRLF.
            if len(self._partial) > LONGEST_LINE + 1 or (
                len(self._partial) == LONGEST_LINE + 1 and not self._partial.endswith(b"\r")
            ):
                self._overlong = True
        return items

    def flush(self, arrived: float) -> list[LineItem]:
        """Ends the stream: what has come of a line is a bad line that was cut short."""
        has_partial = bool(self._partial)
        line, self._partial, self._overlong = bytes(self._partial), bytearray(), False
        return [bad_line(line, "it was cut short", arrived)] if has_partial else []

    def _end_line(self, items: list[LineItem], arrived: float) -> None:
        line = bytes(self._partial)
        self._partial.clear()
        if self._overlong:
            self._overlong = False
            items.append(bad_line(line, f"it is longer than {LONGEST_LINE} bytes", arrived))
            return
        item = parse_line(line, arrived, self._layout)
        if item is not None:
            items.append(item)
