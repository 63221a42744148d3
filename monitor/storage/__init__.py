"""Recordings on disk, one SQLite file a cook: written, read as they grow, indexed, deleted, salvaged.

The reader needs numpy; the names are loaded on first use, so that the logger, which only writes, stays small.
"""

from typing import TYPE_CHECKING

from monitor.runtime import lazy_exports

if TYPE_CHECKING:
    from monitor.storage.annotations import log_event, withdraw_event, write_sheet
    from monitor.storage.calibration_log import MOST_BYTES, CalibrationError, CalibrationLog
    from monitor.storage.columns import ChannelColumns, ColumnAppender
    from monitor.storage.connections import RecordingError, connect_read_only, errors_named, fold
    from monitor.storage.contents import header_from, read_batch, read_events
    from monitor.storage.folder import FolderAwayError, WatchedFolder
    from monitor.storage.index import (
        CookSummary,
        is_running,
        read_header,
        recordings,
        running,
        summary,
        under_way,
        unfinished,
    )
    from monitor.storage.logger_notes import as_file_name, lock_path, logger_status, read_notes, write_notes
    from monitor.storage.reader import IncrementalReader, load
    from monitor.storage.salvage import salvage_recording
    from monitor.storage.schema import SUFFIX
    from monitor.storage.sheet_folder import (
        KeptSheet,
        KeptSheetError,
        keep_sheet,
        kept_sheet_path,
        kept_sheets,
        read_kept_sheet,
        remove_sheet,
        sheet_name,
    )
    from monitor.storage.staging import building
    from monitor.storage.trash import TrashedCook, purge, remove, restore, trashed
    from monitor.storage.writer import Recorder

__all__ = [
    "MOST_BYTES",
    "SUFFIX",
    "CalibrationError",
    "CalibrationLog",
    "ChannelColumns",
    "ColumnAppender",
    "CookSummary",
    "FolderAwayError",
    "IncrementalReader",
    "KeptSheet",
    "KeptSheetError",
    "Recorder",
    "RecordingError",
    "TrashedCook",
    "WatchedFolder",
    "as_file_name",
    "building",
    "connect_read_only",
    "errors_named",
    "fold",
    "header_from",
    "is_running",
    "keep_sheet",
    "kept_sheet_path",
    "kept_sheets",
    "load",
    "lock_path",
    "log_event",
    "logger_status",
    "purge",
    "read_batch",
    "read_events",
    "read_header",
    "read_kept_sheet",
    "read_notes",
    "recordings",
    "remove",
    "remove_sheet",
    "restore",
    "running",
    "salvage_recording",
    "sheet_name",
    "summary",
    "trashed",
    "under_way",
    "unfinished",
    "withdraw_event",
    "write_notes",
    "write_sheet",
]

if not TYPE_CHECKING:
    __getattr__ = lazy_exports(
        __name__,
        {
            "annotations": (
                "log_event",
                "withdraw_event",
                "write_sheet",
            ),
            "calibration_log": (
                "MOST_BYTES",
                "CalibrationError",
                "CalibrationLog",
            ),
            "columns": (
                "ChannelColumns",
                "ColumnAppender",
            ),
            "connections": (
                "RecordingError",
                "connect_read_only",
                "errors_named",
                "fold",
            ),
            "contents": (
                "header_from",
                "read_batch",
                "read_events",
            ),
            "folder": (
                "FolderAwayError",
                "WatchedFolder",
            ),
            "index": (
                "CookSummary",
                "is_running",
                "read_header",
                "recordings",
                "running",
                "summary",
                "under_way",
                "unfinished",
            ),
            "logger_notes": (
                "as_file_name",
                "lock_path",
                "logger_status",
                "read_notes",
                "write_notes",
            ),
            "reader": (
                "IncrementalReader",
                "load",
            ),
            "salvage": ("salvage_recording",),
            "schema": ("SUFFIX",),
            "staging": ("building",),
            "trash": (
                "TrashedCook",
                "purge",
                "remove",
                "restore",
                "trashed",
            ),
            "writer": ("Recorder",),
            "sheet_folder": (
                "KeptSheet",
                "KeptSheetError",
                "keep_sheet",
                "kept_sheet_path",
                "kept_sheets",
                "read_kept_sheet",
                "remove_sheet",
                "sheet_name",
            ),
        },
    )
