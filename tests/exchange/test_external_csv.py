"""Difficult tables of other programs: layout inferred, asked about and imported."""

import math
import shlex
from collections.abc import Callable, Mapping
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.cli import main
from monitor.cli.import_prompt import LayoutPrompt
from monitor.exchange import ExchangeError
from monitor.exchange.cell_parsers import local_moment, number, stopwatch_s, unit_behind, zoned_moment
from monitor.exchange.csv_import import parse_table, store_table
from monitor.exchange.table_layout import parse_layout
from monitor.model import Series
from monitor.storage import load
from tests.exchange.odd_cooks import START
from tests.exchange.test_datapackage import silent

BERLIN = ZoneInfo("Europe/Berlin")


def german(path: Path) -> None:
    """Three hours around the end of summer time 2026 (25 October, 01:00 UTC), as a spreadsheet of its country."""
    first = datetime(2026, 10, 24, 23, 50, tzinfo=UTC)
    lines = ["Datenlogger Küche 7", "sep=;", "Nr;Datum;Uhrzeit;Seife [°C];Topfwand [°C];Bemerkung"]
    for i in range(180):
        at = (first + timedelta(minutes=i)).astimezone(BERLIN)
        paste = {20: "offen", 30: ""}.get(i, f"{60 + i / 10:.1f}".replace(".", ","))
        lines.append(f"{i + 1};{at:%d.%m.%Y};{at:%H:%M:%S};{paste};{80 + i / 20:.2f};".replace(".", ",", 0))
    path.write_bytes("\r\n".join([*lines, "Max;;;77,9;;"]).encode("cp1252"))


def american(path: Path) -> None:
    """UTF-16 without a mark, headings of two lines, twelve hours, degrees in the cells."""
    rows = [
        f'{i * 30},"3/4/2026 {11 + i // 40}:{(40 + i // 2) % 60:02d}:{i % 2 * 30:02d} {"AP"[i // 40]}M","{190 + i / 10:.1f} °F"'
        for i in range(80)
    ]
    path.write_bytes("\r\n".join(['"Elapsed\n(s)","Date Time","Soap Temp\n(°F)"', *rows]).encode("utf-16-le"))


def kelvin(path: Path) -> None:
    """A mark, a local and a Unix time, kelvin, faults in words."""
    rows = [
        f"2026-03-14 11:{i:02d}:00,{1_773_484_800_000 + i * 60_000},{360 + i / 10:.2f},{370 + i / 10:.2f},{'n/a' if i % 7 == 0 else 10.2}"
        for i in range(60)
    ]
    path.write_text("\n".join(["\ufefflocal time,timestamp,T_paste (K),T_wall (K),pH", *rows]), encoding="utf-8")


def midnight(path: Path) -> None:
    """Times of day alone, over midnight."""
    rows = [f"{(23 * 60 + 30 + i) // 60 % 24:02d}:{(30 + i) % 60:02d}\t{80 + i / 10:.1f}" for i in range(60)]
    path.write_text("\n".join(["time\tsoap", *rows]), encoding="utf-8")


def stopwatch(path: Path) -> None:
    """A stopwatch, cells left out at the end of rows, months nowhere."""
    rows = [f"0:{i:02d}:00|{70 + i / 10}" + ("|21" if i % 3 else "") for i in range(60)]
    path.write_text("\n".join(["# exported", "", "Elapsed|Paste C|Room C", *rows]), encoding="utf-8")


def imported(
    path: Path, folder: Path, spec: str, zone: str | None = None, day: str | None = None
) -> Mapping[str, Series]:
    asked = ["import", str(path), f"--columns={spec}", "--recordings", str(folder)]
    asked += [f"--zone={zone}"] if zone else []
    asked += [f"--date={day}"] if day else []
    assert main(asked) == 0
    return load(next(folder.glob("*.cook"))).series


@pytest.mark.parametrize(
    ("write", "spec", "zone", "day", "first", "last_c"),
    [
        (german, "-,date:dmy,time:clock,paste:Cel,wall:Cel,-", "Europe/Berlin", None, 1_792_885_800.0, 77.9),
        (american, "-,time:mdy,paste:degF", "UTC", None, 1_772_624_400.0, (197.9 - 32) / 1.8),
        (kelvin, "-,time:ms,paste:K,wall:K,ph:pH", None, None, START, 365.9),
        (midnight, "time:clock,paste:Cel", "UTC", "2026-03-14", 1_773_531_000.0, 85.9),
        (stopwatch, "time:hms,paste:Cel,room:Cel", None, None, None, 75.9),
    ],
    ids=lambda one: getattr(one, "__name__", ""),
)
def test_a_difficult_table_is_inferred_and_parsed(
    tmp_path: Path,
    write: Callable[[Path], None],
    spec: str,
    zone: str | None,
    day: str | None,
    first: float | None,
    last_c: float,
    capsys: pytest.CaptureFixture[str],
) -> None:
    path = tmp_path / "their table.csv"
    write(path)
    assert main(["import", str(path)]) == 2
    shown = capsys.readouterr().out
    command = next(line for line in shown.splitlines() if line.startswith("  kettleside import"))
    assert f"--columns={spec}" in shlex.split(command)
    series = imported(path, tmp_path / "r", spec, zone, day)
    paste = series["paste"]
    if first is not None:
        assert paste.measured[0] == first
    assert len(set((paste.measured[1:] - paste.measured[:-1]).tolist()) - {60.0, 30.0, 120.0}) == 0
    assert paste.value[-1] == pytest.approx(last_c)


def test_rows_after_the_last_reading_are_reported(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    german(tmp_path / "t.csv")
    series = imported(tmp_path / "t.csv", tmp_path / "r", "-,date:dmy,time:clock,paste:Cel,wall:Cel,-", "Europe/Berlin")
    said = capsys.readouterr().out
    assert "180 rows, 1 faults" in said and "1 row after the last reading had no time" in said
    assert series["paste"].faults == ((20, "offen"),) and len(series["paste"]) == 179 and len(series["wall"]) == 180
    assert series["wall"].measured[-1] - series["wall"].measured[0] == 179 * 60.0


def conversation(path: Path, answers: list[str]) -> tuple[str, list[str]]:
    """The command that the guide ends with, and all that it said and asked."""
    said: list[str] = []
    left = iter(answers)

    def ask(question: str) -> str:
        said.append(question)
        return next(left)

    command = LayoutPrompt(path, None, None).asked(ask, said.append).command(path)
    assert next(left, None) is None
    return command, said


def test_the_prompt_ends_with_the_command_to_type(tmp_path: Path) -> None:
    path = tmp_path / "us.csv"
    american(path)
    answers = ["4=paste:Cel", "3", "3=wall:F", "1=-", "", "day", "Mars/Olympus", "America/New_York"]
    command, said = conversation(path, answers)
    assert command == f"kettleside import {path} --columns=-,time:dmy,wall:F --zone America/New_York"
    assert sum("Type the number of a column" in line for line in said) == 2
    assert any("Mars/Olympus" in line for line in said)
    assert "  03 Apr 2026 11:40:00 (15:40:00 UTC)  wall 87.7778 Cel" in said


def test_answers_that_do_not_fit_are_asked_again(tmp_path: Path) -> None:
    path = tmp_path / "clock.csv"
    midnight(path)
    answers = ["1=-", "", "1=time:iso", "", "1=time:clock", "", "the 14th", "2026-03-14", ""]
    command, said = conversation(path, answers)
    assert command.endswith("--columns=time:clock,paste:Cel --date 2026-03-14")
    assert any("exactly one column must be the time" in line for line in said)
    assert any("That does not fit" in line for line in said) and any("the 14th" in line for line in said)


def test_rows_without_a_time_are_accepted_at_the_end_only(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    row = "2026-03-14T10:40:00Z,1\n"
    path.write_text(row + "Max,2\n" + row, encoding="utf-8")
    layout = parse_layout("time:iso,paste:Cel")
    with pytest.raises(ExchangeError, match="row 2 has no time in 'Max'"):
        parse_table(path, layout, silent)
    path.write_text(row + "x,2\n" * 21, encoding="utf-8")
    with pytest.raises(ExchangeError, match="row 2 has no time"):
        parse_table(path, layout, silent)


def test_a_time_outside_a_recordings_range_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    path.write_text("2026-03-14T10:40:00Z,1\n0001-01-01T00:00:00+01:00,2\n2026-03-14T10:41:00Z,3\n", encoding="utf-8")
    with pytest.raises(ExchangeError, match="row 2 has no time in '0001-01-01T00:00:00"):
        parse_table(path, parse_layout("time:iso,paste:Cel"), silent)


def test_elapsed_seconds_that_span_centuries_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    path.write_text("0,1\n2500000,2\n", encoding="utf-8")
    layout = parse_layout("time:h,paste:Cel")
    taken = parse_table(path, layout, silent)
    with pytest.raises(ExchangeError, match="285 years: are they in another unit"):
        store_table(taken, path, tmp_path, START, silent)
    assert [left.name for left in tmp_path.iterdir()] == ["t.csv"]


def test_rows_out_of_order_are_stored_by_their_time(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    path.write_text("".join(f"{s},{20 + s},{'x' if s == 2 else ''}\n" for s in (0, 3, 1, 2)), encoding="utf-8")
    taken = parse_table(path, parse_layout("time:s,paste:C,wall:C"), silent)
    series = load(store_table(taken, path, tmp_path / "r", START + 3.0, silent)).series
    assert series["paste"].value.tolist() == [20.0, 21.0, 22.0, 23.0]
    assert series["wall"].faults == ((0, "x"),) and series["wall"].measured.tolist() == [START + 2.0]


@given(st.floats(-200.0, 1300.0), st.sampled_from(["{:.2f}", "{:.2f} °C", "{:.2f}C", "{:+.2f}\u00a0°C", "{:,.2f} K"]))
def test_a_cell_with_a_unit_is_parsed_as_its_number(value: float, words: str) -> None:
    assert number(words.format(value)) == float(f"{value:.2f}")


@pytest.mark.parametrize("cell", ["12 of 20", "1_000", "3 err", "OL", "", "°C", "--"])
def test_a_cell_that_is_not_a_number_is_a_fault(cell: str) -> None:
    with pytest.raises(ValueError):
        number(cell)


def test_a_unit_in_the_cell_overrides_that_of_the_column(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    path.write_text("0,200 °F\n1,95 °C\n2,368.15 K\n3,5 V\n", encoding="utf-8")
    taken = parse_table(path, parse_layout("time:s,paste:Cel"), silent)
    assert taken.values[0][:3].tolist() == pytest.approx([(200 - 32) / 1.8, 95.0, 95.0])
    assert math.isnan(taken.values[0][3]) and taken.faults == [{3: "5 V"}]


@pytest.mark.parametrize(
    ("cell", "moment"),
    [
        ("2026-03-14T10:40:00Z", START),
        ("2026-03-14 11:40:00+01:00", START),
        ("2026-03-14 11:40+01", START),
        ("2026-03-14 10:40:00 UTC", START),
        ("2026-03-14T05:10:00.5-0530", START + 0.5),
    ],
)
def test_a_time_with_an_offset_is_parsed(cell: str, moment: float) -> None:
    assert zoned_moment(cell) == moment


@pytest.mark.parametrize(
    ("cell", "order"),
    [
        ("14. März 2026 11:40", "dmy"),
        ("14-Mar-26 11:40:00", "dmy"),
        ("Mar 14, 2026 11:40 a.m.", "mdy"),
        ("14 mars 2026 11:40", "dmy"),
    ],
)
def test_a_month_name_is_parsed(cell: str, order: str) -> None:
    assert local_moment(cell, order, BERLIN) == START


@given(st.text("0123456789:.,-+TZ /°CFKmaprv", max_size=24))
def test_any_cell_gives_a_value_or_a_value_error(cell: str) -> None:
    unit_behind(cell)
    for read in (number, zoned_moment, stopwatch_s, lambda text: local_moment(text, "dmy", BERLIN)):
        try:
            assert isinstance(read(cell), float)
        except (ValueError, OverflowError):
            continue
