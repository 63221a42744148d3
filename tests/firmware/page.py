"""The test vectors of the firmware page, read from that very page."""

import re
from pathlib import Path

FIRMWARE = Path(__file__).resolve().parents[2] / "firmware_notes"


def table(name: str) -> list[dict[str, str]]:
    """The rows of the table that stands under ``<!-- vectors: name -->``; code marks are taken off."""
    text = (FIRMWARE / "README.md").read_text(encoding="utf-8")
    _, _, after = text.partition(f"<!-- vectors: {name} -->\n")
    lines = re.match(r"(?:\|.*\|\n)+", after)
    assert lines is not None, f"the page has no table {name}"
    head, _, *body = [
        [cell.strip().removeprefix("`").removesuffix("`") for cell in line.strip("|").split(" | ")]
        for line in lines.group().splitlines()
    ]
    names = [cell.strip() for cell in head]
    assert all(len(row) == len(names) for row in body)
    return [dict(zip(names, row, strict=True)) for row in body]


def lines() -> list[str]:
    """The lines of the page."""
    return [row["line"] for row in table("lines")]
