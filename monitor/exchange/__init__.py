"""Cooks out of and into other formats: data package, zip archive, Parquet, a table from elsewhere."""

from typing import TYPE_CHECKING

from monitor.runtime import lazy_exports

if TYPE_CHECKING:
    from monitor.exchange.archive import export_zip, import_zip
    from monitor.exchange.cell_parsers import zone_named
    from monitor.exchange.csv_import import (
        HEADING_ROWS,
        ParsedTable,
        parse_rows,
        parse_table,
        store_table,
    )
    from monitor.exchange.csv_reader import read_rows
    from monitor.exchange.frames import (
        column_name,
        events_frame,
        faults_frame,
        history_from_frames,
        readings_frame,
        unix_seconds,
        utc_index,
    )
    from monitor.exchange.infer_layout import SAMPLE_ROWS, InferredLayout, infer_table_layout, times_without_zone
    from monitor.exchange.package_format import ExchangeError
    from monitor.exchange.package_reader import import_package
    from monitor.exchange.package_writer import export_package
    from monitor.exchange.table_frame import read_table
    from monitor.exchange.table_layout import TableLayout, parse_layout

__all__ = [
    "HEADING_ROWS",
    "SAMPLE_ROWS",
    "ExchangeError",
    "InferredLayout",
    "ParsedTable",
    "TableLayout",
    "column_name",
    "events_frame",
    "export_package",
    "export_zip",
    "faults_frame",
    "history_from_frames",
    "import_package",
    "import_zip",
    "infer_table_layout",
    "parse_layout",
    "parse_rows",
    "parse_table",
    "read_rows",
    "read_table",
    "readings_frame",
    "store_table",
    "times_without_zone",
    "unix_seconds",
    "utc_index",
    "zone_named",
]

if not TYPE_CHECKING:
    __getattr__ = lazy_exports(
        __name__,
        {
            "archive": ("export_zip", "import_zip"),
            "cell_parsers": ("zone_named",),
            "csv_import": (
                "HEADING_ROWS",
                "ParsedTable",
                "parse_rows",
                "parse_table",
                "store_table",
            ),
            "csv_reader": ("read_rows",),
            "package_format": ("ExchangeError",),
            "package_reader": ("import_package",),
            "package_writer": ("export_package",),
            "frames": (
                "column_name",
                "events_frame",
                "faults_frame",
                "history_from_frames",
                "readings_frame",
                "unix_seconds",
                "utc_index",
            ),
            "infer_layout": ("InferredLayout", "SAMPLE_ROWS", "infer_table_layout", "times_without_zone"),
            "table_frame": ("read_table",),
            "table_layout": ("TableLayout", "parse_layout"),
        },
    )
