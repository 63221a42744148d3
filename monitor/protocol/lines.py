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


class LineSplitter:
    """Splits a stream of bytes into lines of bounded length.

    >>> splitter = LineSplitter()
    >>> splitter.feed(b"94.2"), splitter.feed(b"5\\r\\n93")
    ([], [b'94.25\\r'])
    """

    def __init__(self) -> None:
        self._partial = bytearray()

    def feed(self, data: bytes) -> list[bytes]:
        """The lines that these bytes complete, without their LF; of an overlong one no more than tells that it is."""
        lines: list[bytes] = []
        for index, piece in enumerate(data.split(b"\n")):
            if index:
                lines.append(bytes(self._partial))
                self._partial.clear()
            # One byte more than the longest line for the CR of a CRLF, and one that is too many.
            self._partial += piece[: LONGEST_LINE + 2 - len(self._partial)]
        return lines

    def flush(self) -> bytes:
        """Ends the stream; what has come of a line."""
        line = bytes(self._partial)
        self._partial.clear()
        return line


def is_overlong(line: bytes) -> bool:
    """Whether a line, without its LF, is longer than a line may be."""
    return len(line.removesuffix(b"\r")) > LONGEST_LINE


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
        self._splitter = LineSplitter()

    def feed(self, data: bytes, arrived: float) -> list[LineItem]:
        """Packs and bad lines that these bytes complete; arrived in Unix seconds."""
        items = (self._item(line, arrived) for line in self._splitter.feed(data))
        return [item for item in items if item is not None]

    def flush(self, arrived: float) -> list[LineItem]:
        """Ends the stream: what has come of a line is a bad line that was cut short."""
        line = self._splitter.flush()
        return [bad_line(line, "it was cut short", arrived)] if line else []

    def _item(self, line: bytes, arrived: float) -> LineItem | None:
        if is_overlong(line):
            return bad_line(line, f"it is longer than {LONGEST_LINE} bytes", arrived)
        return parse_line(line, arrived, self._layout)
