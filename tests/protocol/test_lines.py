"""Bytes to packs, held to the open standards and to anything a line may carry."""

import json
import math

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from monitor.protocol.bare_columns import parse_columns_spec
from monitor.protocol.layouts import PayloadLayout
from monitor.protocol.lines import LONGEST_LINE, BadLine, LineDecoder, LineItem, crc16, encode_line, parse_line
from monitor.protocol.senml import Pack, PackError, pack_of, parse_pack

ARRIVED = 1_773_480_000.0

# (what, JSON, expected (channel, unit, value, time)); all from RFC 8428, sections as given, compared with its text; the
# pack of section 5.1.3 is shortened.
RFC_8428 = [
    (
        "section 5.1.1, single data point",
        '[{"n":"urn:dev:ow:10e2073a01080063","u":"Cel","v":23.1}]',
        [("urn:dev:ow:10e2073a01080063", "Cel", 23.1, None)],
    ),
    (
        "section 5.1.2, multiple data points, first pack",
        """[{"bn":"urn:dev:ow:10e2073a01080063:","n":"voltage","u":"V","v":120.1},
            {"n":"current","u":"A","v":1.2}]""",
        [
            ("urn:dev:ow:10e2073a01080063:voltage", "V", 120.1, None),
            ("urn:dev:ow:10e2073a01080063:current", "A", 1.2, None),
        ],
    ),
    (
        "section 5.1.2, multiple data points, second pack",
        """[{"bn":"urn:dev:ow:10e2073a0108006:","bt":1.276020076001e+09,"bu":"A","bver":5,
             "n":"voltage","u":"V","v":120.1},
            {"n":"current","t":-5,"v":1.2}, {"n":"current","t":-4,"v":1.3}, {"n":"current","t":-3,"v":1.4},
            {"n":"current","t":-2,"v":1.5}, {"n":"current","t":-1,"v":1.6}, {"n":"current","v":1.7}]""",
        [("urn:dev:ow:10e2073a0108006:voltage", "V", 120.1, 1.276020076001e9)]
        + [("urn:dev:ow:10e2073a0108006:current", "A", 1.2 + 0.1 * i, 1.276020076001e9 - 5 + i) for i in range(6)],
    ),
    (
        "section 5.1.3, multiple measurements (5.1.4 gives them resolved)",
        """[{"bn":"urn:dev:ow:10e2073a01080063","bt":1.320067464e+09,"bu":"%RH","v":20},
            {"u":"lon","v":24.30621}, {"u":"lat","v":60.07965},
            {"t":60,"v":20.3}, {"u":"lon","t":60,"v":24.30622}, {"u":"lat","t":60,"v":60.07965},
            {"u":"%EL","t":150,"v":98}]""",
        [
            ("urn:dev:ow:10e2073a01080063", unit, value, 1.320067464e9 + after)
            for unit, value, after in [
                ("%RH", 20.0, 0),
                ("lon", 24.30621, 0),
                ("lat", 60.07965, 0),
                ("%RH", 20.3, 60),
                ("lon", 24.30622, 60),
                ("lat", 60.07965, 60),
                ("%EL", 98.0, 150),
            ]
        ],
    ),
    (
        "section 5.1.6, collection of resources",
        """[{"bn":"2001:db8::2/","bt":1.320078429e+09,"n":"temperature","u":"Cel","v":25.2},
            {"n":"humidity","u":"%RH","v":30},
            {"bn":"2001:db8::1/","n":"temperature","u":"Cel","v":12.3}, {"n":"humidity","u":"%RH","v":67}]""",
        [
            ("2001:db8::2/temperature", "Cel", 25.2, 1.320078429e9),
            ("2001:db8::2/humidity", "%RH", 30.0, 1.320078429e9),
            ("2001:db8::1/temperature", "Cel", 12.3, 1.320078429e9),
            ("2001:db8::1/humidity", "%RH", 67.0, 1.320078429e9),
        ],
    ),
]


@pytest.mark.parametrize(("what", "text", "expected"), RFC_8428, ids=[row[0] for row in RFC_8428])
def test_the_examples_of_the_rfc_are_decoded(
    what: str, text: str, expected: list[tuple[str, str, float, float | None]]
) -> None:
    records = parse_pack(text, ARRIVED).records
    assert [(r.channel, r.unit) for r in records] == [row[:2] for row in expected]
    for record, (_, _, value, time) in zip(records, expected, strict=True):
        assert record.value == pytest.approx(value, abs=1e-12)
        assert record.time == (None if time is None else pytest.approx(time, abs=1e-6))


def test_multiple_data_types_become_numbers_or_faults() -> None:
    """RFC 8428, section 5.1.5: a string and data are no numbers, so on a probe's channel they are faults."""
    text = """[{"bn":"urn:dev:ow:10e2073a01080063:","n":"temp","u":"Cel","v":23.1},
        {"n":"label","vs":"Machine Room"}, {"n":"open","vb":false}, {"n":"nfc-reader","vd":"aGkgCg"}]"""
    temp, label, is_open, reader = parse_pack(text, ARRIVED).records
    assert (temp.value, temp.fault) == (23.1, None)
    assert (label.value, label.fault) == (None, "Machine Room")
    assert (is_open.value, is_open.fault) == (0.0, None)
    assert reader.value is None and reader.fault is not None


def test_times_below_2_to_the_28_are_relative_to_now() -> None:
    """RFC 8428, section 4.5.3."""
    times = [2**28, 2**28 - 1, -5]
    pack = parse_pack(json.dumps([{"n": "paste", "v": 1.0, "t": t} for t in times]), ARRIVED)
    assert [r.time for r in pack.records] == [2**28, ARRIVED + 2**28 - 1, ARRIVED - 5]


def test_crc_check_value() -> None:
    """CRC-16/IBM-3740 in the public catalogue of parametrised CRC algorithms."""
    assert crc16(b"123456789") == 0x29B1


def test_a_text_value_is_stored_as_a_fault() -> None:
    pack = parse_pack('[{"n":"paste","u":"Cel","vs":"open circuit"}]', ARRIVED)
    assert (pack.records[0].value, pack.records[0].fault) == (None, "open circuit")


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "not JSON"),
        ("{}", "array"),
        ("[]", "empty"),
        ("[1]", "object"),
        ('[{"n":"paste","v":NaN}]', "NaN"),
        ('[{"n":"paste","v":1e999}]', "beyond any number"),
        ('[{"n":"paste","v":"94"}]', "not a number"),
        ('[{"n":"pa ste","v":94}]', "name"),
        ('[{"v":94}]', "name"),
        ('[{"n":"paste","v":94,"vs":"x"}]', "more than one"),
        ('[{"n":"paste","v":94,"new_":1}]', "understood"),
        ('[{"n":"seq","u":"count","v":1.5}]', "whole number"),
        # What a recording cannot hold would end the logger, again and again where a broker sends it once more.
        ('[{"n":"seq","u":"count","v":1e300}]', "whole number"),
        (r'[{"n":"paste","u":"\ud800","v":94}]', "field 'u' holds half a character"),
        (r'[{"n":"paste","vs":"open \udfff"}]', "field 'vs' holds half a character"),
        ('[{"n":"paste"}]', "no value"),
        # As deep as no version of Python follows.
        ("[" * 100_000 + "]" * 100_000, "nested"),
    ],
)
def test_an_invalid_pack_is_refused_with_a_reason(text: str, why: str) -> None:
    with pytest.raises(PackError, match=why):
        parse_pack(text, ARRIVED)


good_records = st.lists(
    st.fixed_dictionaries(
        {
            "n": st.from_regex(r"[A-Za-z0-9][A-Za-z0-9\-:./_]{0,20}", fullmatch=True).filter(lambda n: "seq" not in n),
            "u": st.sampled_from(["Cel", "V", "pH", "K", "%RH"]),
            "v": st.floats(allow_nan=False, allow_infinity=False),
        }
    ),
    min_size=1,
    max_size=8,
)


@given(good_records)
def test_an_encoded_pack_is_decoded_to_the_same_pack(records: list[dict[str, object]]) -> None:
    line = encode_line(records)
    feed = LineDecoder()
    if len(line) - 1 > LONGEST_LINE:
        assert isinstance(feed.feed(line, ARRIVED)[0], BadLine)
        return
    (pack,) = feed.feed(line, ARRIVED)
    assert isinstance(pack, Pack)
    assert [(r.channel, r.unit, r.value) for r in pack.records] == [(r["n"], r["u"], r["v"]) for r in records]


pieces = st.one_of(
    st.binary(max_size=40),
    good_records.map(encode_line),
    st.sampled_from(
        [b"\n", b"\r\n", b"*29B1\n", b"94.25,-0.1623\n", b"9" * (LONGEST_LINE + 3), b"nan;1\r\n", b"\xff\n"]
    ),
)
columns = st.sampled_from([None, parse_columns_spec("paste:Cel,ph:V")])


@given(st.lists(pieces, max_size=6).map(b"".join), columns, st.lists(st.integers(1, 64), min_size=1, max_size=8))
@example(b"1,2\r\n" + b"x" * (LONGEST_LINE + 1) + b"\r\n1,2\n", parse_columns_spec("a:V,b:V"), [1])
@example(b"x" * LONGEST_LINE + b"\r\n" + b"x" * LONGEST_LINE + b"\n", None, [1])
def test_chunks_of_any_size_decode_to_the_same_items(data: bytes, spec: PayloadLayout | None, cuts: list[int]) -> None:
    whole = LineDecoder(spec)
    expected = [*whole.feed(data, ARRIVED), *whole.flush(ARRIVED)]
    assert all(isinstance(item, Pack | BadLine) for item in expected)
    cut_up, got, place = LineDecoder(spec), list[LineItem](), 0
    while place < len(data):
        step = cuts[place % len(cuts)]
        got += cut_up.feed(data[place : place + step], ARRIVED)
        place += step
    got += cut_up.flush(ARRIVED)
    assert got == expected


@given(st.binary(max_size=200), columns)
def test_any_line_gives_an_item_or_nothing(line: bytes, spec: PayloadLayout | None) -> None:
    item = parse_line(line, ARRIVED, spec)
    assert item is None or isinstance(item, Pack | BadLine)
    if isinstance(item, BadLine):
        assert item.first_bytes.isprintable() and item.why


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(
            st.sampled_from(
                ["n", "v", "u", "t", "bn", "bt", "bv", "bu", "vs", "vb", "vd", "s", "bs", "bver", "x", "y_"]
            ),
            inner,
            max_size=5,
        )
    ),
    max_leaves=12,
)


@given(json_values)
def test_any_json_gives_a_pack_or_a_pack_error(value: object) -> None:
    try:
        pack = pack_of(value, ARRIVED)
    except PackError as error:
        assert str(error).startswith("Not a pack: ")
        return
    for record in pack.records:
        assert (record.value is None) == (record.fault is not None)
        assert record.value is None or math.isfinite(record.value)


@given(good_records, st.integers(0, 200), st.integers(0, 7))
def test_a_line_with_one_flipped_bit_gives_no_reading(records: list[dict[str, object]], place: int, bit: int) -> None:
    line = bytearray(encode_line(records).removesuffix(b"\n"))
    star = line.rindex(b"*")
    line[place % star] ^= 1 << bit
    items = LineDecoder().feed(bytes(line) + b"\n", ARRIVED)
    assert not any(isinstance(item, Pack) for item in items)


def test_equal_packs_have_one_digest_and_two_rigs_have_two() -> None:
    text = '[{"n":"paste","u":"Cel","v":94.25},{"n":"seq","u":"count","v":7}]'
    assert parse_pack(text, 1.0, "a").digest == parse_pack(text, 2.0, "a").digest
    assert parse_pack(text, 1.0, "a").digest != parse_pack(text, 1.0, "b").digest
    assert parse_pack('[{"n":"paste","u":"Cel","v":94.25}]', 1.0).digest is None


@pytest.mark.parametrize("row", [b"94.25,-0.1623", b"94.25;-0.1623", b"94.25\t-0.1623", b" 94.25   -0.1623 \r"])
def test_a_row_of_bare_numbers_is_a_pack(row: bytes) -> None:
    pack = parse_line(row, ARRIVED, parse_columns_spec("paste:Cel,ph:V"))
    assert isinstance(pack, Pack)
    assert [(r.channel, r.unit, r.value) for r in pack.records] == [("paste", "Cel", 94.25), ("ph", "V", -0.1623)]


@pytest.mark.parametrize("row", [b"94.25", b"94.25,x", b"94.25,,1", b"1,2,3"])
def test_a_row_that_does_not_fit_the_columns_is_a_bad_line(row: bytes) -> None:
    assert isinstance(parse_line(row, ARRIVED, parse_columns_spec("paste:Cel,ph:V")), BadLine)


@pytest.mark.parametrize("spec", ["", "paste", "paste:", ":Cel", "paste:Cel,paste:V", "a b:Cel"])
def test_an_invalid_columns_spec_is_refused_with_the_wrong_part_named(spec: str) -> None:
    with pytest.raises(ValueError, match=r"columns has the part|names a channel twice"):
        parse_columns_spec(spec)
