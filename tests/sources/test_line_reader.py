"""A stream joined midway, and one that stops midway for an hour."""

from collections.abc import Iterable

from hypothesis import given
from hypothesis import strategies as st

from monitor.protocol import BadLine, LineItem, Pack, encode_line, parse_columns_spec
from monitor.sources.line_reader import STALLED_AFTER_S, LineReader

SPEC = parse_columns_spec("paste:Cel,ph:V")
HOUR_S = 3600.0
ROW = b"94.25,-0.1623\n"


def packs(items: Iterable[LineItem]) -> list[Pack]:
    return [item for item in items if isinstance(item, Pack)]


def test_a_row_that_stalls_midway_is_discarded() -> None:
    feed = LineReader(SPEC)
    feed.feed(b"\n" + ROW + b"9", 0.0, 0.0)
    assert feed.cut_stalled(1.0, STALLED_AFTER_S / 2) == []
    (bad,) = feed.cut_stalled(3.0, STALLED_AFTER_S)
    assert isinstance(bad, BadLine) and bad.why == "it was cut short"
    assert feed.cut_stalled(4.0, HOUR_S) == []
    # Its rest, or a new row after a restart, is not taken for a row: 9 and 94.30 would be 994.30.
    assert feed.feed(b"94.30,-0.16\n", HOUR_S, HOUR_S) == []
    assert len(packs(feed.feed(ROW, HOUR_S, HOUR_S))) == 1


def test_two_halves_of_rows_are_not_joined_after_a_suspend() -> None:
    """The port's bytes come before anyone has asked whether the row has stalled."""
    feed = LineReader(SPEC)
    feed.feed(b"\n" + ROW + b"9", 0.0, 0.0)
    (bad,) = feed.feed(b"4.30,-0.16\n", HOUR_S, HOUR_S)
    assert isinstance(bad, BadLine) and bad.why == "it was cut short"
    assert len(packs(feed.feed(ROW, HOUR_S, HOUR_S))) == 1


def test_a_whole_first_pack_is_kept() -> None:
    feed = LineReader()
    pack = encode_line([{"n": "paste", "u": "Cel", "v": 94.25}])
    assert [type(item) for item in feed.feed(pack + b"x\n", 0.0, 0.0)] == [Pack, BadLine]


@given(st.lists(st.integers(0, 2), max_size=30), st.integers(0, len(ROW)), st.lists(st.integers(1, 20), min_size=1))
def test_only_whole_rows_become_readings(kinds: list[int], joined: int, cuts: list[int]) -> None:
    """Rows of known numbers, joined anywhere, stalled and broken off anywhere: no other number comes out."""
    feed, clock_s = LineReader(SPEC), 0.0
    data, place = ROW[joined:] + ROW * len(kinds), 0
    for index, kind in enumerate(kinds):
        step = cuts[index % len(cuts)]
        got = feed.feed(data[place : place + step], clock_s, clock_s)
        place += step
        if kind == 1:
            clock_s += HOUR_S
            got += feed.cut_stalled(clock_s, clock_s)
        elif kind == 2:
            got += feed.cut(clock_s)
        for pack in packs(got):
            assert [record.value for record in pack.records] == [94.25, -0.1623]
