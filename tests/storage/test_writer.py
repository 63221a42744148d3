"""One file a cook: what is stored is stored once, and a view of a moment shows what was known then."""

import sqlite3
import uuid
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from monitor.formulation import SheetError
from monitor.model import Event, make_event
from monitor.protocol import Pack, parse_pack
from monitor.runtime import Anchor
from monitor.runtime.clock import JumpClock
from monitor.session import Cook
from monitor.storage.annotations import log_event, withdraw_event, write_sheet
from monitor.storage.connections import RecordingError, fold
from monitor.storage.index import read_header, recordings, running, summary
from monitor.storage.reader import IncrementalReader, load
from monitor.storage.writer import Recorder

START = 1_773_480_000.0
SHEET = 'title = "Hand soap"\n[[oil]]\nname = "rapeseed"\ngrams = 600\n[water]\ngrams = 540\n'


def pack(paste_c: float, at: float, seq: int | None = None) -> Pack:
    count = "" if seq is None else f',{{"n":"seq","u":"count","v":{seq}}}'
    return parse_pack(f'[{{"n":"paste","u":"Cel","v":{paste_c}}}{count}]', at)


def event(kind: str, measured: float, known: float | None = None, **fields: object) -> Event:
    return make_event(str(uuid.uuid4()), kind, measured, measured if known is None else known, fields)


def create(folder: Path, sheet: str | None = None) -> Recorder:
    return Recorder.create(folder, Anchor(START, START, "", 0.0), rig="cooker", source="test:", sheet=sheet)


@pytest.fixture
def recorder(tmp_path: Path) -> Iterator[Recorder]:
    made = create(tmp_path)
    yield made
    made.close()


def test_a_view_of_a_moment_shows_what_was_known_then(recorder: Recorder) -> None:
    recorder.add_pack(pack(60.0, START + 1))
    recorder.add_pack(pack(61.0, START + 2))
    # Measured at 1.5 s but known only at 10 s.
    late = parse_pack(f'[{{"n":"paste","u":"Cel","t":{START + 1.5},"v":60.5}}]', START + 10)
    recorder.add_pack(late)
    recorder.add_event(event("lid on", START + 3, START + 9))
    recorder.commit()
    whole = load(recorder.path)
    assert whole.series["paste"].value.tolist() == [60.0, 60.5, 61.0]
    early = load(recorder.path, START + 5)
    assert early.series["paste"].value.tolist() == [60.0, 61.0]
    assert early.events == ()
    assert [e.kind for e in load(recorder.path, START + 9).events] == ["lid on"]


def test_a_growing_cook_is_the_cook_read_at_once(recorder: Recorder) -> None:
    roll = IncrementalReader(recorder.path)
    for i in range(50):
        recorder.add_pack(pack(60.0 + i, START + i))
        if i % 7 == 0:
            recorder.commit()
            assert roll.refresh()
    recorder.commit()
    roll.refresh()
    assert not roll.refresh()
    grown, whole = roll.history(), load(recorder.path)
    assert grown.series["paste"].value.tolist() == whole.series["paste"].value.tolist()
    assert grown.series["paste"].known.tolist() == whole.series["paste"].known.tolist()


def test_what_is_not_committed_is_not_seen(recorder: Recorder) -> None:
    recorder.add_pack(pack(60.0, START + 1))
    assert load(recorder.path).series == {}
    recorder.commit()
    assert len(load(recorder.path).series["paste"]) == 1


def test_a_pack_delivered_twice_is_stored_once_also_after_a_restart(tmp_path: Path) -> None:
    first = create(tmp_path)
    assert first.add_pack(pack(60.0, START + 1, seq=1))
    assert not first.add_pack(pack(60.0, START + 2, seq=1))
    first.close()
    again = Recorder.resume(first.path)
    assert again.last_seq == 1
    assert not again.add_pack(pack(60.0, START + 3, seq=1))
    assert again.add_pack(pack(60.0, START + 3, seq=2))
    again.close()
    assert len(load(first.path).series["paste"]) == 2


def test_a_board_that_starts_anew_is_not_taken_for_a_repeat(recorder: Recorder) -> None:
    """It counts from 0 again and measures the same; only who redelivers, or a time, makes that a repeat."""
    later = START + 60
    assert recorder.add_pack(pack(20.25, START, seq=0))
    assert not recorder.add_pack(replace(pack(20.25, later, seq=0), redelivered=True))
    assert recorder.add_pack(pack(20.25, later, seq=0))
    timed = parse_pack(f'[{{"n":"paste","u":"Cel","v":20,"t":{START}}}]', START)
    assert recorder.add_pack(timed)
    assert not recorder.add_pack(replace(timed, arrived=START + 9999))


def test_packs_that_cannot_be_told_apart_are_all_stored(recorder: Recorder) -> None:
    assert recorder.add_pack(pack(60.0, START + 1))
    assert recorder.add_pack(pack(60.0, START + 1))


def test_after_a_failed_write_the_pack_can_be_stored(tmp_path: Path) -> None:
    first, one = create(tmp_path), pack(60.0, START + 1, seq=1)
    first.add_pack(one)
    first.abandon()
    again = Recorder.resume(first.path)
    assert again.add_pack(one)
    again.close()
    assert len(load(first.path).series["paste"]) == 1


def test_an_event_taken_back_still_stands_in_an_earlier_view(tmp_path: Path) -> None:
    recorder = create(tmp_path)
    recorder.close()
    lid = event("lid on", START + 10)
    log_event(recorder.path, lid)
    log_event(recorder.path, lid)
    withdraw_event(recorder.path, lid.uid, START + 20)
    assert load(recorder.path, START + 15).events == (lid,)
    assert load(recorder.path, START + 25).events == ()
    with pytest.raises(RecordingError, match="no such event"):
        withdraw_event(recorder.path, "nobody", START + 30)


def test_undo_in_the_view(tmp_path: Path) -> None:
    recorder = create(tmp_path)
    recorder.close()
    clock = JumpClock(START + 100)
    cook = Cook(recorder.path, lambda _: clock)
    stirred = cook.log_event("stirred")
    assert [e.kind for e in cook.history().events] == ["stirred"]
    clock.wait_until(START + 200)
    cook.take_back(stirred.uid)
    clock.wait_until(START + 300)
    log_event(recorder.path, event("note", clock.now(), text="later"))
    assert [e.kind for e in Cook(recorder.path, lambda _: clock).history().events] == ["note"]
    assert [e.kind for e in cook.history(START + 150).events] == ["stirred"]


def test_the_sheet_of_a_moment(tmp_path: Path) -> None:
    recorder = create(tmp_path, SHEET)
    recorder.close()
    write_sheet(recorder.path, SHEET.replace("Hand", "Brush"), START + 60)
    before, after = load(recorder.path, START + 30).batch, load(recorder.path, START + 90).batch
    assert before is not None and before.title == "Hand soap"
    assert after is not None and after.title == "Brush soap"
    with pytest.raises(SheetError):
        write_sheet(recorder.path, "titel = 1", START + 120)


def test_a_fault_is_read_back_as_a_fault(recorder: Recorder) -> None:
    recorder.add_pack(parse_pack('[{"n":"paste","u":"Cel","vs":"open circuit"}]', START + 1))
    recorder.add_pack(pack(60.0, START + 2))
    recorder.commit()
    series = load(recorder.path).series["paste"]
    assert series.faults == ((0, "open circuit"),)
    assert series.value[1] == 60.0


def test_finish_leaves_one_file(tmp_path: Path) -> None:
    recorder = create(tmp_path)
    recorder.add_pack(pack(60.0, START + 1))
    assert recorder.finish()
    assert [p.name for p in tmp_path.iterdir()] == [recorder.path.name]
    assert len(load(recorder.path).series["paste"]) == 1


def test_finish_with_a_reader_connected_loses_nothing_and_folds_later(tmp_path: Path) -> None:
    recorder = create(tmp_path)
    recorder.add_pack(pack(60.0, START + 1))
    recorder.commit()
    with closing(sqlite3.connect(f"file:{recorder.path}?mode=ro", uri=True)) as reader:
        reader.execute("BEGIN")
        reader.execute("SELECT count(*) FROM reading").fetchone()
        recorder.add_pack(pack(61.0, START + 2))
        assert not recorder.finish()
        assert len(load(recorder.path).series["paste"]) == 2
    assert fold(recorder.path)
    assert [p.name for p in tmp_path.iterdir()] == [recorder.path.name]
    assert len(load(recorder.path).series["paste"]) == 2


def test_a_full_disk_is_one_sentence_and_nothing_is_stored_twice(tmp_path: Path) -> None:
    recorder = create(tmp_path)
    pages = recorder._connection.execute("PRAGMA page_count").fetchone()[0]
    recorder._connection.execute(f"PRAGMA max_page_count = {pages}")
    packs = [pack(60.0, START + i, seq=i) for i in range(500)]
    with pytest.raises(RecordingError, match=r"\.cook: the disk is full\.$"):
        for one in packs:
            recorder.add_pack(one)
    recorder.abandon()
    again = Recorder.resume(recorder.path)
    assert all(again.add_pack(one) for one in packs)
    again.close()
    assert len(load(recorder.path).series["paste"]) == 500


def test_a_folder_that_is_a_file_is_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    with pytest.raises(RecordingError, match=r"not a directory|file exists"):
        create(tmp_path / "file")


def test_a_create_that_fails_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(SheetError):
        create(tmp_path, "titel = 1")

    def refuse(connection: sqlite3.Connection, anchor: Anchor) -> None:
        # Nobody sees half a recording, and what is killed here leaves none.
        assert recordings(tmp_path) == [] and len(list(tmp_path.iterdir())) >= 1
        raise sqlite3.OperationalError("no")

    monkeypatch.setattr("monitor.storage.writer._write_anchor", refuse)
    with pytest.raises(RecordingError):
        create(tmp_path)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("content", [b"", b"hello\n", b"SQLite format 3\0" + b"\0" * 84, b"\xff" * 5000])
def test_a_file_that_is_no_recording_is_said_and_passed_over(tmp_path: Path, content: bytes) -> None:
    good = create(tmp_path)
    good.close()
    (tmp_path / "zzz.cook").write_bytes(content)
    with pytest.raises(RecordingError, match=r"^zzz\.cook: .*\.$"):
        load(tmp_path / "zzz.cook")
    with pytest.raises(RecordingError):
        Recorder.resume(tmp_path / "zzz.cook")
    assert running(tmp_path) == good.path


def test_another_programs_database_is_no_recording(tmp_path: Path) -> None:
    path = tmp_path / "other.cook"
    with closing(sqlite3.connect(path)) as other:
        other.execute("CREATE TABLE t (x)")
    with pytest.raises(RecordingError, match="not a recording"):
        read_header(path)


def test_a_newer_format_is_refused(recorder: Recorder) -> None:
    recorder._connection.execute("PRAGMA user_version = 99")
    with pytest.raises(RecordingError, match="newer"):
        read_header(recorder.path)


def test_the_running_cook_of_each_rig(tmp_path: Path) -> None:
    old = create(tmp_path)
    other = Recorder.create(tmp_path, Anchor(START + 50, 0.0, "", 0.0), rig="shed", source="test:")
    new = Recorder.create(tmp_path, Anchor(START + 100, 0.0, "", 0.0), rig="cooker", source="test:")
    assert recordings(tmp_path) == [new.path, other.path, old.path]
    assert running(tmp_path, "cooker") == new.path
    assert running(tmp_path, "shed") == other.path
    new.add_event(event("finished", START + 120))
    new.commit()
    assert new.is_finished()
    assert running(tmp_path, "cooker") == old.path
    assert summary(new.path).finished == START + 120
    for recorder in (old, other, new):
        recorder.close()


def test_summary_tells_the_last_known_moment(tmp_path: Path) -> None:
    recorder = create(tmp_path, SHEET)
    recorder.add_pack(pack(60.0, START + 77))
    recorder.close()
    found = summary(recorder.path)
    assert (found.title, found.last_known, found.finished) == ("Hand soap", START + 77, None)


def test_an_event_taken_back_after_the_last_reading_is_gone_at_once(tmp_path: Path) -> None:
    recorder = Recorder.create(tmp_path, Anchor(1_773_484_800.0, 1_773_484_800.0, "", 0.0), rig="cooker", source="test")
    recorder.add_event(make_event("a", "stirred", 1_773_484_900.0, 1_773_484_900.0))
    recorder.close()
    withdraw_event(recorder.path, "a", 1_773_484_950.0)
    assert load(recorder.path).events == ()
    assert [event.uid for event in load(recorder.path, 1_773_484_940.0).events] == ["a"]
