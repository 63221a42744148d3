"""The rows of a CSV file from elsewhere, with its encoding and delimiter found out, one row at a time in memory."""

import codecs
import csv
import io
from collections.abc import Callable, Iterator
from pathlib import Path

from monitor.exchange.package_format import ExchangeError

SAMPLE_BYTES = 65_536
CHUNK_BYTES = 1 << 20
# What western Europe's spreadsheets write; used where the bytes are not UTF-8.
WESTERN = "cp1252"


def read_rows(path: Path, most: int | None = None) -> list[list[str]]:
    """The rows of a CSV file, all of them or the first ``most``. Raises ExchangeError."""
    found: list[list[str]] = []
    for row in rows(path):
        found.append(row)
        if most is not None and len(found) >= most:
            break
    return found


def rows(path: Path, progress: Callable[[int, int], None] | None = None) -> Iterator[list[str]]:
    """Each row of a CSV file in turn. progress: called with (bytes read, bytes in all). Raises ExchangeError."""
    try:
        size = path.stat().st_size
        with path.open("rb") as raw:
            encoding = _encoding(path, raw)
            raw.seek(0)
            sample = raw.read(SAMPLE_BYTES).decode(encoding, errors="replace")
            raw.seek(0)
            text = io.TextIOWrapper(raw, encoding, errors="replace", newline="")
            for number, row in enumerate(csv.reader(text, delimiter=_delimiter(sample))):
                if progress is not None and number % 1000 == 0:
                    progress(min(raw.tell(), size), size)
                yield row
    except OSError as error:
        raise ExchangeError(path, (error.strerror or str(error)).lower()) from None
    except csv.Error as error:
        raise ExchangeError(path, f"it is not CSV: {error}") from None


def _encoding(path: Path, raw: io.BufferedReader) -> str:
    head = raw.read(SAMPLE_BYTES)
    if head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    places = [i for i, byte in enumerate(head[:1000]) if byte == 0]
    if places:
        # Two bytes a letter without a mark: the noughts of plain letters all stand on one side.
        sides = {i % 2 for i in places}
        if len(sides) > 1 or len(places) < 0.3 * min(len(head), 1000):
            raise ExchangeError(path, "it is not text")
        return "utf-16-le" if sides == {1} else "utf-16-be"
    decoder = codecs.getincrementaldecoder("utf-8")()
    try:
        decoder.decode(head)
        while chunk := raw.read(CHUNK_BYTES):
            decoder.decode(chunk)
        decoder.decode(b"", final=True)
    except UnicodeDecodeError:
        return WESTERN
    return "utf-8-sig"


def _delimiter(text: str) -> str:
    """The delimiter that splits most lines into the same number of cells, more than one; else a comma."""
    # A spreadsheet's own hint.
    if text[:4].lower() == "sep=" and len(text) > 4:
        return text[4]
    best, best_score = ",", 0
    for delimiter in (";", "\t", ",", "|"):
        widths = _widths(text, delimiter)
        usual = max(set(widths), key=widths.count) if widths else 1
        score = widths.count(usual) if usual > 1 else 0
        if score > best_score:
            best, best_score = delimiter, score
    return best


def _widths(text: str, delimiter: str) -> list[int]:
    """The number of cells of each of the first rows; empty rows are left out."""
    found: list[int] = []
    try:
        for row in csv.reader(io.StringIO(text[:20_000], newline=""), delimiter=delimiter):
            if row:
                found.append(len(row))
            if len(found) == 200:
                break
    except csv.Error:
        return []
    return found
