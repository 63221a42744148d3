"""The manual's tour of past cooks says what the commands really print."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PAGE = (ROOT / "dashboard" / "manual" / "past-cooks.md").read_text("utf-8")
BLOCKS = re.findall(r"```console\n\$ kettleside ([^\n]+)\n(.*?)\n```", PAGE, re.S)
# Stands on the page for lines that are left out.
LEFT_OUT = "…"


def fits(shown: list[str], printed: list[str]) -> bool:
    """Whether what is shown is what was printed, but for lines left out where it says so."""
    if not shown:
        return not printed
    if shown[0] == LEFT_OUT:
        return any(fits(shown[1:], printed[skip:]) for skip in range(1, len(printed) + 1))
    return bool(printed) and shown[0] == printed[0].rstrip() and fits(shown[1:], printed[1:])


def test_the_comparison_of_output_detects_a_difference() -> None:
    assert fits(["a", LEFT_OUT, "d"], ["a", "b", "c", "d "])
    assert not fits(["a", LEFT_OUT, "d"], ["a", "b", "c"]) and not fits(["a"], ["a", "b"])
    assert not fits(["a", LEFT_OUT], ["a"]) and not fits(["a"], ["b"])


def test_the_tour_has_its_four_stops() -> None:
    assert [command.split()[0] for command, _ in BLOCKS] == ["list", "show", "show", "list"]


@pytest.mark.parametrize(("command", "shown"), BLOCKS, ids=[command[:40] for command, _ in BLOCKS])
def test_the_tour_shows_the_real_output(command: str, shown: str) -> None:
    words = [sys.executable, "-m", "monitor.cli", *command.split()]
    environment = {**os.environ, "TZ": "UTC"}
    done = subprocess.run(words, capture_output=True, text=True, cwd=ROOT, env=environment, check=True, timeout=120)
    assert fits(shown.splitlines(), done.stdout.splitlines()), done.stdout
