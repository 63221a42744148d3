"""The reference firmware under MicroPython itself, and the sketch compiled; needs node, its package, and g++."""

import json
import os
import shutil
import subprocess
from pathlib import Path

import pytest

from tests.firmware.page import FIRMWARE, lines, table
from tests.firmware.scripts import (
    FIRST_LIGHT,
    PLAIN,
    WORDS,
    board_script,
    esp32_script,
    first_light_script,
    pattern,
    rung_script,
    sealed_script,
    the_boards_chips,
)
from tests.firmware.test_rig_in_python import run

pytestmark = pytest.mark.firmware

HERE = Path(__file__).parent
ENGINE = "KETTLESIDE_MICROPYTHON"
WAYS = ("cable", "broker")


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
        esp32_script(1_200_000),
        sealed_script(),
        sealed_script(certificate=False),
        *(first_light_script(**otherwise) for otherwise, _ in FIRST_LIGHT.values()),
        *(rung_script(row["line"], way) for row in table("down") for way in WAYS),
    ],
    ids=[
        "lines",
        "words",
        "broker",
        "chips",
        "ESP32",
        "TLS",
        "no TLS",
        *FIRST_LIGHT,
        *(f"{row['line']} by {way}" for row in table("down") for way in WAYS),
    ],
)
def test_micropython_and_cpython_behave_alike(engine: Path, tmp_path: Path, script: dict[str, object]) -> None:
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


def compiled(folder: Path, sketch: str) -> Path:
    """The sketch as a program of this machine."""
    assert shutil.which("g++"), "g++ is not on the path"
    program, stand_in = folder / "plain_rig", HERE / "stand_in"
    source = folder / "plain_rig.cpp"
    source.write_text(sketch)
    flags = ["-std=c++17", "-Wall", "-Wextra", "-Werror", "-I", str(stand_in), "-include", "Arduino.h"]
    command = ["g++", *flags, "-o", str(program), str(source), str(stand_in / "main.cpp")]
    subprocess.run(command, check=True, timeout=120)
    return program


SKETCH = FIRMWARE / "plain_rig" / "plain_rig.ino"


def test_the_sketch_compiles_and_prints_the_lines_of_the_page(tmp_path: Path) -> None:
    arguments = [f"{word:08X}:{1023 if place == 2 else 440}" for place, word in enumerate(WORDS)]
    program = compiled(tmp_path, SKETCH.read_text(encoding="utf-8"))
    done = subprocess.run([program, *arguments], capture_output=True, check=True, timeout=60)
    printed = done.stdout.decode().split("\r\n")
    assert printed.pop() == "" and len(printed) == 4
    assert all(line in lines() for line in printed)


def test_the_sketch_sounds_notices_from_the_serial_line(tmp_path: Path) -> None:
    text = SKETCH.read_text(encoding="utf-8")
    assert text.count("BUZZER_PIN = -1;") == 1
    program = compiled(tmp_path, text.replace("BUZZER_PIN = -1;", "BUZZER_PIN = 9;"))
    long_name = '{"t":1773484800.0,"notice":"no data of a probe with a very long name indeed"}'
    for line, sounds in [*((row["line"], row["sounds"]) for row in table("down")), (long_name, "3 long")]:
        arguments = [f"{WORDS[0]:08X}:440", "<" + "x" * 200, f"<{line}"]
        done = subprocess.run([program, *arguments], capture_output=True, check=True, timeout=60)
        turns = [[int(word) for word in turn.split()] for turn in done.stderr.decode().splitlines()]
        assert pattern(turns) == sounds, line
        # A pack each second all the while.
        assert len(done.stdout.decode().splitlines()) == 9
