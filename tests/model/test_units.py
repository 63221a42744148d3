"""Units as senders write them, and channels under other names."""

import math

import numpy as np
import pytest

from monitor.model.records import role
from monitor.model.units import is_temperature, is_usable_unit, parse_unit, to_celsius
from monitor.protocol import Pack, SenmlRecord, parse_columns_spec, parse_pack, parse_renaming, parse_renamings, renamed
from monitor.storage import ChannelColumns


@pytest.mark.parametrize(
    ("words", "sent", "celsius"),
    [
        # The boiling and freezing points by which degF is defined, and the kelvin's zero (SI brochure, 9th edition).
        ("C °C ºC ˚C ℃ degC DEGC deg_C deg.C Cel cel CEL Celsius", 100.0, 100.0),
        ("F °F ℉ degF Fahrenheit", 212.0, 100.0),
        ("F °F degF", 32.0, 0.0),
        ("K kelvin °K", 373.15, 100.0),
    ],
)
def test_a_temperature_unit_is_understood_in_every_spelling(words: str, sent: float, celsius: float) -> None:
    for word in words.split():
        assert to_celsius(sent, word) == pytest.approx(celsius, abs=1e-9), word
        several = to_celsius(np.array([sent, math.nan]), word)
        assert several is not None and several[0] == pytest.approx(celsius, abs=1e-9) and math.isnan(several[1])


@pytest.mark.parametrize("word", ["", "foo", "MV", "%RH", "Cels", "mC", "degX", "count", "°"])
def test_an_absent_or_unknown_unit_is_not_guessed(word: str) -> None:
    assert parse_unit(word) is None and to_celsius(100.0, word) is None
    assert not is_usable_unit("paste", word) and not is_usable_unit("ph", word) and is_usable_unit("fan", word)


def test_voltages_and_ph_are_not_temperatures() -> None:
    for word, symbol in (("V", "V"), ("v", "V"), ("mV", "mV"), ("mv", "mV"), ("pH", "pH"), ("PH", "pH")):
        unit = parse_unit(word)
        assert unit is not None and unit.symbol == symbol
        assert not is_temperature(word) and is_usable_unit("ph", word)


def test_a_channel_that_changes_name_or_unit_stays_one_series() -> None:
    """A rig that was set right in the middle of its cook goes on with the same curve."""
    columns = ChannelColumns()
    columns.appender("Paste", "").append(1.0, 1.0, 212.0, None)
    columns.appender("Paste", "F").append(2.0, 2.0, 212.0, None)
    columns.appender("paste", "C").append(3.0, 3.0, 99.0, None)
    columns.appender("PASTE", "Cel").extend(np.array([[4.0, 5.0], [4.0, 5.0], [98.0, 97.0]]), [])
    found = columns.series()
    assert {name: series.unit for name, series in found.items()} == {"Paste": "", "Paste (F)": "Cel"}
    assert found["Paste (F)"].value.tolist() == pytest.approx([100.0, 99.0, 98.0, 97.0])
    assert {role(name) for name in found} == {"paste"}


@pytest.mark.parametrize(
    ("text", "sent", "recorded"),
    [
        ("temp1=paste", "temp1", "paste"),
        ("TEMP1=paste", "temp1", "paste"),
        ("temp1=paste", "urn:dev:mac:0024befffe804ff1:Temp1", "urn:dev:mac:0024befffe804ff1:paste"),
        ("temp1=paste", "max31855/temp1", "max31855/paste"),
        ("left/temp1=paste", "left/temp1", "paste"),
        ("temp1=paste", "temp10", "temp10"),
        ("temp1=paste", "wall", "wall"),
    ],
)
def test_a_channel_is_recorded_under_its_new_name(text: str, sent: str, recorded: str) -> None:
    pack = parse_pack(f'[{{"n":"{sent}","u":"C","v":90}}]', 1.0)
    (record,) = renamed(pack, [parse_renaming(text)]).records
    assert (record.channel, record.unit, record.value) == (recorded, "C", 90.0)


def test_a_renaming_may_swap_two_channels_and_give_a_unit() -> None:
    pack = Pack(
        (SenmlRecord("wall", "", 200.0, None, None), SenmlRecord("paste", "", None, "open", None)), 1.0, None, None
    )
    found = renamed(pack, parse_renamings(["wall=paste:degF", "paste=wall:degF"]))
    assert [(one.channel, one.unit) for one in found.records] == [("paste", "degF"), ("wall", "degF")]
    assert found.records[1].fault == "open"


@pytest.mark.parametrize("text", ["", "paste", "=paste", "temp1=", "temp1=a b", "temp1=paste:foo", "temp1=ph:degF"])
def test_an_invalid_renaming_is_refused_with_an_example(text: str) -> None:
    with pytest.raises(ValueError, match=r"temp1=paste|comes in"):
        parse_renaming(text)


def test_two_channels_cannot_be_renamed_to_one() -> None:
    with pytest.raises(ValueError, match="channel 'paste' twice"):
        parse_renamings(["temp1=paste", "temp2=Paste"])
    with pytest.raises(ValueError, match="sent 'temp1' twice"):
        parse_renamings(["temp1=paste", "Temp1=wall"])


def test_columns_with_an_unknown_unit_are_refused_with_the_known_units() -> None:
    for spec in ("paste:foo", "Wall:rpm", "left/paste:pH"):
        with pytest.raises(ValueError, match=r"comes in °C, °F, K"):
            parse_columns_spec(spec)
    with pytest.raises(ValueError, match=r"ph comes in V, mV, pH"):
        parse_columns_spec("ph:Cel")
    assert len(parse_columns_spec("paste:°C,wall:mV,max31855/room:count,ph:mV,fan:rpm").columns) == 5
