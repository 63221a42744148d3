"""Another program's table: numbers, times and columns as people write them."""

import math
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.exchange.cell_parsers import local_moment, number
from monitor.exchange.csv_import import import_csv
from monitor.exchange.csv_reader import read_rows
from monitor.exchange.infer_layout import infer_table_layout
from monitor.exchange.table_layout import parse_layout
from monitor.storage import load
from tests.exchange.odd_cooks import START
from tests.exchange.test_datapackage import silent

BERLIN = ZoneInfo("Europe/Berlin")


@given(st.decimals(-99999, 99999, places=3))
def test_a_decimal_comma_gives_the_same_number(value: object) -> None:
    assert number(str(value).replace(".", ",")) == float(str(value)) == number(f" {value} ")


@pytest.mark.parametrize(
    ("cell", "order", "expected"),
    [
        ("14.03.2026 11:40:00", "dmy", START),
        ("3/14/2026 11:40 AM", "mdy", START),
        ("2026-03-14T11:40:00.25", "ymd", START + 0.25),
        ("14/03/26 11:40", "dmy", START),
        # Summer time in Germany began on 29 March 2026 (EU directive 2000/84: the last Sunday of March).
        ("30.03.2026 11:40:00", "dmy", START + 16 * 86_400 - 3600),
    ],
)
def test_a_local_time_is_converted_by_its_zone(cell: str, order: str, expected: float) -> None:
    assert local_moment(cell, order, BERLIN) == expected


def test_the_repeated_hour_at_the_end_of_summer_time_continues() -> None:
    # 25 October 2026, 01:00 UTC: the clocks go back from 3 to 2 (EU directive 2000/84).
    first = local_moment("25.10.2026 02:50", "dmy", BERLIN)
    second = local_moment("25.10.2026 02:00", "dmy", BERLIN, before=first)
    assert second - first == 600.0


@pytest.mark.parametrize("cell", ["31.02.2026 10:00", "14.03.2026 25:00", "14.03.2026", "yesterday", ""])
def test_an_invalid_time_raises_a_value_error(cell: str) -> None:
    with pytest.raises(ValueError):
        local_moment(cell, "dmy", BERLIN)


@pytest.mark.parametrize(
    ("text", "spec"),
    [
        (
            "Nr;Zeit;Seife °C;Wand °C\n1;14.03.2026 11:40:00;93,5;99,1\n2;14.03.2026 11:40:30;93,75;99,0\n",
            "-,time:dmy,paste:Cel,wall:Cel",
        ),
        ("elapsed min,temp F\n0,190.5\n1,191\n", "time:min,paste:degF"),
        ("time,paste,ambient temp\n2026-03-14T10:40:00Z,93.1,21\n", "time:iso,paste:Cel,room:Cel"),
        ("Logger 7\n\nDatum\tUhrzeit\tTemp\n14.03.2026\t11:40\t93,5\n", "date:dmy,time:clock,paste:Cel"),
        ("date,pH,probe mV\n3/14/2026 11:40 AM,10.2,-162\n3/15/2026 11:40 AM,10.2,-162\n", "time:mdy,ph:pH,-"),
        ("a,b\nx,y\n", "-,-"),
    ],
)
def test_an_inferred_layout_can_be_given_as_an_argument(tmp_path: Path, text: str, spec: str) -> None:
    file = tmp_path / "table.csv"
    file.write_text(text, encoding="utf-8")
    guessed = infer_table_layout(read_rows(file))
    assert guessed.spec == spec
    if guessed.sure:
        import_csv(file, parse_layout(guessed.spec, BERLIN), tmp_path / "r", START, silent)
    else:
        assert spec == "-,-"


def test_a_german_table_in_a_legacy_encoding_is_inferred(tmp_path: Path) -> None:
    file = tmp_path / "table.csv"
    file.write_bytes("Zeit;Seife °C\n14.03.2026 11:40:00;93,5\n14.03.2026 11:41:00;offen\n".encode("cp1252"))
    path = import_csv(file, parse_layout("time:dmy,paste:Cel", BERLIN), tmp_path / "r", 0.0, silent)
    series = load(path).series["paste"]
    assert series.measured.tolist() == [START, START + 60.0]
    assert series.value[0] == 93.5 and math.isnan(series.value[1]) and series.faults == ((1, "offen"),)


@given(st.lists(st.lists(st.text("0123456789.,:-/ aZ°F", max_size=12), max_size=5), max_size=30))
def test_inference_never_raises_an_exception(rows: list[list[str]]) -> None:
    guessed = infer_table_layout(rows)
    assert len(guessed.columns) == len(guessed.why)
    if guessed.sure:
        parse_layout(guessed.spec)
