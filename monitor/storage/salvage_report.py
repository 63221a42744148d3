"""What could be read of a damaged recording and what could not, in numbers and in sentences."""

from dataclasses import dataclass, field
from pathlib import Path


@dataclass
class SalvageReport:
    """path: the new recording. lost: table to the ranges of row numbers, both ends included, that were given up.

    doubtful: how many rows were read but hold values that no recording would. packless: how many readings lost their
    time of arrival and took that of the pack before. schema_lost, header_lost: whether the first page and the
    ``about`` table could not be read.
    """

    path: Path
    readings: int = 0
    events: int = 0
    lost: dict[str, list[tuple[int, int]]] = field(default_factory=dict)
    doubtful: int = 0
    packless: int = 0
    schema_lost: bool = False
    header_lost: bool = False

    @property
    def whole(self) -> bool:
        """Whether nothing was missing."""
        return not (self.lost or self.doubtful or self.schema_lost or self.header_lost)

    def lines(self) -> list[str]:
        """A sentence for what was read, and one for each kind of loss."""
        lines = [f"Read {self.readings} readings and {self.events} events."]
        if self.whole:
            return [*lines, "Nothing was missing."]
        if self.schema_lost:
            lines.append("The first page, with the plan of the file, was spoilt and was put back.")
        if self.header_lost:
            lines.append("The head could not be read: the cooker's name is lost, and the start is the first reading's.")
        for table, ranges in self.lost.items():
            rows = sum(last - first + 1 for first, last in ranges)
            where = ", ".join(f"{first} to {last}" for first, last in ranges[:5])
            more = f" and {len(ranges) - 5} more places" if len(ranges) > 5 else ""
            lines.append(f"Could not read up to {rows} rows of {_ROWS_OF[table]}: numbers {where}{more}.")
        if self.doubtful:
            lines.append(f"Left out {self.doubtful} rows that hold what no recording would.")
        if self.packless:
            lines.append(f"{self.packless} readings lost their moment of arrival and took the one before them.")
        return lines


_ROWS_OF = {
    "sheet": "the batch sheets",
    "clock": "the ties to the clock",
    "channel": "the channels",
    "pack": "the packs",
    "reading": "the readings",
    "event": "the events",
    "withdrawal": "the events taken back",
}
