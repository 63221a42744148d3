"""The lock that a rig's logger holds in the folder of recordings, and what stands in it for other processes.

Two lines: the serial port that the logger hears readings from, and the file of its cook. The first is of a living
logger alone; the second outlives it, and tells which of several unfinished recordings is the cook under way.
"""

import os
import re
from dataclasses import dataclass
from pathlib import Path

from monitor.runtime import is_locked, open_plain

# Linux's PATH_MAX, for each of two lines.
LONGEST_BYTES = 2 * 4096


@dataclass(frozen=True, slots=True)
class LoggerStatus:
    """What a logger noted. held: whether it is alive. port: None where it hears none. cook: a file's name or None."""

    running: bool
    port: str | None
    cook: str | None


def as_file_name(rig: str) -> str:
    """A cooker's name as a part of a file's name."""
    return re.sub(r"[^\w-]", "_", rig)


def lock_path(folder: Path, rig: str) -> Path:
    """Where the lock of a rig's logger is."""
    return folder / f".logger-{as_file_name(rig)}.lock"


def logger_status(folder: Path, rig: str) -> LoggerStatus:
    """What the logger of this rig noted last."""
    try:
        number = open_plain(lock_path(folder, rig))
    except OSError:
        return LoggerStatus(running=False, port=None, cook=None)
    try:
        # A logger that starts just now tries again for some seconds, so the question keeps none from starting.
        held = is_locked(number)
        port, cook = read_notes(number)
        return LoggerStatus(held, port if held else None, cook)
    finally:
        os.close(number)


def read_notes(number: int) -> tuple[str | None, str | None]:
    """Port and cook as they stand in an open lock."""
    try:
        port, _, rest = os.fsdecode(os.pread(number, LONGEST_BYTES, 0)).partition("\n")
    except OSError:
        return None, None
    cook = rest.partition("\n")[0]
    return port or None, cook if cook and "/" not in cook else None


def write_notes(number: int, port: str | None, cook: str | None) -> None:
    """Writes both. Raises OSError."""
    os.ftruncate(number, 0)
    os.pwrite(number, os.fsencode(f"{port or ''}\n{cook or ''}\n"), 0)
