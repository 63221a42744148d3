"""Payloads that are no packs: plain values, JSON objects and rows of numbers are read, or refused with what would do."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.model import parse_unit
from monitor.protocol import (
    Pack,
    PackError,
    PayloadLayout,
    parse_columns_spec,
    parse_labels,
    parse_named_fields,
    parse_payload,
    parse_plain_value,
    parse_value,
    value_at,
)

ARRIVED = 1_773_480_000.0
PLAIN = parse_plain_value("paste:Cel")
FIELDS = parse_named_fields(["temperature:paste:Cel", "ds18b20.Temperature:wall:Cel"])


def records(pack: Pack) -> list[tuple[str, str, float | None, str | None]]:
    assert all(record.time is None for record in pack.records) and pack.arrived == ARRIVED and pack.digest is None
    return [(record.channel, record.unit, record.value, record.fault) for record in pack.records]


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("93.5", 93.5, "Cel"),
        (" 93.5\r\n", 93.5, "Cel"),
        ("-5", -5.0, "Cel"),
        ("9.35e1", 93.5, "Cel"),
        (".5", 0.5, "Cel"),
        ('"93.5"', 93.5, "Cel"),
        ("93.5 C", 93.5, "C"),
        ("93.5°C", 93.5, "°C"),
        ("200.3 deg F", 200.3, "deg F"),
        ("366.6K", 366.6, "K"),
        # A word that is no unit tells nothing against the unit that was announced.
        ("93.5 hot", 93.5, "Cel"),
    ],
)
def test_a_plain_value_is_read_and_its_own_unit_counts(text: str, value: float, unit: str) -> None:
    assert records(PLAIN.pack(text, ARRIVED)) == [("paste", unit, value, None)]


def test_without_an_announced_unit_the_senders_word_stands() -> None:
    layout = parse_plain_value("paste")
    assert records(layout.pack("93.5 hot", ARRIVED)) == [("paste", "hot", 93.5, None)]
    assert records(layout.pack("93.5", ARRIVED)) == [("paste", "", 93.5, None)]


@pytest.mark.parametrize("text", ["nan", "NaN", "unavailable", "unknown", "null", "", "-inf", "1e999", "---"])
def test_a_word_for_no_value_is_a_fault(text: str) -> None:
    (record,) = PLAIN.pack(text, ARRIVED).records
    assert record.value is None and record.fault is not None and record.fault.startswith("sent ")


@pytest.mark.parametrize(
    ("layout", "text", "why"),
    [
        (PLAIN, "on", "it is 'on' and not a value such as 93.5 or 93.5 C"),
        (PLAIN, "2026-03-14", "it is '2026-03-14' and not a value such as 93.5 or 93.5 C"),
        (PLAIN, "12:30", "it is '12:30' and not a value such as 93.5 or 93.5 C"),
        (
            PLAIN,
            "93,5",
            "it is '93,5' and not a value such as 93.5 or 93.5 C; "
            "several numbers are read by such as columns=paste:Cel,room:Cel",
        ),
        (
            PLAIN,
            '{"temperature": 93.5}',
            "it is '{\"temperature\": 93.5}' and not a value such as 93.5 or 93.5 C; "
            "say which of its fields to read, such as field=temperature:paste:Cel",
        ),
        (
            FIELDS,
            "93.5",
            "it is '93.5' and neither a JSON object nor values with labels; "
            "a plain value is read by such as channel=paste:Cel",
        ),
        (FIELDS, "{", "it is not JSON and holds no values with labels: it is '{'"),
        (
            FIELDS,
            '{"humidity": 40, "battery": 80}',
            "it has no field 'temperature' or 'ds18b20.Temperature'; it holds humidity, battery",
        ),
        (FIELDS, '{"temperature": {"value": 93.5}}', "its field 'temperature' is no number; it holds value"),
        (FIELDS, '{"temperature": true}', "its field 'temperature' is true and no number"),
        (FIELDS, '{"temperature": "warm"}', "its field 'temperature' is 'warm' and no number"),
        (None, "93.5", "a pack is a JSON array of records; a plain value is read by such as channel=paste:Cel"),
        (None, "93.5 C", "it is not JSON; a plain value is read by such as channel=paste:Cel"),
        (None, "94.25;21.5", "it is not JSON; several numbers are read by such as columns=paste:Cel,room:Cel"),
        (
            None,
            "Temp: 93.5 *C",
            "it is not JSON; say which of its values to read, such as field=Temp:paste:Cel",
        ),
        (None, "hello", "it is not JSON"),
    ],
)
def test_another_kind_of_payload_is_refused_with_what_would_do(
    layout: PayloadLayout | None, text: str, why: str
) -> None:
    with pytest.raises(PackError) as refused:
        parse_payload(text, ARRIVED, layout)
    assert refused.value.why == why


def test_fields_of_an_object_are_read_by_their_paths() -> None:
    text = '{"Time": "x", "ds18b20": {"Id": "00", "Temperature": 97.1}, "temperature": "200.3 F", "battery": 80}'
    assert records(FIELDS.pack(text, ARRIVED)) == [("paste", "F", 200.3, None), ("wall", "Cel", 97.1, None)]
    # A message that carries only some of the fields has those.
    assert records(FIELDS.pack('{"temperature": null}', ARRIVED)) == [("paste", "Cel", None, "sent null")]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Temp: 93.50 *C", {"Temp": (93.5, "*C")}),
        ("temp:93.5,hum:40", {"temp": (93.5, "Cel")}),
        ("T1=200.3F T2=21.0", {"T1": (200.3, "F"), "T2": (21.0, "Cel")}),
        ("Paste temp = 93.5 Humidity = 40 %", {"Paste temp": (93.5, "Cel")}),
        ("[T] Temperature: 93.5 deg C | t 10", {"Temperature": (93.5, "deg C")}),
        ("Sensor 1: 93, Sensor 2:93.5", {"Sensor 1": (93.0, "Cel"), "Sensor 2": (93.5, "Cel")}),
        ("Temp: nan", {"Temp": (None, "Cel")}),
    ],
)
def test_values_with_labels_are_read_by_their_labels(text: str, expected: dict[str, tuple[float | None, str]]) -> None:
    layout = parse_named_fields([f"{label}:channel{place}:Cel" for place, label in enumerate(expected)])
    found = layout.pack(text, ARRIVED).records
    assert dict(zip(expected, [(one.value, one.unit) for one in found], strict=True)) == expected
    assert all(parse_unit(one.unit) is not None for one in found)


@pytest.mark.parametrize("text", ["10:20:30 ready", "at 10:20", "Time: 10:20", "http://h:80/x", "x: y", "2026-03-14"])
def test_a_time_of_day_or_an_address_is_no_labelled_value(text: str) -> None:
    assert parse_labels(text) == {}


def test_keys_with_dots_and_places_in_arrays_are_found() -> None:
    whole = json.loads('{"a.b": {"c": [1, {"d": 2}]}, "a": {"b": 3}}')
    assert value_at(whole, "a.b.c.1.d") == 2
    with pytest.raises(KeyError):
        value_at(whole, "a.b.c.2")


@pytest.mark.parametrize(
    "spec", ["", "paste:", ":Cel", "a b:Cel", "paste:pH", "ph:Cel", "paste:foo", "paste:Cel:x", "x" * 201]
)
def test_an_invalid_channel_is_refused(spec: str) -> None:
    with pytest.raises(ValueError, match=r"^channel is .*(must be such as paste:Cel|comes in)") as refused:
        parse_plain_value(spec if spec != "paste:" else "paste:foo")
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize(
    "specs",
    [
        ["temperature"],
        ["temperature:paste"],
        [":paste:Cel"],
        ["t:paste:pH"],
        ["a:paste:Cel", "b:Paste:Cel"],
        ["t:a b:V"],
    ],
)
def test_invalid_fields_are_refused(specs: list[str]) -> None:
    with pytest.raises(ValueError, match=r"^field "):
        parse_named_fields(specs)


def test_a_path_may_hold_colons() -> None:
    assert parse_named_fields(["a4:c1:38:temperature:paste:Cel"]).fields[0].path == "a4:c1:38:temperature"


layouts = st.sampled_from([PLAIN, FIELDS, parse_plain_value("x"), parse_columns_spec("paste:Cel,ph:V"), None])
json_texts = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.sampled_from(["temperature", "ds18b20", "Temperature", "x"]), inner, max_size=4)
    ),
    max_leaves=10,
).map(json.dumps)


@given(st.text(max_size=60) | json_texts, layouts)
def test_any_text_gives_a_pack_or_a_pack_error(text: str, layout: PayloadLayout | None) -> None:
    try:
        pack = parse_payload(text, ARRIVED, layout)
    except PackError as error:
        assert error.why and "\n" not in error.why
        return
    assert pack.records or layout is None
    for record in pack.records:
        assert (record.value is None) == (record.fault is not None)


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_any_number_is_read_as_itself(value: float) -> None:
    found = parse_value(repr(value))
    assert found is not None and found.value == value
