"""The pages are found by entry point, so that the commands work without importing them."""

import subprocess
import sys
from importlib.metadata import EntryPoint, EntryPoints, entry_points
from pathlib import Path

import pytest

from monitor.cli import main, pages
from monitor.cli.pages import GROUP, installed_pages


def test_the_installed_program_offers_its_pages() -> None:
    (offered,) = entry_points(group=GROUP)
    assert offered.value == "dashboard.command_line:PAGES"
    assert installed_pages().address(8050).startswith("http://")


@pytest.mark.parametrize("offered", [(), (EntryPoint("dashboard", "no_such_program:PAGES", GROUP),)])
@pytest.mark.parametrize("command", ["serve", "phones"])
def test_without_pages_one_sentence_says_what_to_install(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    command: str,
    offered: tuple[EntryPoint, ...],
) -> None:
    monkeypatch.setattr(pages, "entry_points", lambda group: EntryPoints(offered))
    assert main([command, "--recordings", str(tmp_path)]) == 1
    (sentence,) = capsys.readouterr().err.splitlines()
    assert "The pages are not installed; install kettleside with its package dashboard" in sentence


def test_a_command_without_pages_loads_none_of_them() -> None:
    code = "import sys, monitor.cli.serve, monitor.cli.phones, monitor.cli.demo, monitor.cli.pages; print(*sys.modules)"
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.split()
    assert not {"dashboard", "flask", "dash"} & {name.partition(".")[0] for name in loaded}
