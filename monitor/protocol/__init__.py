"""Bytes to packs and back, without any I/O: SenML (RFC 8428), lines with a CRC, and bare columns of numbers."""

from monitor.protocol.bare_columns import Columns, ColumnSpec, parse_columns_spec, parse_row
from monitor.protocol.layouts import (
    NamedField,
    NamedFields,
    ParsedValue,
    PayloadLayout,
    PlainValue,
    is_path,
    parse_labels,
    parse_named_fields,
    parse_plain_value,
    parse_value,
    value_at,
)
from monitor.protocol.lines import BadLine, LineDecoder, LineItem, LineSplitter, bad_line, encode_line, parse_payload
from monitor.protocol.renaming import Renaming, parse_renaming, parse_renamings, renamed
from monitor.protocol.senml import RELATIVE_BELOW, Pack, PackError, SenmlRecord, pack_of, parse_json, parse_pack
from monitor.protocol.timestamps import AHEAD_S, OLDEST_S, TimestampCorrector, fits, latest_clock_ahead_s

__all__ = [
    "AHEAD_S",
    "OLDEST_S",
    "RELATIVE_BELOW",
    "BadLine",
    "ColumnSpec",
    "Columns",
    "LineDecoder",
    "LineItem",
    "LineSplitter",
    "NamedField",
    "NamedFields",
    "Pack",
    "PackError",
    "ParsedValue",
    "PayloadLayout",
    "PlainValue",
    "Renaming",
    "SenmlRecord",
    "TimestampCorrector",
    "bad_line",
    "encode_line",
    "fits",
    "is_path",
    "latest_clock_ahead_s",
    "pack_of",
    "parse_columns_spec",
    "parse_json",
    "parse_labels",
    "parse_named_fields",
    "parse_pack",
    "parse_payload",
    "parse_plain_value",
    "parse_renaming",
    "parse_renamings",
    "parse_row",
    "parse_value",
    "renamed",
    "value_at",
]
