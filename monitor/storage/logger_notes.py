"""The lock file of a rig's logger in the folder of recordings, and the notes in it for other processes.

It has two lines: the serial port that readings come from, and the file of the cook. The first counts only while the
logger runs; the second outlives it, and tells which of several unfinished recordings is the cook under way.
"""

import os
import re
from dataclasses import dataclass
from pathlib import Path

from monitor.runtime import is_locked, open_plain, overwrite, read_start

# Linux's PATH_MAX, for each of two lines.
LONGEST_BYTES = 2 * 4096


@dataclass(frozen=True, slots=True)
class LoggerStatus:
    """What is known of a rig's logger.

    running: whether its process is alive. port: the serial port that it hears, or None. cook: its recording's file
    name, or None where it never noted one.
    """

    running: bool
    port: str | None
    cook: str | None


def as_file_name(rig: str) -> str:
    """A cooker's name as a part of a file name."""
    return re.sub(r"[^\w-]", "_", rig)


def lock_path(folder: Path, rig: str) -> Path:
    """The path of the lock file of a rig's logger."""
    return folder / f".logger-{as_file_name(rig)}.lock"


def logger_status(folder: Path, rig: str) -> LoggerStatus:
    """The state of this rig's logger, also after it has ended."""
    try:
        descriptor = open_plain(lock_path(folder, rig))
    except OSError:
        return LoggerStatus(running=False, port=None, cook=None)
    try:
        # A logger that starts just now tries again for some seconds, so the question keeps none from starting.
        held = is_locked(descriptor)
        port, cook = read_notes(descriptor)
        return LoggerStatus(held, port if held else None, cook)
    finally:
        os.close(descriptor)


def read_notes(descriptor: int) -> tuple[str | None, str | None]:
    """The port and the cook in an open lock file; None for what is not noted or cannot be read."""
    try:
        port, _, rest = os.fsdecode(read_start(descriptor, LONGEST_BYTES)).partition("\n")
    except OSError:
        return None, None
    cook = rest.partition("\n")[0]
    return port or None, cook if cook and "/" not in cook else None


def write_notes(descriptor: int, port: str | None, cook: str | None) -> None:
    """Replaces the notes in an open lock file. Raises OSError."""
    overwrite(descriptor, os.fsencode(f"{port or ''}\n{cook or ''}\n"))
