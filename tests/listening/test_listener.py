"""Messages go in, findings and a proposal come out, whatever they are and in bounded memory."""

import json
import shlex
import tracemalloc
from collections.abc import Iterable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.listening import Heard, Listener, PayloadKind
from monitor.listening.heard import understood
from monitor.listening.listener import MOST_PLACES
from monitor.protocol import parse_renamings
from monitor.sources import parse_source_url, topic_filter
from monitor.sources.url import payload_layout

START = 1_773_480_000.0


def listener(url: str, *messages: tuple[str, str | bytes], every_s: float = 1.0) -> Listener:
    made = Listener(parse_source_url(url))
    for number, (place, payload) in enumerate(messages):
        data = payload.encode() if isinstance(payload, str) else payload
        made.hear(Heard(place, data, START + number * every_s))
    return made


def sources(made: Listener) -> tuple[str, ...]:
    proposal = made.proposal()
    assert proposal is not None
    return proposal.sources


@pytest.mark.parametrize(
    ("payload", "kind"),
    [
        (b"93.5", PayloadKind.VALUE),
        (b"93.5 \xc2\xb0C", PayloadKind.VALUE),
        (b"unavailable", PayloadKind.VALUE),
        (b"94.25, 21.5", PayloadKind.COLUMNS),
        (b"94.25\t21.5\tnan", PayloadKind.COLUMNS),
        (b'{"t": 1}', PayloadKind.OBJECT),
        (b'[{"n":"paste","u":"Cel","v":94.25}]*0067', PayloadKind.PACK),
        (b"Temp: 93.5", PayloadKind.LABELS),
        (b"2026-03-14 10:00", PayloadKind.TEXT),
        (b"[1, 2]", PayloadKind.TEXT),
        (b'{"t": ', PayloadKind.TEXT),
        (b"on", PayloadKind.TEXT),
        (bytes(range(256)), PayloadKind.BINARY),
        (b"\x00\x01", PayloadKind.BINARY),
        (b"9" * 70_000, PayloadKind.BINARY),
        (b" \r", PayloadKind.EMPTY),
    ],
)
def test_a_payload_is_told_by_its_kind(payload: bytes, kind: PayloadKind) -> None:
    assert understood(payload).kind is kind


@pytest.mark.parametrize(
    ("url", "messages", "expected"),
    [
        ("mqtt://h", [("pot/temp", "93.5")], ["mqtt://h/pot/temp?channel=paste:degC"]),
        ("mqtt://h:1884/pot/#", [("pot/temp", "200.5 F")], ["mqtt://h:1884/pot/temp?channel=paste:degF"]),
        (
            "mqtts://anna@h?ca=/etc/ca.pem",
            [("a b/c?d", '{"Temp °C": 93.5, "battery": 80}')],
            ["mqtts://anna@h/a%20b/c%3Fd?ca=/etc/ca.pem&field=Temp%20%C2%B0C:paste:degC"],
        ),
        ("mqtt://h", [("/pot/temp", "93.5")], ["mqtt://h//pot/temp?channel=paste:degC"]),
        (
            "mqtt://h",
            [("k/s", '{"DS18B20-1":{"Temperature":22.5},"DS18B20-2":{"Temperature":93.5},"TempUnit":"C"}')],
            ["mqtt://h/k/s?field=DS18B20-2.Temperature:paste:degC&field=DS18B20-1.Temperature:ds18b20-1:degC"],
        ),
        (
            "mqtt://h",
            [("a/pot", "93.5 C"), ("a/crock", "97 C"), ("a/room", "21 C"), ("b/ph", "9.7"), ("c/garage", "11 C")],
            [
                "mqtt://h/a/pot?channel=paste:degC",
                "mqtt://h/a/crock?channel=wall:degC",
                "mqtt://h/a/room?channel=room:degC",
                "mqtt://h/b/ph?channel=ph:pH",
            ],
        ),
        ("/dev/ttyUSB0", [("/dev/ttyUSB0", "94.25")], ["serial:///dev/ttyUSB0?channel=paste:degC"]),
        ("COM3", [("COM3", "94.25")], ["serial:COM3?channel=paste:degC"]),
        (
            "serial+socket://h:4000",
            [("socket://h:4000", "94.25;21")],
            ["serial+socket://h:4000?columns=paste:degC,column2:degC"],
        ),
        (
            "/dev/a",
            [("/dev/a", "Temperature: 94.25 *C  Humidity: 40.0 %")],
            ["serial:///dev/a?field=Temperature:paste:degC"],
        ),
        # A sketch's own clock goes first; a row is read whole.
        (
            "serial://auto?also=/dev/a",
            [("/dev/a", "ready"), *(("/dev/a", f"{n}000,21.5,9{n}.5") for n in range(5))],
            ["serial:///dev/a?columns=column1:count,column2:degC,paste:degC"],
        ),
        # Nothing else there is a temperature, so this is taken, whatever it is called.
        ("mqtt://h", [("x/air/temp", "21")], ["mqtt://h/x/air/temp?channel=paste:degC"]),
    ],
)
def test_the_proposed_sources_are_valid_and_read_what_was_heard(
    url: str, messages: list[tuple[str, str]], expected: list[str]
) -> None:
    made = listener(url, *messages)
    assert list(sources(made)) == expected
    for text in expected:
        parsed = parse_source_url(text)
        layout = payload_layout(parsed)
        assert layout is not None
        place = topic_filter(parsed) if parsed.scheme.startswith("mqtt") else None
        (last,) = [payload for name, payload in dict(messages).items() if place in (None, name)]
        assert layout.pack(last, START).records[0].value is not None


def test_a_pack_with_other_names_is_renamed() -> None:
    text = '[{"n":"temp1","v":94.25},{"n":"room","u":"Cel","v":21}]'
    proposal = listener("mqtt://h", ("kettleside/c/readings", text)).proposal()
    assert proposal is not None
    assert (proposal.sources, proposal.renamings) == (("mqtt://h/kettleside/c/readings",), ("temp1=paste:degC",))
    assert parse_renamings(proposal.renamings)
    assert shlex.split(proposal.command())[-2:] == ["--as", "temp1=paste:degC"]


def test_of_several_temperatures_the_one_that_moves_is_taken() -> None:
    cold = [(f"hall/{name}/temp", "21.0 C") for name in ("a", "b", "c")]
    still = listener("mqtt://h", *cold, ("boiler/temp", "65 C"))
    assert sources(still) == ("mqtt://h/boiler/temp?channel=paste:degC",)
    proposal = still.proposal()
    assert proposal is not None and "hold the paste's probe in your hand" in proposal.doubts[-1]
    warmed = listener("mqtt://h", *cold, ("boiler/temp", "65 C"), ("hall/b/temp", "24.5 C"))
    assert sources(warmed) == ("mqtt://h/hall/b/temp?channel=paste:degC",)
    named = listener("mqtt://h", *cold, ("soap/temp", "20 C"), ("hall/b/temp", "24.5 C"))
    assert sources(named) == ("mqtt://h/soap/temp?channel=paste:degC",)


def test_two_sources_have_the_cookers_name_in_front_where_everything_is_started() -> None:
    proposal = listener("mqtt://h", ("a/pot", "93.5 C"), ("a/wall", "97 C")).proposal()
    assert proposal is not None
    paste, wall = "mqtt://h/a/pot?channel=paste:degC", "mqtt://h/a/wall?channel=wall:degC"
    assert shlex.split(proposal.command("start", "left pot"))[2:] == [
        *("--source", f"left pot={paste}"),
        *("--source", f"left pot={wall}"),
    ]
    assert shlex.split(proposal.command("start"))[3::2] == [f"cooker={paste}", f"cooker={wall}"]
    assert shlex.split(proposal.command())[2:] == ["--source", paste, "--source", wall]
    assert shlex.split(proposal.command("log", "left"))[-2:] == ["--rig", "left"]


@pytest.mark.parametrize("row", ["93,5", "93,5;21,0", "-3,5\t21,25"])
def test_a_comma_that_may_be_a_decimal_sign_is_doubted(row: str) -> None:
    proposal = listener("/dev/a", ("/dev/a", row)).proposal()
    assert proposal is not None and any("let it send a decimal point" in doubt for doubt in proposal.doubts)


def test_a_row_with_decimal_points_is_not_doubted() -> None:
    proposal = listener("/dev/a", ("/dev/a", "21.5,20.0")).proposal()
    assert proposal is not None and proposal.doubts == ()


def test_what_cannot_be_read_is_told_with_what_would_do() -> None:
    made = listener("mqtt://h", ("a", "warm enough"), ("b", bytes(9)), ("c", ""), ("d", '{"battery": 80}'))
    problems = {one.place: one.problem for one in made.findings()}
    assert problems["a"].startswith("It is no number, row of numbers or JSON object: let it send such as 93.5")
    assert problems["b"] == "It is no text, so no source reads it."
    assert problems["c"] == "It is empty."
    assert problems["d"] == "Nothing in it looks like a temperature or a pH."
    assert made.proposal() is None and all(one.source is None for one in made.findings())


def test_what_the_monitor_itself_publishes_is_no_reading() -> None:
    outlook = json.dumps({"t": START, "temperature_c": 93.8})
    made = listener("mqtt://h", ("kettleside/left/outlook", outlook), ("kettleside/left/status", "online"))
    assert made.findings() == () and made.passed_over == 2


def test_a_heading_before_the_numbers_does_not_hide_them() -> None:
    lines = [("/dev/a", text) for text in ("sensor test", "v1.2 ready", "93.5", "93.5", "93.6")]
    (found,) = listener("/dev/a", *lines).findings()
    assert (found.kind, found.count, found.every_s) == (PayloadKind.VALUE, 5, 1.0)


def flood(count: int) -> Iterable[tuple[str, bytes]]:
    for number in range(count):
        yield f"flood/{number}", json.dumps({f"key{key}": number for key in range(40)}).encode()


def test_thousands_of_topics_take_bounded_memory_and_hide_no_probe() -> None:
    made = Listener(parse_source_url("mqtt://h"))
    tracemalloc.start()
    try:
        for number, (place, payload) in enumerate(flood(3 * MOST_PLACES)):
            made.hear(Heard(place, payload, START + number * 0.001))
            if number == MOST_PLACES + 100:
                at_first = tracemalloc.get_traced_memory()[0]
        grown = tracemalloc.get_traced_memory()[0] - at_first
    finally:
        tracemalloc.stop()
    assert grown < 200_000 and len(made.findings()) == MOST_PLACES
    assert made.passed_over == 2 * MOST_PLACES and made.messages == 3 * MOST_PLACES
    made.hear(Heard("pot/temp", b"93.5", START + 100.0))
    assert sources(made) == ("mqtt://h/pot/temp?channel=paste:degC",)
    assert len(made.findings()) == MOST_PLACES


def test_a_flood_on_one_topic_is_counted_and_hardly_parsed() -> None:
    made = listener("mqtt://h", *[("pot/temp", "93.5")] * 5000, every_s=0.0001)
    (found,) = made.findings()
    assert found.count == 5000 and made.messages == 5000


def test_a_retained_message_is_marked() -> None:
    made = Listener(parse_source_url("mqtt://h"))
    made.hear(Heard("a/temp", b"93.5", START, retained=True))
    made.hear(Heard("b/temp", b"21.0", START))
    assert {one.place: one.retained for one in made.findings()} == {"a/temp": 1, "b/temp": 0}
    # What arrives now is rather the probe than what the broker has kept from some day.
    assert sources(made) == ("mqtt://h/b/temp?channel=paste:degC",)


@given(st.lists(st.tuples(st.text(min_size=1, max_size=20), st.binary(max_size=40)), max_size=8))
def test_any_message_gives_findings_and_valid_sources(messages: list[tuple[str, bytes]]) -> None:
    # A topic that is published to has no wildcards and no NUL (MQTT 3.1.1 section 4.7.1).
    made = listener("mqtt://h", *[one for one in messages if not set(one[0]) & set("+#\0")])
    for one in made.findings():
        assert (one.source is None) == bool(one.problem)
        if one.source is not None:
            assert topic_filter(parse_source_url(one.source)) == one.place


json_objects = st.dictionaries(
    st.text(max_size=8) | st.sampled_from(["temperature", "temp_f", "unit", "ph"]),
    st.recursive(
        st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=6),
        lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner, max_size=3),
        max_leaves=8,
    ),
    max_size=5,
)


@given(json_objects)
def test_any_object_gives_a_source_that_reads_it(value: dict[str, object]) -> None:
    text = json.dumps(value)
    made = listener("mqtt://h", ("x/y", text))
    (found,) = made.findings()
    if found.source is not None:
        layout = payload_layout(parse_source_url(found.source))
        assert layout is not None
        read = {one.channel: one.value for one in layout.pack(text, START).records}
        assert read == {one.channel: one.value for one in found.channels}


rows = st.text("0123456789.,;:=- \t\x0b\x1cCFKe*°temp|", max_size=24) | st.lists(
    st.sampled_from(["93.5", "21", "nan", "-", "null", "1e999", "9" * 400, "C", "t:", "T1=", "5e3", "", "°F"]),
    max_size=6,
).flatmap(lambda parts: st.sampled_from([",", ";", "\t", " ", " , "]).map(lambda between: between.join(parts)))


@given(rows)
def test_any_text_that_gets_a_source_is_read_by_it(text: str) -> None:
    made = listener("mqtt://h", ("x/y", text))
    for found in made.findings():
        if found.source is not None:
            layout = payload_layout(parse_source_url(found.source))
            assert layout is not None
            read = {one.channel: one.value for one in layout.pack(text, START).records}
            assert all(read[one.channel] == one.value for one in found.channels if one.celsius is not None)
