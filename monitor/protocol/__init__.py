"""Bytes to packs and back, without any I/O: SenML (RFC 8428), lines with a CRC, and bare columns of numbers."""

from monitor.protocol.bare_columns import ColumnSpec, parse_columns_spec
from monitor.protocol.lines import BadLine, LineDecoder, LineItem, bad_line, encode_line
from monitor.protocol.renaming import Renaming, parse_renaming, parse_renamings, renamed
from monitor.protocol.senml import RELATIVE_BELOW, Pack, PackError, SenmlRecord, pack_of, parse_json, parse_pack
from monitor.protocol.timestamps import AHEAD_S, OLDEST_S, TimestampCorrector, fits, latest_clock_ahead_s

__all__ = [
    "AHEAD_S",
    "OLDEST_S",
    "RELATIVE_BELOW",
    "BadLine",
    "ColumnSpec",
    "LineDecoder",
    "LineItem",
    "Pack",
    "PackError",
    "Renaming",
    "SenmlRecord",
    "TimestampCorrector",
    "bad_line",
    "encode_line",
    "fits",
    "latest_clock_ahead_s",
    "pack_of",
    "parse_columns_spec",
    "parse_json",
    "parse_pack",
    "parse_renaming",
    "parse_renamings",
    "renamed",
]
