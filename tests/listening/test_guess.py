"""What a number probably is, by its name, its unit and its size."""

import pytest

from monitor.listening.guess import named_role, nature, plain_name, words


@pytest.mark.parametrize(
    ("place", "path", "unit", "value", "kind", "read_unit"),
    [
        ("home/probe", "temperature", "", 21.5, "temperature", "degC"),
        ("home/probe", "temperature", "F", 200.3, "temperature", "degF"),
        ("home/probe", "temperature", "", 200.3, "temperature", "degF"),
        ("home/probe", "temperature", "", 366.6, "temperature", "K"),
        ("home/probe", "temperature_f", "", 70.1, "temperature", "degF"),
        ("home/probe", "tempC", "", 70.1, "temperature", "degC"),
        ("home/probe", "temp_fahrenheit", "", 70.1, "temperature", "degF"),
        ("home/probe", "current_temperature", "", 70.1, "temperature", "degC"),
        ("esp/sensor/pot_temperature/state", "", "", 93.5, "temperature", "degC"),
        ("esp/sensor/pot_temperature/state", "", "°C", 93.5, "temperature", "degC"),
        ("tele/x/SENSOR", "DS18B20-1.Temperature", "C", 93.5, "temperature", "degC"),
        ("x/y", "t", "", 93.5, "temperature", "degC"),
        ("/dev/ttyUSB0", "2", "", 93.5, "temperature", "degC"),
        ("lab/ph", "", "", 9.7, "ph", "pH"),
        ("lab/x", "ph", "mV", -180.0, "ph", "mV"),
        ("home/probe", "battery", "", 80.0, "other", ""),
        ("home/probe", "battery_temperature", "", 30.0, "other", ""),
        ("home/probe", "target_temperature", "", 95.0, "other", ""),
        ("home/probe", "humidity", "%", 40.0, "other", ""),
        ("home/probe", "x", "", 40.0, "other", ""),
        ("home/battery/state", "", "", 40.0, "other", ""),
        # A disconnected sensor of a common kind sends this.
        ("home/probe", "temperature", "", -127.0, "other", ""),
        ("home/probe", "temperature", "C", 1800.0, "other", ""),
        ("home/probe", "t", "", 1_773_480_000.0, "other", ""),
    ],
)
def test_a_number_is_told_by_name_unit_and_size(
    place: str, path: str, unit: str, value: float, kind: str, read_unit: str
) -> None:
    found = nature(place, path, unit, value)
    assert (found.kind, found.unit) == (kind, read_unit)
    assert found.why


def test_a_unit_that_was_taken_for_granted_is_to_be_checked() -> None:
    assert nature("x", "temperature", "", 68.0).doubt.startswith("68 would be 20 °C if it is °F")
    assert not nature("x", "temperature", "C", 68.0).doubt
    assert not nature("x", "temperature", "", 21.0).doubt


@pytest.mark.parametrize(
    ("place", "path", "celsius", "channel"),
    [
        ("soap/temp", "", 93.0, "paste"),
        ("kitchen/x", "crockTemp", 93.0, "wall"),
        ("kitchen/room/temp", "", 21.0, "room"),
        ("kitchen/room/temp", "", 93.0, ""),
        ("room/x", "pot.temperature", 93.0, "paste"),
        ("x/tc", "internal", 25.0, "cold"),
        ("kitchen/spotlight", "", 21.0, ""),
    ],
)
def test_a_name_may_say_the_channel(place: str, path: str, celsius: float, channel: str) -> None:
    assert named_role(place, path, celsius) == channel


def test_a_name_is_split_into_its_words() -> None:
    assert words("tempF") == ("temp", "f")
    assert words("ESPTemp_2") == ("esp", "temp", "2")
    assert plain_name("home/Grill Probe", "") == "grill-probe"
    assert plain_name("x", "§§") == "probe"
