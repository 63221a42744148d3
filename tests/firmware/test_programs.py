"""The reference firmware under MicroPython itself, and the sketch compiled; needs node, its package, and g++."""

import json
import os
import shutil
import subprocess
from pathlib import Path

import pytest

from tests.firmware.page import FIRMWARE, lines
from tests.firmware.scripts import PLAIN, WORDS, board_script, the_boards_chips
from tests.firmware.test_rig_in_python import run

pytestmark = pytest.mark.firmware

HERE = Path(__file__).parent
ENGINE = "KETTLESIDE_MICROPYTHON"


@pytest.fixture
def engine() -> Path:
    """MicroPython for Node: micropython.mjs of the npm package that CI installs into a folder of its own."""
    path = Path(os.environ.get(ENGINE, ""))
    assert path.is_file(), (
        f"set {ENGINE} to micropython.mjs of the npm package @micropython/micropython-webassembly-pyscript, "
        "installed with npm install --prefix FOLDER"
    )
    assert shutil.which("node"), "node is not on the path"
    return path


@pytest.mark.parametrize(
    "script",
    [
        board_script(PLAIN),
        board_script(PLAIN, packs=1, settings={"SEND_WORDS": True}),
        board_script(PLAIN, packs=14, settings={"BROKER": "192.0.2.1", "RIG": "kitchen"}, broker_away=1),
        the_boards_chips(),
    ],
    ids=["lines", "words", "broker", "chips"],
)
def test_micropython_does_what_cpython_does(engine: Path, tmp_path: Path, script: dict[str, object]) -> None:
    (tmp_path / "script.json").write_text(json.dumps(script))
    done = subprocess.run(
        ["node", str(HERE / "run_micropython.mjs"), str(engine), str(HERE / "fake_board.py"), "script.json"],
        capture_output=True,
        text=True,
        cwd=tmp_path,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    *printed, last = done.stdout.splitlines()
    in_python, seen = run(script, tmp_path)
    assert printed == in_python and printed
    assert json.loads(last) == seen


def test_micropython_prints_the_lines_of_the_page(engine: Path, tmp_path: Path) -> None:
    (tmp_path / "script.json").write_text(json.dumps(board_script(PLAIN)))
    done = subprocess.run(
        ["node", str(HERE / "run_micropython.mjs"), str(engine), str(HERE / "fake_board.py"), "script.json"],
        capture_output=True,
        text=True,
        cwd=tmp_path,
        timeout=120,
        check=True,
    )
    printed = done.stdout.splitlines()[:-1]
    assert len(printed) == 4 and all(line in lines() for line in printed)


def test_the_sketch_compiles_and_prints_the_lines_of_the_page(tmp_path: Path) -> None:
    assert shutil.which("g++"), "g++ is not on the path"
    program = tmp_path / "plain_rig"
    stand_in = HERE / "stand_in"
    sources = [str(FIRMWARE / "plain_rig" / "plain_rig.ino"), str(stand_in / "main.cpp")]
    flags = ["-std=c++17", "-Wall", "-Wextra", "-Werror", "-I", str(stand_in), "-include", "Arduino.h"]
    subprocess.run(["g++", *flags, "-o", str(program), "-x", "c++", *sources], check=True, timeout=120)
    arguments = [f"{word:08X}:{1023 if place == 2 else 440}" for place, word in enumerate(WORDS)]
    done = subprocess.run([str(program), *arguments], capture_output=True, check=True, timeout=60)
    printed = done.stdout.decode().split("\r\n")
    assert printed.pop() == "" and len(printed) == 4
    assert all(line in lines() for line in printed)
