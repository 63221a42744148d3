"""What every process needs: the clock, errors, the console, signals, the progress bar, locks and atomic writes.

The only package that reads the machine's clock.
"""

from monitor.runtime.clock import Anchor, Clock, SystemClock
from monitor.runtime.console import Level, Report, Reporter, is_journal, print_line
from monitor.runtime.errors import MonitorError
from monitor.runtime.files import is_plain, open_lock, open_plain, put_whole, read_bounded, same_file
from monitor.runtime.lazy import lazy_exports
from monitor.runtime.progress_bar import ProgressBar
from monitor.runtime.signals import PARENT_VARIABLE, end_with_parent, hear_ctrl_c, stop_on_signal

__all__ = [
    "PARENT_VARIABLE",
    "Anchor",
    "Clock",
    "Level",
    "MonitorError",
    "ProgressBar",
    "Report",
    "Reporter",
    "SystemClock",
    "end_with_parent",
    "hear_ctrl_c",
    "is_journal",
    "is_plain",
    "lazy_exports",
    "open_lock",
    "open_plain",
    "print_line",
    "put_whole",
    "read_bounded",
    "same_file",
    "stop_on_signal",
]
