"""What every process needs: the clock, errors, the console, signals, the progress bar, locks and atomic writes.

The only package that reads the machine's clock.
"""

from monitor.runtime.clock import Anchor, Clock, SystemClock
from monitor.runtime.console import Level, Report, Reporter, is_journal, print_line
from monitor.runtime.errors import MonitorError
from monitor.runtime.files import (
    FileIdentity,
    append_line,
    file_identity,
    is_locked,
    is_plain,
    is_same_file,
    locked,
    move_into_place,
    open_plain,
    overwrite,
    read_bounded,
    read_start,
    sync_folder,
    try_lock,
    write_atomically,
)
from monitor.runtime.heartbeat import HEARTBEAT_VARIABLE, beat, take_heartbeat
from monitor.runtime.lazy import lazy_exports
from monitor.runtime.progress_bar import ProgressBar
from monitor.runtime.signals import (
    OWN_GROUP_FLAGS,
    OWN_PROCESS_GROUP,
    PARENT_VARIABLE,
    ask_to_end,
    end_with_parent,
    hear_ctrl_c,
    stop_on_signal,
)
from monitor.runtime.terminal import drop_unsent, unsent_bytes

__all__ = [
    "HEARTBEAT_VARIABLE",
    "OWN_GROUP_FLAGS",
    "OWN_PROCESS_GROUP",
    "PARENT_VARIABLE",
    "Anchor",
    "Clock",
    "FileIdentity",
    "Level",
    "MonitorError",
    "ProgressBar",
    "Report",
    "Reporter",
    "SystemClock",
    "append_line",
    "ask_to_end",
    "beat",
    "drop_unsent",
    "end_with_parent",
    "file_identity",
    "hear_ctrl_c",
    "is_journal",
    "is_locked",
    "is_plain",
    "is_same_file",
    "lazy_exports",
    "locked",
    "move_into_place",
    "open_plain",
    "overwrite",
    "print_line",
    "read_bounded",
    "read_start",
    "stop_on_signal",
    "sync_folder",
    "take_heartbeat",
    "try_lock",
    "unsent_bytes",
    "write_atomically",
]
