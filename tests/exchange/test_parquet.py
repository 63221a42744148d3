"""The tables as Parquet: read back by the library, every value, unit, fault and time as the recording has it."""

import random
import sys
import zipfile
from pathlib import Path

import numpy as np
import pyarrow
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyarrow import parquet

from monitor.cli import main
from monitor.exchange import export_package, import_package
from monitor.exchange import parquet as ours
from monitor.exchange.archive import ASIDE, import_zip
from monitor.exchange.frames import LAST_NS_S, utc_index
from monitor.exchange.parquet import ParquetError, parquet_writer
from monitor.storage import read_header
from tests.exchange.columns import parquet_differences, seconds
from tests.exchange.odd_cooks import START, contents, recorded
from tests.exchange.test_archive import recorded as plain
from tests.exchange.test_archive import validated
from tests.exchange.test_datapackage import silent


@pytest.mark.parametrize("seed", range(20))
def test_every_value_unit_fault_and_time_is_read_back(
    tmp_path: Path, seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    # So that a table takes several batches.
    monkeypatch.setattr(ours, "BATCH_ROWS", 5)
    path = recorded(tmp_path / "from", random.Random(seed))
    export_package(path, tmp_path / "out", parquet=True)
    held = contents(path)
    assert parquet_differences(tmp_path / "out", held, read_header(path).started) == []
    assert contents(import_package(tmp_path / "out", tmp_path / "to")) == held


def test_the_comparison_of_tables_detects_a_difference(tmp_path: Path) -> None:
    path = plain(tmp_path)
    export_package(path, tmp_path / "out", parquet=True)
    held = contents(path)
    for name in ("readings", "packs", "events"):
        assert parquet_differences(tmp_path / "out", {**held, name: held[name][:-1]}, START) != []
    assert parquet_differences(tmp_path / "out", held, START + 1.0) != []


def test_the_columns_are_those_of_the_csv_with_types(tmp_path: Path) -> None:
    export_package(plain(tmp_path), tmp_path / "out", parquet=True)
    schema = parquet.read_schema(tmp_path / "out" / "readings.parquet")
    header = (tmp_path / "out" / "readings.csv").read_text(encoding="utf-8").splitlines()[0]
    assert schema.names == header.split(",")
    assert schema.field("time").type == pyarrow.timestamp("ns", tz="UTC")
    assert schema.field("value").type == pyarrow.float64() and schema.field("channel").type == pyarrow.string()
    frame = parquet.read_table(tmp_path / "out" / "readings.parquet").to_pandas()
    assert str(frame["time"][0]) == "2026-03-14 10:40:00+00:00"
    good = validated(tmp_path / "out")
    assert good.returncode == 0, good.stdout + good.stderr


# In the first hundred days of 1970 a float of Unix seconds is finer than a nanosecond.
@given(st.floats(2.0**23, float(LAST_NS_S)))
def test_a_time_survives_conversion_to_nanoseconds(moment: float) -> None:
    assert seconds(int(utc_index(np.array([moment])).asi8[0])) == moment


def test_a_time_outside_the_range_of_parquet_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ParquetError, match="2262"):
        parquet_writer()(tmp_path / "packs.parquet", ("pack", "known"), [(1, 9.3e9)])


def test_a_zip_contains_the_parquet_tables_and_is_imported(tmp_path: Path) -> None:
    path, zip_path = plain(tmp_path), tmp_path / "cook.zip"
    assert main(["export", str(path), "--to", str(zip_path), "--parquet"]) == 0
    with zipfile.ZipFile(zip_path) as archive:
        assert set(ASIDE) <= set(archive.namelist())
    assert contents(import_zip(zip_path, tmp_path / "to", silent)) == contents(path)


def test_without_the_library_one_sentence_says_how_to_get_it_and_nothing_is_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    path = plain(tmp_path)
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    assert main(["export", str(path), "--to", str(tmp_path / "out"), "--parquet"]) == 1
    said = capsys.readouterr().err
    assert "pip install" in said and "pyarrow" in said and said.count("\n") == 1
    assert not (tmp_path / "out").exists()
    assert main(["export", str(path), "--to", str(tmp_path / "out")]) == 0
