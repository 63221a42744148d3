"""What the firmware page promises, held against the decoder, line by line and word by word."""

import math
import re
from collections.abc import Iterator
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest

from monitor.cli import main
from monitor.probes.converters import CONVERTERS, decode
from monitor.protocol import BadLine, Pack, parse_columns_spec
from monitor.protocol.lines import parse_line
from tests.firmware.page import FIRMWARE, table
from tests.firmware.scripts import first_light_script
from tests.firmware.test_rig_in_python import run

ARRIVED = 1_773_480_000.0
WITH_COLUMNS = re.compile(r"with `--columns (\S+)`: ")


def told(pack: Pack) -> Iterator[str]:
    """A pack in the words of the page."""
    for record in pack.records:
        age = "" if record.time is None else f", {ARRIVED - record.time:g} s ago"
        said = f" fault: {record.fault}" if record.fault is not None else f" {record.value:.10g} {record.unit}"
        yield f"{record.channel}{said}{age}"
    if pack.seq is not None:
        yield f"seq {pack.seq}"


@pytest.mark.parametrize("row", table("lines"), ids=lambda row: row["line"][:60])
@pytest.mark.parametrize("end", [b"", b"\r"])
def test_each_line_is_read_as_the_page_says(row: dict[str, str], end: bytes) -> None:
    wanted = row["is read as"]
    spec = WITH_COLUMNS.match(wanted)
    columns = parse_columns_spec(spec.group(1)) if spec else None
    item = parse_line(row["line"].encode() + end, ARRIVED, columns)
    if wanted.startswith("refused: "):
        assert isinstance(item, BadLine) and item.why == wanted.removeprefix("refused: ")
    else:
        assert isinstance(item, Pack)
        assert "; ".join(told(item)) == WITH_COLUMNS.sub("", wanted)


def test_the_page_shows_valid_and_invalid_lines() -> None:
    verdicts = [row["is read as"].startswith("refused") for row in table("lines")]
    assert verdicts.count(True) >= 5 and verdicts.count(False) >= 10


@pytest.mark.parametrize("row", table("words"), ids=lambda row: f"{row['converter']} {row['word']}")
def test_each_word_is_decoded_as_the_page_says(row: dict[str, str]) -> None:
    assert row["source"]
    said = decode(row["converter"], np.array([int(row["word"], 16)], dtype=np.float64))
    value = said.temperature_c[0]
    assert row["reads"] == (said.faults[0][1] if math.isnan(value) else f"{value:.10g} °C")
    cold = "-" if said.cold_c is None or math.isnan(said.cold_c[0]) else f"{said.cold_c[0]:.10g} °C"
    assert row["cold junction"] == cold


def test_every_converter_has_example_words_on_the_page() -> None:
    assert {row["converter"] for row in table("words")} == set(CONVERTERS)


def test_the_commands_on_the_page_exist(capsys: pytest.CaptureFixture[str]) -> None:
    text = (FIRMWARE / "README.md").read_text(encoding="utf-8")
    found = re.findall(r"`kettleside ([a-z]+(?: (?:fitting|thermocouple|ph))?)", text)
    assert len(found) >= 5
    for words in set(found):
        with pytest.raises(SystemExit) as ended:
            main([*words.split(), "--help"])
        assert ended.value.code == 0
    capsys.readouterr()


def test_the_drawing_is_valid_svg_with_a_text_description() -> None:
    # Our own file.
    drawing = ElementTree.parse(FIRMWARE / "wiring.svg").getroot()
    assert drawing.tag.endswith("svg")
    description = drawing.find("{http://www.w3.org/2000/svg}desc")
    assert description is not None and "isolated" in str(description.text)


def test_the_pins_on_the_page_are_those_of_the_program() -> None:
    text = (FIRMWARE / "README.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| ([^|]+) \| (\d+) \| (\d+) \|$", text.partition("<!-- pins -->")[2], re.MULTILINE)
    pins = {what: (int(rp2), int(esp32)) for what, rp2, esp32 in rows}
    program = (FIRMWARE / "rig.py").read_text(encoding="utf-8")
    for what, name in (("SPI bus", "SPI_BUS"), ("pH amplifier", "PH_PIN")):
        found = re.search(rf"^{name} = (\d+) if ESP32 else (\d+)$", program, re.MULTILINE)
        assert found is not None and pins[what] == (int(found[2]), int(found[1]))
    assert '("paste", "MAX31855", 5)' in program and pins["chip select of the paste"] == (5, 5)


def test_first_light_says_what_the_page_shows(tmp_path: Path) -> None:
    text = (FIRMWARE / "README.md").read_text(encoding="utf-8")
    shown = text.partition("```text\nWRONG")[2].partition("\n```")[0].splitlines()
    printed, _ = run(first_light_script(words={"5": [0x00011901]}), tmp_path)
    assert ["WRONG" + shown[0], *shown[1:]] == printed
