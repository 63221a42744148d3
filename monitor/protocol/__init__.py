"""Bytes to packs and back, without any I/O: SenML (RFC 8428), lines with a CRC, and bare columns of numbers."""

from monitor.protocol.arrival import AHEAD_S, OLDEST_S, Arrivals, ahead_before, fits
from monitor.protocol.bare_columns import ColumnSpec, parse_columns_spec
from monitor.protocol.lines import BadLine, Item, LineFeed, bad_line, encode_line
from monitor.protocol.renaming import Renaming, parse_renaming, parse_renamings, renamed
from monitor.protocol.senml import RELATIVE_BELOW, Pack, PackError, SenmlRecord, pack_of, parse_json, parse_pack

__all__ = [
    "AHEAD_S",
    "OLDEST_S",
    "RELATIVE_BELOW",
    "Arrivals",
    "BadLine",
    "ColumnSpec",
    "Item",
    "LineFeed",
    "Pack",
    "PackError",
    "Renaming",
    "SenmlRecord",
    "ahead_before",
    "bad_line",
    "encode_line",
    "fits",
    "pack_of",
    "parse_columns_spec",
    "parse_json",
    "parse_pack",
    "parse_renaming",
    "parse_renamings",
    "renamed",
]
