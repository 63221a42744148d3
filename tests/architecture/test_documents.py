"""The documents hold together: links lead somewhere, lists are complete, decisions have their parts."""

import re
import tomllib
from pathlib import Path

import pytest

from monitor.model import NAMES, is_name

ROOT = Path(__file__).resolve().parents[2]
DECISIONS = ROOT / "monitor" / "decisions"
MANUAL = ROOT / "dashboard" / "manual"
PAGES = [
    ROOT / "README.md",
    ROOT / "DEVELOPERS.md",
    *sorted(MANUAL.glob("*.md")),
    *sorted(DECISIONS.glob("*.md")),
    ROOT / "tests" / "bench" / "README.md",
]
FILES = sorted(path.name for path in DECISIONS.glob("*.md") if path.name != "README.md")
NUMBERED = re.compile(r"(\d{4})-[a-z0-9-]+\.md")
HEADINGS = ["## Context", "## Decision", "## Consequences"]
# Kinds of alarms that carry a probe's name, each shown with one that has it.
OF_A_PROBE = (
    *(f"paste probe {kind}" for kind in ("open", "shorted", "fault", "jumped", "frozen")),
    *("no paste data", "paste unit unknown"),
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


def test_the_index_lists_each_decision_once_under_its_title() -> None:
    index = rows((DECISIONS / "README.md").read_text(encoding="utf-8"), "| number | decision | date |")
    assert [linked(number) for number, _, _ in index] == [[name] for name in FILES]
    for (_, title, date), name in zip(index, FILES, strict=True):
        text = (DECISIONS / name).read_text(encoding="utf-8")
        assert text.startswith(f"# {int(name[:4])}. {title}\n\nDate: {date}\n")


def test_decisions_are_numbered_without_gaps() -> None:
    matches = [NUMBERED.fullmatch(name) for name in FILES]
    assert [int(match[1]) for match in matches if match] == list(range(1, len(FILES) + 1))


@pytest.mark.parametrize("name", FILES)
def test_a_decision_has_its_parts_and_is_short(name: str) -> None:
    text = (DECISIONS / name).read_text(encoding="utf-8")
    assert re.match(r"# \d+\. .+\n\nDate: \d{4}-\d\d-\d\d\n\n## Context\n", text)
    assert re.findall(r"^## .*", text, re.MULTILINE) == HEADINGS
    assert 60 <= len(text.split()) <= 200


def test_the_floor_plan_has_each_package_on_the_layer_of_the_contract() -> None:
    contracts = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["importlinter"][
        "contracts"
    ]
    layers = next(contract["layers"] for contract in contracts if contract.get("containers") == ["monitor"])
    contracted = [
        (str(number), f"`{package.strip()}`")
        for number, layer in zip(range(len(layers), 0, -1), layers, strict=True)
        for package in layer.split("|")
    ]
    plan = rows((ROOT / "DEVELOPERS.md").read_text(encoding="utf-8"), "| layer | package | what |")
    assert sorted((layer, package) for layer, package, _ in plan) == sorted(contracted)


def test_the_glossary_has_at_most_25_rows_in_alphabetical_order() -> None:
    words = [word for word, _ in rows((ROOT / "DEVELOPERS.md").read_text(encoding="utf-8"), "| word | means |")]
    assert len(words) <= 25 and words == sorted(words)


def test_the_manual_lists_each_of_its_pages_once() -> None:
    listed = linked((MANUAL / "README.md").read_text(encoding="utf-8"))
    assert sorted(listed) == sorted(path.name for path in MANUAL.glob("*.md") if path.name != "README.md")


def test_the_manual_has_every_alarm_by_its_name_and_no_other() -> None:
    page = (MANUAL / "alarms.md").read_text(encoding="utf-8")
    named = re.findall(r"^## (.*)", page, re.MULTILINE)
    assert all(is_name(name) for name in (*named, *OF_A_PROBE))
    assert sorted(named) == sorted((*NAMES, *OF_A_PROBE))


def test_the_readme_has_three_pictures_of_moderate_size() -> None:
    pictures = [name for name in linked((ROOT / "README.md").read_text(encoding="utf-8")) if name.endswith(".png")]
    assert len(pictures) == 3
    assert all((ROOT / name).stat().st_size < 120_000 for name in pictures)
