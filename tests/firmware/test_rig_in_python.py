"""The reference firmware under CPython, over a board that is not there."""

import ast
import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from monitor.notifications.repeat import Notice
from monitor.protocol import Pack, parse_pack
from monitor.protocol.lines import parse_line
from tests.firmware.page import FIRMWARE, lines, table
from tests.firmware.scripts import (
    FIRST_LIGHT,
    PLAIN,
    board_script,
    esp32_script,
    first_light_script,
    pattern,
    rung_script,
    sealed_script,
    the_boards_chips,
)

ARRIVED = 1_773_480_000.0


def run(script: dict[str, Any], folder: Path) -> tuple[list[str], dict[str, Any]]:
    """The serial lines, and what the board saw."""
    (folder / "script.json").write_text(json.dumps(script))
    harness = Path(__file__).with_name("fake_board.py")
    program = f"import json; exec(open({str(harness)!r}).read()); play(json.load(open('script.json')))"
    done = subprocess.run(
        [sys.executable, "-c", f"import sys; sys.path.insert(0, ''); {program}"],
        capture_output=True,
        text=True,
        cwd=folder,
        timeout=60,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    *printed, last = done.stdout.splitlines()
    return printed, json.loads(last)


def test_the_lines_are_those_of_the_page(tmp_path: Path) -> None:
    printed, seen = run(board_script(PLAIN), tmp_path)
    assert len(printed) == 4 and all(line in lines() for line in printed)
    assert seen["fed"] == 4 and seen["sent"] == []


def test_raw_words_are_those_of_the_page(tmp_path: Path) -> None:
    (line,), _ = run(board_script(PLAIN, packs=1, settings={"SEND_WORDS": True}), tmp_path)
    assert line in lines()


def test_all_three_chips_are_read_and_set_up(tmp_path: Path) -> None:
    printed, seen = run(the_boards_chips(), tmp_path)
    packs = [parse_line(line.encode(), ARRIVED) for line in printed]
    assert all(isinstance(pack, Pack) for pack in packs)
    values = [
        [r.value if r.fault is None else r.fault for r in pack.records] for pack in packs if isinstance(pack, Pack)
    ]
    # The words of the page: 95 degC from each chip, then what each calls an open circuit.
    assert values == [[95.0, 30.0, 95.0, 95.0], ["open circuit", 25.0, "open circuit", "open circuit"]]
    # CR0 and CR1 of the MAX31856 in SPI mode 1, then a read from register 0C for each pack.
    assert seen["written"] == [[6, 1, "809003"], [6, 1, "0C"], [6, 1, "0C"]]


def test_readings_queued_during_an_outage_are_published(tmp_path: Path) -> None:
    settings = {"BROKER": "192.0.2.1", "RIG": "kitchen"}
    _, seen = run(board_script(PLAIN, packs=14, settings=settings, broker_away=1), tmp_path)
    will, online, *rest = seen["sent"]
    assert will == ["will", "kettleside/kitchen/status", "offline", True, 1]
    assert online == ["publish", "kettleside/kitchen/status", "online", True, 1]
    packs = [parse_pack(payload, ARRIVED) for _, topic, payload, _, _ in rest]
    assert {(topic, retain, qos) for _, topic, _, retain, qos in rest} == {("kettleside/kitchen/readings", False, 1)}
    assert [pack.seq for pack in packs] == list(range(14))
    ages = [round(ARRIVED - (pack.records[0].time or 0.0), 3) for pack in packs]
    # The first attempt took three seconds; after it the beat begins anew, and ten seconds on it is tried again.
    assert ages == [13.0, *(float(age) for age in range(10, 0, -1)), 0.0, 0.0, 0.0]


def test_a_long_outage_keeps_the_latest_two_minutes(tmp_path: Path) -> None:
    script = board_script(PLAIN, packs=300, settings={"BROKER": "192.0.2.1"}, broker_away=15)
    printed, seen = run(script, tmp_path)
    assert len(printed) == 300 and seen["fed"] == 300
    kept = [parse_pack(row[2], ARRIVED).seq for row in seen["sent"] if row[1].endswith("readings")]
    assert kept[-1] == 299 and len(kept) == kept[-1] - (kept[0] or 0) + 1 and 120 <= len(kept) < 300


@pytest.mark.parametrize("adc", [0, 65535])
def test_an_amplifier_at_its_limit_is_a_fault(tmp_path: Path, adc: int) -> None:
    (line,), _ = run(board_script({**PLAIN, "adc": [adc]}, packs=1), tmp_path)
    pack = parse_line(line.encode(), ARRIVED)
    assert isinstance(pack, Pack) and "amplifier at its limit" in str(pack.records[-1].fault)


def test_notices_are_those_of_the_page() -> None:
    shown = [row["line"] for row in table("down") if row["sounds"] != "nothing"]
    assert [Notice(json.loads(line)["notice"], "", 1_773_484_800.0).as_json() for line in shown] == shown
    assert {row["sounds"] for row in table("down")} == {"1 short", "2 short", "3 short", "3 long", "nothing"}


@pytest.mark.parametrize("row", table("down"), ids=lambda row: row["line"])
@pytest.mark.parametrize("way", ["cable", "broker"])
def test_the_buzzer_sounds_as_the_page_says_and_costs_no_reading(tmp_path: Path, row: dict[str, str], way: str) -> None:
    printed, seen = run(rung_script(row["line"], way), tmp_path)
    assert pattern(seen["rung"]) == row["sounds"]
    assert len(printed) == seen["fed"] == 6
    if way == "broker":
        assert ["subscribe", "kettleside/cooker/notice", "", False, 1] in seen["sent"]
        packs = [parse_pack(sent[2], ARRIVED) for sent in seen["sent"] if sent[1].endswith("readings")]
        assert [pack.seq for pack in packs] == list(range(6))


def test_partial_lines_noise_and_a_flood_do_not_delay_readings(tmp_path: Path) -> None:
    stir = '{"t":1773484800.0,"notice":"stir due"}\n'
    heard = [[0, "x" * 5000 + "\n\n{}\n[1]\n"], [2000, stir[:20]], [2500, stir[20:]]]
    printed, seen = run(board_script(PLAIN, packs=7, settings={"BUZZER_PIN": 15}, heard=heard), tmp_path)
    assert len(printed) == seen["fed"] == 7 and pattern(seen["rung"]) == "2 short"
    assert next(moment for moment, level in seen["rung"] if level) >= 2500


def test_without_a_buzzer_nothing_is_read_or_subscribed(tmp_path: Path) -> None:
    heard = [[0, '{"t":1773484800.0,"notice":"stir due"}\n']]
    script = board_script(PLAIN, settings={"BROKER": "192.0.2.1"}, heard=heard, notices=heard)
    _, seen = run(script, tmp_path)
    assert seen["rung"] == [] and "subscribe" not in [sent[0] for sent in seen["sent"]]


@pytest.mark.parametrize("refused", ["connect", "subscribe"])
def test_a_refusing_broker_is_retried_and_gets_the_readings(tmp_path: Path, refused: str) -> None:
    settings = {"BROKER": "192.0.2.1", "BUZZER_PIN": 15}
    printed, seen = run(board_script(PLAIN, packs=14, settings=settings, refused=[refused]), tmp_path)
    packs = [parse_pack(sent[2], ARRIVED) for sent in seen["sent"] if sent[1].endswith("readings")]
    assert len(printed) == seen["fed"] == 14 and [pack.seq for pack in packs] == list(range(14))


@pytest.mark.parametrize(("microvolts", "electrode_v"), [(1_200_000, -0.15), (1_650_000, 0.0), (2_181_000, 0.177)])
def test_the_ph_input_of_an_esp32_is_attenuated(tmp_path: Path, microvolts: int, electrode_v: float) -> None:
    # Without attenuation it would be at its end at 1.1 V, and so would each of these.
    (line,), _ = run(esp32_script(microvolts), tmp_path)
    pack = parse_line(line.encode(), ARRIVED)
    assert isinstance(pack, Pack)
    (volts,) = [one.value for one in pack.records if one.channel == "ph"]
    assert volts == pytest.approx(electrode_v, abs=1e-4)


@pytest.mark.parametrize("microvolts", [100_000, 2_500_000])
def test_what_an_esp32_cannot_read_truly_is_a_fault(tmp_path: Path, microvolts: int) -> None:
    (line,), _ = run(esp32_script(microvolts), tmp_path)
    pack = parse_line(line.encode(), ARRIVED)
    assert isinstance(pack, Pack) and "amplifier at its limit" in str(pack.records[-1].fault)


def test_packs_go_over_tls_to_a_broker_whose_certificate_is_checked(tmp_path: Path) -> None:
    printed, seen = run(sealed_script(), tmp_path)
    _will, tls, online, *rest = seen["sent"]
    assert tls[:2] == ["tls", "broker.home.arpa"] and online[2] == "online"
    assert [parse_pack(row[2], ARRIVED).seq for row in rest] == [0, 1, 2] and len(printed) == 3


@pytest.mark.parametrize("wrong", [{"certificate": False}, {"files": {}}, {"time_server": False}, {"version": [1, 22]}])
def test_without_a_safe_connection_nothing_is_sent_and_the_cable_goes_on(
    tmp_path: Path, wrong: dict[str, object]
) -> None:
    printed, seen = run(sealed_script(**wrong), tmp_path)
    assert len(printed) == seen["fed"] == 3
    assert not [row for row in seen["sent"] if row[0] == "publish"]


@pytest.mark.parametrize("name", FIRST_LIGHT)
def test_first_light_says_what_is_wrong_and_what_to_do(tmp_path: Path, name: str) -> None:
    otherwise, wanted = FIRST_LIGHT[name]
    printed, _ = run(first_light_script(**otherwise), tmp_path)
    (told,) = [line for line in printed if line.startswith(wanted)]
    wrong = [line for line in printed if line.startswith("WRONG")]
    if told.startswith("WRONG"):
        assert wrong == [told] and "; " in told
        assert printed[-1].startswith("1 wrong.")
    else:
        assert not wrong and printed[-1] == "All is well."


def test_the_example_of_settings_sets_what_there_is() -> None:
    set_there = assigned("settings.example.py")
    assert set_there and set_there <= assigned("rig.py")


def assigned(name: str) -> set[str]:
    """The names that a program of the board assigns at its top."""
    tree = ast.parse((FIRMWARE / name).read_text(encoding="utf-8"))
    found = [target for node in tree.body if isinstance(node, ast.Assign) for target in node.targets]
    return {target.id for target in found if isinstance(target, ast.Name)}
