"""What the writer and the reader of a data package share: its tables' columns, its one error, its progress.

Files: readings.csv, packs.csv, events.csv, batch.json, datapackage.json, and calibrations.jsonl where the cook has any
(see ``calibrations_for``). The three tables may stand beside it as Parquet too (see ``parquet``).
"""

from collections.abc import Callable
from pathlib import Path
from typing import TypeAlias

from monitor.runtime import MonitorError

READINGS = ("time", "elapsed_s", "channel", "unit", "value", "fault", "pack")
# One column more where a sender's own time was not believed as it stood: Unix seconds, or a count of its own.
READINGS_SAID = (*READINGS, "said")
PACKS = ("pack", "known", "seq", "digest")
EVENTS = ("time", "known", "event", "fields", "uid", "withdrawn")

# Told (rows done, rows in all).
Progress: TypeAlias = Callable[[int, int], None]


def silent(_done: int, _total: int) -> None:
    """Progress that nobody follows."""


class ExchangeError(MonitorError):
    """A package that cannot be written or read. place: file or folder; why: one clause."""

    def __init__(self, place: Path, why: str) -> None:
        self.place = place
        self.why = why
        super().__init__(f"{place}: {why}.")
