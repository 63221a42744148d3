"""What only a person can say of the set-up, kept beside the recordings: that the sound was heard, a notice came."""

import json
import math
from pathlib import Path

from dashboard.auth.access_list import STATE_FOLDER, write_secret
from monitor.runtime import MonitorError, read_bounded

TICKS = ("sound", "notice")
MOST_BYTES = 10_000


class TickError(MonitorError):
    """A tick cannot be kept. why: one clause."""

    def __init__(self, why: str) -> None:
        self.why = why
        super().__init__(f"This cannot be kept beside the recordings: {why}.")


def ticks(folder: Path) -> dict[str, float]:
    """When each was ticked, Unix seconds; what cannot be read counts as not ticked."""
    try:
        stored = json.loads(read_bounded(_path(folder), MOST_BYTES))
        found = {name: float(stored[name]) for name in TICKS if name in stored}
    except (OSError, ValueError, TypeError, RecursionError):
        return {}
    return {name: at for name, at in found.items() if math.isfinite(at)}


def tick(folder: Path, name: str, now: float) -> None:
    """Keeps that this was so. Raises TickError."""
    if name not in TICKS:
        raise TickError("there is nothing of this name to tick")
    if not folder.is_dir():
        # A folder that is made again would hide that its disk is away.
        raise TickError("their folder is away")
    try:
        write_secret(_path(folder), json.dumps({**ticks(folder), name: now}).encode())
    except OSError as error:
        raise TickError((error.strerror or str(error)).lower()) from None


def _path(folder: Path) -> Path:
    return folder / STATE_FOLDER / "set-up.json"
