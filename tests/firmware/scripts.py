"""What the board that is not there reads."""

from itertools import pairwise
from typing import Any

from tests.firmware.page import FIRMWARE

# The words of the page: 95 degC beside 30, open circuit, -0.25 degC beside -0.0625, a dead line.
WORDS = [0x05F01E00, 0x00011901, 0xFFFCFFF0, 0x00000000]
# Readings of 65536 steps; the third is the amplifier at its limit.
PLAIN: dict[str, Any] = {"words": {"5": WORDS}, "adc": [24000, 24000, 65535, 24000]}


def board_script(
    readings: dict[str, Any],
    packs: int = 4,
    settings: dict[str, Any] | None = None,
    broker_away: int = 0,
    **more: list[Any],
) -> dict[str, Any]:
    """A script for fake_board.py. more: what else of it is not empty."""
    return {
        **readings,
        "rig": (FIRMWARE / "rig.py").read_text(encoding="utf-8"),
        "packs": packs,
        "settings": settings or {},
        "broker_away": broker_away,
        "refused": [],
        "heard": [],
        "notices": [],
        **more,
    }


def the_boards_chips() -> dict[str, Any]:
    """A board with one of each converter, without a pH amplifier: two packs."""
    chips = [["paste", "MAX31855", 5], ["wall", "MAX31856", 6], ["room", "MAX6675", 7]]
    words = {"5": [0x05F01E00, 0x00011901], "6": [0x05F00000, 0x05F00001], "7": [0x0BE0, 0x0004]}
    return board_script({"words": words, "adc": []}, 2, {"THERMOCOUPLES": chips, "PH_PIN": None})


def rung_script(line: str, way: str) -> dict[str, Any]:
    """A board with a buzzer, to which this line comes by ``cable`` or ``broker`` after a second."""
    settings: dict[str, Any] = {"BUZZER_PIN": 15}
    if way == "cable":
        return board_script(PLAIN, packs=6, settings=settings, heard=[[1000, f"{line}\n"]])
    return board_script(PLAIN, packs=6, settings={**settings, "BROKER": "192.0.2.1"}, notices=[[1000, line]])


def pattern(rung: list[list[int]]) -> str:
    """What a buzzer sounded, in the words of the page. rung: milliseconds and level at each turn, in order."""
    turns = rung[1:] if rung and rung[0][1] == 0 else rung
    if not turns:
        return "nothing"
    assert [level for _, level in turns] == [1, 0] * (len(turns) // 2)
    gaps = {round((later[0] - earlier[0]) / 150) * 150 for earlier, later in pairwise(turns)}
    return f"{len(turns) // 2} {({150: 'short', 600: 'long'})[gaps.pop()]}" if len(gaps) == 1 else f"{gaps}"
