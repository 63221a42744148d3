"""The example beside the sample cooks, and the part of it in the README: every cell runs and prints what is said."""

import contextlib
import io
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
CELL = re.compile(r"^```python\n(?P<code>.*?)^```\n\n^```output\n(?P<printed>.*?)^```\n", re.MULTILINE | re.DOTALL)


def cells(page: Path) -> list[tuple[str, str]]:
    """Each cell of a page with what stands below it."""
    return [(cell["code"], cell["printed"]) for cell in CELL.finditer(page.read_text(encoding="utf-8"))]


@pytest.mark.parametrize("name", ["recordings/example.md", "README.md"])
def test_each_example_prints_the_output_shown_below_it(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # The cells write beside themselves, and read the sample cooks by the path that a clone of the project has.
    (tmp_path / "recordings").symlink_to(ROOT / "recordings")
    monkeypatch.chdir(tmp_path)
    found = cells(ROOT / name)
    assert found and len(found) == (ROOT / name).read_text(encoding="utf-8").count("```python\n")
    space: dict[str, object] = {}
    for code, expected in found:
        printed = io.StringIO()
        with contextlib.redirect_stdout(printed):
            exec(compile(code, name, "exec"), space)
        lines = [line.rstrip() for line in printed.getvalue().splitlines()]
        assert lines == [line.rstrip() for line in expected.splitlines()], code


def test_the_readme_and_the_example_begin_with_the_import() -> None:
    assert cells(ROOT / "README.md")[0][0].splitlines()[0] == "import monitor"
    assert cells(ROOT / "recordings/example.md")[0][0].splitlines()[0] == "import monitor"
