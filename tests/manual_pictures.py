"""The manual's pictures, drawn anew: ``.venv/bin/python -m tests.manual_pictures``. It takes Chromium."""

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
MANUAL = ROOT / "dashboard" / "manual"
# Picture -> the command that draws it, but for the file's name.
PICTURES = {
    "power-cut.svg": ("show", "2026-05-09T090000Z-invented-power-cut", "--plot"),
}


def draw(folder: Path) -> None:
    """Draws every picture into ``folder``, with its times in UTC like those of the tour."""
    for name, command in PICTURES.items():
        words = [sys.executable, "-m", "monitor.cli", *command, str(folder / name)]
        environment = {**os.environ, "TZ": "UTC"}
        subprocess.run(words, cwd=ROOT, env=environment, check=True, stdout=subprocess.DEVNULL)


if __name__ == "__main__":
    draw(MANUAL)
