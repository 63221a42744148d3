"""What the board that is not there reads."""

from typing import Any

from tests.firmware.page import FIRMWARE

# The words of the page: 95 degC beside 30, open circuit, -0.25 degC beside -0.0625, a dead line.
WORDS = [0x05F01E00, 0x00011901, 0xFFFCFFF0, 0x00000000]
# Readings of 65536 steps; the third is the amplifier at its limit.
PLAIN: dict[str, Any] = {"words": {"5": WORDS}, "adc": [24000, 24000, 65535, 24000]}


def board_script(
    readings: dict[str, Any], packs: int = 4, settings: dict[str, Any] | None = None, broker_away: int = 0
) -> dict[str, Any]:
    """A script for fake_board.py."""
    return {
        **readings,
        "rig": (FIRMWARE / "rig.py").read_text(encoding="utf-8"),
        "packs": packs,
        "settings": settings or {},
        "broker_away": broker_away,
    }


def the_boards_chips() -> dict[str, Any]:
    """A board with one of each converter, without a pH amplifier: two packs."""
    chips = [["paste", "MAX31855", 5], ["wall", "MAX31856", 6], ["room", "MAX6675", 7]]
    words = {"5": [0x05F01E00, 0x00011901], "6": [0x05F00000, 0x05F00001], "7": [0x0BE0, 0x0004]}
    return board_script({"words": words, "adc": []}, 2, {"THERMOCOUPLES": chips, "PH_PIN": None})
