"""A damaged recording yields all that can be read, and says what could not."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from monitor.model import make_event
from monitor.protocol import Pack, SenmlRecord
from monitor.runtime import Anchor
from monitor.storage import Recorder, RecordingError, connect_read_only, load, salvage_recording
from monitor.storage.salvage import PAGE_BYTES
from tests.exchange.odd_cooks import START, contents

PACKS = 3000


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """A recording of 6000 readings and 20 events, finished, as bytes."""
    folder = tmp_path_factory.mktemp("sound")
    recorder = Recorder.create(folder, Anchor(START, START, "", 0.0), rig="cooker", source="test")
    for i in range(PACKS):
        at = START + i
        records = (
            SenmlRecord("paste", "Cel", 60.0 + i / 100.0, None, at),
            SenmlRecord("wall", "Cel", None, "open circuit", None),
        )
        recorder.add_pack(Pack(records, at, None, None))
        if i % 150 == 0:
            recorder.add_event(make_event(f"e{i}", "stirred", at, at))
    recorder.add_event(make_event("end", "finished", START + PACKS, START + PACKS))
    recorder.finish()
    return recorder.path.read_bytes()


def damaged(folder: Path, raw: bytes) -> Path:
    path = folder / "cook.cook"
    path.write_bytes(raw)
    return path


def test_an_intact_recording_is_salvaged_completely(tmp_path: Path, sound: bytes) -> None:
    path = damaged(tmp_path, sound)
    result = salvage_recording(path, tmp_path / "out")
    assert result.whole and result.lines()[-1] == "Nothing was missing."
    old, new = contents(path), contents(result.path)
    for table in ("readings", "packs", "events", "withdrawals", "sheets"):
        assert new[table] == old[table]


@settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_one_damaged_page_loses_little_and_is_reported(
    tmp_path_factory: pytest.TempPathFactory, sound: bytes, data: st.DataObject
) -> None:
    pages = len(sound) // PAGE_BYTES
    # From beyond the roots of the tables, whose loss is tried below.
    page = data.draw(st.integers(16, pages - 1))
    spoilt = data.draw(st.sampled_from([bytes(PAGE_BYTES), b"\xff" * PAGE_BYTES, b"spoilt! " * (PAGE_BYTES // 8)]))
    folder = tmp_path_factory.mktemp("damaged")
    path = damaged(folder, sound[: page * PAGE_BYTES] + spoilt + sound[(page + 1) * PAGE_BYTES :])
    result = salvage_recording(path, folder / "out")
    assert path.read_bytes()[page * PAGE_BYTES : (page + 1) * PAGE_BYTES] == spoilt
    copy = load(result.path)
    read = sum(len(series) for series in copy.series.values())
    assert read == result.readings
    # A page holds at most some 200 readings, or 300 packs' heads, whose readings take the moment before.
    assert read >= 2 * PACKS - 400
    assert set(copy.series["paste"].measured.tolist()) <= {START + i for i in range(PACKS)}
    if result.readings < 2 * PACKS or result.events < 21:
        assert not result.whole and len(result.lines()) > 1


@pytest.mark.parametrize("cut", [0.4, 0.6, 0.9])
def test_a_truncated_file_yields_its_beginning(tmp_path: Path, sound: bytes, cut: float) -> None:
    result = salvage_recording(damaged(tmp_path, sound[: int(len(sound) * cut)]), tmp_path / "out")
    # The first quarter of so small a file is the plan and the heads of its tables.
    assert result.readings > 2 * PACKS * (cut - 0.25)
    assert any("Could not read" in line for line in result.lines())
    with closing(connect_read_only(result.path)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)


def test_a_damaged_first_page_is_rebuilt(tmp_path: Path, sound: bytes) -> None:
    path = damaged(tmp_path, bytes(PAGE_BYTES) + sound[PAGE_BYTES:])
    with pytest.raises(RecordingError):
        load(path)
    result = salvage_recording(path, tmp_path / "out")
    assert (result.readings, result.events) == (2 * PACKS, 21)
    assert result.schema_lost and not result.whole


@pytest.mark.parametrize("raw", [b"", b"nonsense" * 2000, bytes(20 * PAGE_BYTES)])
def test_a_file_without_any_readable_row_is_refused_and_leaves_nothing(tmp_path: Path, raw: bytes) -> None:
    with pytest.raises(RecordingError, match="nothing of a"):
        salvage_recording(damaged(tmp_path, raw), tmp_path / "out")
    assert not list((tmp_path / "out").glob("*")) if (tmp_path / "out").exists() else True


@pytest.mark.parametrize(
    "spoil",
    [
        "UPDATE event SET known = NULL",
        "UPDATE event SET fields = '[1]'",
        "UPDATE event SET kind = x'07'",
        "UPDATE channel SET name = x'ff' WHERE id = 1",
        "UPDATE about SET value = x'b0' WHERE key = 'rig'",
        "UPDATE clock SET rate = 'fast'",
        "UPDATE pack SET known = 'late'",
    ],
)
def test_a_row_with_a_wrong_type_is_reported_as_damage(tmp_path: Path, sound: bytes, spoil: str) -> None:
    """SQLite believes any type when it reads; found by ``tests.bench.hostile_input``."""
    path = damaged(tmp_path, sound)
    with closing(sqlite3.connect(path)) as connection:
        # As a spoilt page would: past the rules of the table.
        connection.execute("PRAGMA writable_schema = ON")
        connection.execute("UPDATE sqlite_master SET sql = replace(sql, 'NOT NULL', '') WHERE type = 'table'")
        connection.commit()
    with closing(sqlite3.connect(path)) as connection:
        connection.execute(spoil)
        connection.commit()
    with pytest.raises(RecordingError, match="damaged"):
        load(path)
    assert salvage_recording(path, tmp_path / "out").readings > 0
