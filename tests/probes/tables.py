"""Tables from outside, each row with its source."""

import csv
from pathlib import Path


def rows(name: str) -> list[dict[str, str]]:
    """The rows of a table beside this file; every one names its source."""
    with (Path(__file__).parent / name).open(encoding="utf-8", newline="") as file:
        found = list(csv.DictReader(file))
    assert found
    assert all(row["source"].strip() for row in found), f"{name} has a row without a source"
    return found
