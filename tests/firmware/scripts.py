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


# A broker over TLS, by its name.
SEALED: dict[str, Any] = {
    "settings": {"BROKER": "broker.home.arpa", "BROKER_PORT": 8883, "BROKER_CA": "authority.der", "PH_PIN": None},
    "files": {"authority.der": "a certificate"},
    "year": 2000,
}


def sealed_script(**more: Any) -> dict[str, Any]:
    """A board that sends to a broker over TLS; its clock was never set."""
    return board_script(PLAIN, packs=3, **SEALED) | more


def esp32_script(microvolts: int) -> dict[str, Any]:
    """An ESP32 whose pH input has this voltage: one pack."""
    return board_script({**PLAIN, "adc": [microvolts // 50]}, 1) | {"platform": "esp32"}


# What first light finds on each board, by what is wrong: what is otherwise than in a board on which all is well, and
# the beginning of the line that tells it.
WARM = [0x01901900]
FIRST_LIGHT: dict[str, tuple[dict[str, Any], str]] = {
    "all is well": ({}, "All is well."),
    "a cable alone": ({"settings": {}}, "ok     broker: none is set"),
    "sensor open": ({"words": {"5": [0x00011901]}}, "WRONG  paste (MAX31855): open circuit"),
    "sensor shorted": ({"words": {"5": [0x00011902]}}, "WRONG  paste (MAX31855): short to ground"),
    "converter silent": ({"words": {"5": [0]}}, "WRONG  paste (MAX31855): converter does not answer"),
    "wires swapped": ({"words": {"5": [0x00001900]}}, "WRONG  paste (MAX31855): the tip reads 0.0"),
    "ADC saturated": ({"adc": [65535]}, "WRONG  ph: the input is at its end"),
    "ADC of an ESP32 saturated": ({"platform": "esp32", "adc": [60000]}, "WRONG  ph: the input is at its end"),
    "no such network": ({"wifi": "absent"}, "WRONG  Wi-Fi: no network has this name"),
    "wrong password": ({"wifi": "wrong password"}, "WRONG  Wi-Fi: it refuses the password"),
    "clock": ({"time_server": False}, "WRONG  clock: no time server answers"),
    "broker not running": ({"errno": 111}, "WRONG  broker: nobody answers at broker.home.arpa:8883; the machine is"),
    "broker unreachable": ({"errno": 113}, "WRONG  broker: nobody answers at broker.home.arpa:8883; no way"),
    "broker away": ({"broker_away": 1}, "WRONG  broker: nobody answers at broker.home.arpa:8883; look at BROKER"),
    "broker refuses": ({"refused": ["connect"]}, "WRONG  broker: it answers with code 5"),
    "TLS": ({"certificate": False}, "WRONG  TLS: no safe connection"),
    "MicroPython too old for TLS": ({"version": [1, 22, 2]}, "WRONG  TLS: no safe connection (TLS takes MicroPython"),
    "no certificate on the board": ({"files": {}}, "WRONG  TLS: there is no file authority.der on the board"),
}


def first_light_script(**otherwise: Any) -> dict[str, Any]:
    """A board in a kitchen of 25 degC, on which first_light.py looks."""
    wired = {**PLAIN, "words": {"5": WARM}, "adc": [24000]}
    well = board_script(wired, **SEALED)
    well["settings"] = {key: value for key, value in SEALED["settings"].items() if key != "PH_PIN"}
    return well | {"first_light": (FIRMWARE / "first_light.py").read_text(encoding="utf-8")} | otherwise


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
