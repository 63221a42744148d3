"""The documents hold together: links lead somewhere, lists are complete."""

import re
from pathlib import Path

import pytest

from monitor.model import NAMES, is_name

ROOT = Path(__file__).resolve().parents[2]
MANUAL = ROOT / "dashboard" / "manual"
PAGES = [
    ROOT / "README.md",
    ROOT / "DEVELOPERS.md",
    *sorted(MANUAL.glob("*.md")),
]
# Kinds of alarms that carry a probe's name, each shown with one that has it.
OF_A_PROBE = (
    *(f"paste probe {kind}" for kind in ("open", "shorted", "fault", "jumped", "frozen")),
    *("no paste data", "wall unit unknown"),
)


def linked(page: str) -> list[str]:
    """The files that a page links to or shows, without addresses elsewhere."""
    return [target for target in re.findall(r"\]\(([^)#\s]+)", page) if "://" not in target]


def rows(page: str, heading: str) -> list[list[str]]:
    """The cells of the table whose first line is ``heading``."""
    lines = page[page.index(f"{heading}\n") :].splitlines()[2:]
    table = lines[: next((place for place, line in enumerate(lines) if not line.startswith("|")), len(lines))]
    return [[cell.strip() for cell in line.strip("|").split(" | ")] for line in table]


@pytest.mark.parametrize("path", PAGES, ids=lambda path: str(path.relative_to(ROOT)))
def test_every_link_leads_to_a_file(path: Path) -> None:
    for target in linked(path.read_text(encoding="utf-8")):
        assert (path.parent / target).exists(), f"{path.name} leads to {target}"


def test_the_manual_lists_each_of_its_pages_once() -> None:
    listed = linked((MANUAL / "README.md").read_text(encoding="utf-8"))
    assert sorted(listed) == sorted(path.name for path in MANUAL.glob("*.md") if path.name != "README.md")


def test_troubleshooting_has_every_alarm_by_its_name_and_no_other() -> None:
    page = (MANUAL / "troubleshooting.md").read_text(encoding="utf-8")
    named = [name for cell, *_ in rows(page, "| alarm | means | do |") for name in cell.split(", ")]
    assert all(is_name(name) for name in (*named, *OF_A_PROBE))
    assert sorted(named) == sorted((*NAMES, *OF_A_PROBE))


def test_the_readme_has_its_three_pictures_of_moderate_size() -> None:
    pictures = [name for name in linked((ROOT / "README.md").read_text(encoding="utf-8")) if name.endswith(".png")]
    assert len(pictures) == 3
    assert all((ROOT / name).stat().st_size < 120_000 for name in pictures)
