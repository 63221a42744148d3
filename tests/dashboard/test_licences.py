"""The manual names every library that is installed with the program, with the licence that the library names."""

import importlib.metadata
import importlib.util
import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PAGE = (ROOT / "dashboard" / "manual" / "licences.md").read_text(encoding="utf-8")


def named() -> dict[str, str]:
    """Library -> licence, as the page has them."""
    table = PAGE[PAGE.index("| library | licence |") :].splitlines()[2:]
    rows = [row.strip("|").partition(" | ") for row in table[: table.index("")]]
    return {name.strip(): licence.strip() for name, _, licence in rows}


def test_the_page_has_every_locked_library_and_no_other() -> None:
    lock = (ROOT / "requirements.txt").read_text(encoding="utf-8")
    locked = {name.lower().replace("_", "-") for name in re.findall(r"^([A-Za-z0-9][\w.-]*)==", lock, re.MULTILINE)}
    assert set(named()) == locked


def test_each_library_has_the_licence_that_it_names() -> None:
    spec = importlib.util.spec_from_file_location("audit", ROOT / ".ci" / "audit.py")
    assert spec is not None and spec.loader is not None
    audit = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(audit)
    here = audit.installed()
    told = named()
    assert len(told.keys() & here.keys()) > 40
    assert {name: audit.licence(here[name]) for name in told.keys() & here.keys()} == {
        name: told[name] for name in told.keys() & here.keys()
    }


def test_the_page_has_each_borrowed_script() -> None:
    licences = sorted((ROOT / "dashboard" / "assets").glob("*.LICENSE.txt"))
    assert licences and all(f"| `{path.name.removesuffix('.LICENSE.txt')}" in PAGE for path in licences)
    assert all("MIT License" in path.read_text(encoding="utf-8") for path in licences)
    assert importlib.metadata.metadata("kettleside")["License-Expression"] == "MIT"
