"""Export and import without loss, and another program's CSV file."""

import csv
import json
import math
import random
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from monitor.exchange import ExchangeError, export_package, import_package
from monitor.exchange.csv_import import import_csv
from monitor.exchange.table_layout import parse_layout
from monitor.exchange.timestamps import from_rfc3339, rfc3339
from monitor.model import make_event
from monitor.protocol import Pack, SenmlRecord
from monitor.runtime import Anchor
from monitor.storage import Recorder, load, read_header
from tests.exchange import odd_cooks
from tests.exchange.odd_cooks import START, contents, differences

SHEET = 'title = "Brush soap"\n[[oil]]\nname = "rapeseed"\ngrams = 600\n'

moments = st.floats(START, START + 86_400.0)
names = st.sampled_from(["paste", "wall", "room", "ph", "urn:dev:kitchen:paste"])
records = st.builds(
    SenmlRecord,
    names,
    st.sampled_from(["Cel", "V", "K"]),
    st.floats(allow_nan=False, allow_infinity=False),
    st.none(),
    st.none() | moments,
) | st.builds(
    SenmlRecord, names, st.just("Cel"), st.none(), st.text("ab, \n\"'é", min_size=1, max_size=20), st.none() | moments
)
packs = st.builds(
    Pack,
    st.lists(records, max_size=4).map(tuple),
    moments,
    st.none() | st.integers(0, 2**40),
    st.integers(-(2**63), 2**63 - 1),
)
notes = st.tuples(moments, st.text(max_size=80), st.booleans())


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(packs, max_size=8), st.lists(notes, max_size=4), st.none() | moments)
def test_an_exported_cook_is_imported_unchanged(
    tmp_path_factory: pytest.TempPathFactory,
    given_packs: list[Pack],
    given_notes: list[tuple[float, str, bool]],
    ended: float | None,
) -> None:
    folder = tmp_path_factory.mktemp("exchange")
    recorder = Recorder.create(folder, Anchor(START, START, "", 0.0), rig="cooker", source="serial://auto", sheet=SHEET)
    for pack in given_packs:
        recorder.add_pack(pack)
    for i, (moment, text, withdrawn) in enumerate(given_notes):
        recorder.add_event(make_event(f"note {i}", "note", moment, moment + 1.0, {"text": text}))
        if withdrawn:
            recorder.add_withdrawal(f"note {i}", moment + 2.0)
    if ended is not None:
        recorder.end(ended)
    recorder.finish()
    export_package(recorder.path, folder / "package")
    copy = import_package(folder / "package", folder / "copies")
    assert contents(copy) == contents(recorder.path)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.randoms(use_true_random=False))
def test_the_oddest_cooks_are_imported_unchanged(tmp_path_factory: pytest.TempPathFactory, draw: random.Random) -> None:
    folder = tmp_path_factory.mktemp("exchange")
    path = odd_cooks.recorded(folder / "from", draw)
    export_package(path, folder / "package")
    assert differences(contents(path), contents(import_package(folder / "package", folder / "to"))) == []


def test_empty_packs_and_equal_packs_keep_their_order(tmp_path: Path) -> None:
    recorder = Recorder.create(tmp_path, Anchor(START, START, "", 0.0), rig="cooker", source="test")
    one = Pack((SenmlRecord("paste", "Cel", 94.25, None, None),), START, 1, 7)
    for pack in (one, Pack((), START + 1.0, 2, 8), one):
        recorder.add_pack(pack, copied=True)
    recorder.finish()
    export_package(recorder.path, tmp_path / "out")
    copy = import_package(tmp_path / "out", tmp_path / "b")
    assert [row[2] for row in contents(copy)["packs"]] == [1, 2, 1] and len(load(copy).series["paste"]) == 2


def test_a_package_of_an_earlier_version_is_read_with_one_clock(tmp_path: Path) -> None:
    recorder = Recorder.create(tmp_path, Anchor(START, START, "a", 1.0), rig="cooker", source="test")
    recorder.tie_clock(Anchor(START + 60.0, START + 61.0, "b", 2.0))
    recorder.finish()
    export_package(recorder.path, tmp_path / "out")
    batch = json.loads((tmp_path / "out" / "batch.json").read_text(encoding="utf-8"))
    del batch["earlier_clocks"]
    (tmp_path / "out" / "batch.json").write_text(json.dumps(batch), encoding="utf-8")
    assert read_header(import_package(tmp_path / "out", tmp_path / "b")) == read_header(recorder.path)


@given(moments)
def test_a_time_survives_its_text(moment: float) -> None:
    assert from_rfc3339(rfc3339(moment)) == moment


def test_the_tables_have_the_documented_columns(tmp_path: Path) -> None:
    recorder = Recorder.create(tmp_path, Anchor(START, START, "", 0.0), rig="cooker", source="test")
    recorder.add_pack(Pack((SenmlRecord("paste", "Cel", 94.25, None, START + 1.0),), START + 1.5, 7, 1))
    recorder.add_pack(Pack((SenmlRecord("paste", "Cel", None, "open circuit", None),), START + 2.5, 8, 2))
    recorder.finish()
    export_package(recorder.path, tmp_path / "out")
    with (tmp_path / "out" / "readings.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert list(rows[0])[:6] == ["time", "elapsed_s", "channel", "unit", "value", "fault"]
    assert rows[0]["time"] == "2026-03-14T10:40:01.0000000Z"
    assert (rows[0]["elapsed_s"], rows[0]["value"], rows[1]["fault"]) == ("1.0", "94.25", "open circuit")
    package = json.loads((tmp_path / "out" / "datapackage.json").read_text(encoding="utf-8"))
    for resource in package["resources"]:
        with (tmp_path / "out" / resource["path"]).open(newline="", encoding="utf-8") as file:
            assert next(csv.reader(file)) == [field["name"] for field in resource["schema"]["fields"]]


def test_export_refuses_a_folder_that_is_not_empty(tmp_path: Path) -> None:
    recorder = Recorder.create(tmp_path, Anchor(START, START, "", 0.0), rig="cooker", source="test")
    recorder.finish()
    with pytest.raises(ExchangeError, match="not empty"):
        export_package(recorder.path, tmp_path)


@pytest.mark.parametrize(
    ("file", "text", "why"),
    [
        ("batch.json", "{}", "not what an export writes"),
        ("batch.json", "[", "not JSON"),
        ("readings.csv", "a,b\n1,2\n", "columns must be"),
        (
            "readings.csv",
            "time,elapsed_s,channel,unit,value,fault,pack\nyesterday,0,paste,Cel,1,,1\n",
            "line 2 is wrong",
        ),
        (
            "readings.csv",
            "time,elapsed_s,channel,unit,value,fault,pack\n2026-03-14T10:40:01Z,0,paste,Cel,,,1\n",
            "neither",
        ),
        (
            "readings.csv",
            "time,elapsed_s,channel,unit,value,fault,pack\n2026-03-14T10:40:01Z,0,paste,Cel,1,,99\n",
            "packs.csv",
        ),
        ("events.csv", "time,known,event,fields,uid,withdrawn\nx\n", "cells"),
        (
            "events.csv",
            "time,known,event,fields,uid,withdrawn\n0026-04-20T22:12:07Z,2026-04-20T22:12:07Z,note,{},a,\n",
            "line 2 is wrong: time",
        ),
        ("packs.csv", f"pack,known,seq,digest\n1,2026-03-14T10:40:01Z,{2**70},\n", "64 bits"),
        (
            "readings.csv",
            "time,elapsed_s,channel,unit,value,fault,pack\n2026-03-14T10:40:01Z,0,paste,Cel,inf,,1\n",
            "must be a number",
        ),
    ],
)
def test_an_invalid_package_is_refused_in_one_sentence_and_leaves_nothing(
    tmp_path: Path, file: str, text: str, why: str
) -> None:
    recorder = Recorder.create(tmp_path / "a", Anchor(START, START, "", 0.0), rig="cooker", source="test")
    recorder.add_pack(Pack((SenmlRecord("paste", "Cel", 94.25, None, None),), START, None, None))
    recorder.finish()
    export_package(recorder.path, tmp_path / "out")
    (tmp_path / "out" / file).write_text(text, encoding="utf-8")
    with pytest.raises(ExchangeError, match=why) as caught:
        import_package(tmp_path / "out", tmp_path / "b")
    assert "\n" not in str(caught.value)
    assert not list((tmp_path / "b").glob("*")) if (tmp_path / "b").exists() else True


def silent(_done: int, _total: int) -> None:
    return None


def test_an_external_csv_with_elapsed_minutes_and_fahrenheit_is_imported(tmp_path: Path) -> None:
    file = tmp_path / "probe.csv"
    file.write_text("minute;note;temp F\n0;start;149\n0.5;;150.8\n1;;open\n\n", encoding="utf-8")
    path = import_csv(file, parse_layout("time:min,-,paste:degF"), tmp_path / "r", START + 60.0, silent)
    series = load(path).series["paste"]
    assert series.unit == "Cel"
    assert series.measured.tolist() == [START, START + 30.0, START + 60.0]
    assert series.value[:2] == pytest.approx([65.0, 66.0])
    assert math.isnan(series.value[2]) and series.faults == ((2, "open"),)
    assert read_header(path).ended == START + 60.0


@pytest.mark.parametrize(
    ("spec", "text", "why"),
    [
        ("time:iso,paste:Cel", "2026-03-14T10:40:00Z,1\nlater,2\n2026-03-14T10:41:00Z,3\n", "row 2 has no time"),
        ("time:s,paste:Cel,wall:Cel", "1,2\n", "2 cells where 3"),
        ("time:s,paste:Cel", "time,paste\n", "no reading"),
    ],
)
def test_an_external_csv_that_does_not_fit_its_layout_is_refused(
    tmp_path: Path, spec: str, text: str, why: str
) -> None:
    file = tmp_path / "probe.csv"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(ExchangeError, match=why):
        import_csv(file, parse_layout(spec), tmp_path / "r", START, silent)


@pytest.mark.parametrize(
    "spec", ["paste:Cel", "time:s", "time:week,paste:Cel", "time:s,paste:Cel,paste:Cel", "time:s,paste"]
)
def test_an_invalid_layout_is_refused_with_the_wrong_part_named(spec: str) -> None:
    with pytest.raises(ValueError, match="columns"):
        parse_layout(spec)


def test_the_senders_own_times_survive_export_and_import(tmp_path: Path) -> None:
    recorder = Recorder.create(tmp_path, Anchor(START, START, "", 0.0), rig="cooker", source="test:")
    own = (
        SenmlRecord("paste", "Cel", 94.25, None, None, sender_time=5000.5),
        SenmlRecord("wall", "Cel", 97.0, None, START - 9.0),
    )
    recorder.add_pack(Pack(own, START + 1.0, 7, 1))
    recorder.close()
    export_package(recorder.path, tmp_path / "package")
    again = import_package(tmp_path / "package", tmp_path / "again")
    for path in (recorder.path, again):
        with closing(sqlite3.connect(path)) as connection:
            rows = connection.execute("SELECT measured, value, said FROM reading ORDER BY id").fetchall()
        assert rows == [(None, 94.25, 5000.5), (START - 9.0, 97.0, None)]
    assert (tmp_path / "package" / "readings.csv").read_text().splitlines()[0].endswith(",pack,said")
