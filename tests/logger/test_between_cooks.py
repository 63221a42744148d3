"""From the end of one cook to the beginning of the next, and the wait before the first."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from monitor.model import Event, make_event
from monitor.runtime import Anchor
from monitor.sources import Lost
from monitor.storage import Recorder, load, log_event, read_header, withdraw_event
from tests.logger.scripted import START, Run, bad, pack

SHEET = 'title = "Hand soap"\n'


def finished(at: float) -> Event:
    return make_event(f"finished-{at}", "finished", at, at)


def test_after_the_end_of_a_cook_the_logger_idles_and_begins_a_new_one(tmp_path: Path) -> None:
    run = Run(tmp_path)
    temperatures = [(20, 90.0), (30, 60.0), (40, 39.0), (50, 44.0), (60, 46.0), (61, 47.0)]
    run.record(
        (START + 1, pack(95.0, START + 1)),
        (START + 5, lambda: log_event(run.cooks[0], finished(START + 5))),
        *((START + after, pack(celsius, START + after)) for after, celsius in temperatures),
        sheet=SHEET,
    )
    first, second = run.cooks
    assert load(first).series["paste"].value.tolist() == [95.0]
    assert load(second).series["paste"].value.tolist() == [46.0, 47.0]
    assert load(second).batch is None
    # What was dropped on purpose is not kept by the sender either.
    assert len(run.source.acknowledged) == 7
    assert not first.with_name(first.name + "-wal").exists()


def test_a_paste_that_never_cooled_begins_no_new_cook(tmp_path: Path) -> None:
    run = Run(tmp_path)
    run.record(
        (START + 5, lambda: log_event(run.cooks[0], finished(START + 5))),
        *((START + 10 + i, pack(90.0 - i, START + 10 + i)) for i in range(40)),
    )
    assert len(run.cooks) == 1


def test_a_cook_begun_by_another_process_is_continued(tmp_path: Path) -> None:
    run = Run(tmp_path)

    def begin() -> None:
        Recorder.create(tmp_path, run.clock.anchor(), rig="cooker", source="page", sheet=SHEET).close()

    run.record(
        (START + 1, lambda: log_event(run.cooks[0], finished(START + 1))),
        (START + 10, begin),
        (START + 20, pack(30.0, START + 20)),
    )
    assert load(run.cooks[1]).series["paste"].value.tolist() == [30.0]


def test_a_cook_continues_when_its_end_is_withdrawn(tmp_path: Path) -> None:
    run = Run(tmp_path)
    end = finished(START + 2)
    run.record(
        (START + 1, pack(95.0, START + 1)),
        (START + 2, lambda: log_event(run.cooks[0], end)),
        (START + 10, pack(94.0, START + 10)),
        (START + 11, lambda: withdraw_event(run.cooks[0], end.uid, START + 11)),
        (START + 20, pack(93.0, START + 20)),
    )
    # What came between an end by accident and its undoing belongs to the cook.
    history = load(run.cooks[0])
    assert history.series["paste"].value.tolist() == [95.0, 94.0, 93.0]
    assert history.series["paste"].known.tolist() == [START + 1, START + 10, START + 20]


def test_an_end_withdrawn_late_restores_the_last_half_hour_only(tmp_path: Path) -> None:
    run = Run(tmp_path)
    late = finished(START + 2)
    run.record(
        (START + 1, pack(95.0, START + 1)),
        (START + 2, lambda: log_event(run.cooks[0], late)),
        *((START + 10 + i, pack(94.0, START + 10 + i)) for i in range(2000)),
        (START + 2100, lambda: withdraw_event(run.cooks[0], late.uid, START + 2100)),
        (START + 2105, pack(93.0, START + 2105)),
    )
    # Undone after more than the half hour for which they are held: what is older is gone, and nothing came before.
    known = load(run.cooks[0]).series["paste"].known
    assert known[0] == START + 1 and known[1] == pytest.approx(START + 209, abs=1.0) and known[-1] == START + 2105
    assert len(known) == 1803


def test_readings_held_after_an_end_are_bounded(tmp_path: Path) -> None:
    run = Run(tmp_path)
    end = finished(START + 2)
    run.record(
        (START + 1, pack(95.0, START + 1)),
        (START + 2, lambda: log_event(run.cooks[0], end)),
        *((START + 10 + i / 100, pack(94.0, START + 10 + i / 100)) for i in range(20_000)),
        (START + 300, lambda: withdraw_event(run.cooks[0], end.uid, START + 300)),
        (START + 310, pack(93.0, START + 310)),
    )
    assert len(load(run.cooks[0]).series["paste"]) == 10_002


def test_with_once_the_logger_ends_with_the_cook(tmp_path: Path) -> None:
    run = Run(tmp_path)
    run.record(
        (START + 1, lambda: log_event(run.cooks[0], finished(START + 1))), (START + 999, pack(1.0, START)), once=True
    )
    assert run.clock.now() < START + 10
    assert not list(tmp_path.glob("*-wal"))


def test_a_finished_cook_is_folded_after_its_reader_closes(tmp_path: Path) -> None:
    run = Run(tmp_path)
    readers: list[sqlite3.Connection] = []

    def read_and_finish() -> None:
        readers.append(sqlite3.connect(f"file:{run.cooks[0]}?mode=ro", uri=True))
        readers[0].execute("BEGIN").execute("SELECT count(*) FROM pack").fetchone()
        log_event(run.cooks[0], finished(START + 2))

    held: list[bool] = []
    run.record(
        (START + 1, pack(95.0, START + 1)),
        (START + 2, read_and_finish),
        (START + 10, lambda: held.append(bool(list(tmp_path.glob("*-wal"))))),
        (START + 11, lambda: readers[0].close()),
        (START + 20, pack(20.0, START + 20)),
    )
    assert held == [True]
    assert not list(tmp_path.glob("*-wal"))


def test_a_cook_finished_while_the_logger_was_down_is_folded(tmp_path: Path) -> None:
    recorder = Recorder.create(tmp_path, Anchor(START, START, "", 0.0), rig="cooker", source="test:")
    recorder.add_event(finished(START + 1))
    recorder.commit()
    # Another open connection keeps the WAL, as a killed logger leaves it.
    run = Run(tmp_path, at=START + 10)
    run.record((START + 11, recorder.close), (START + 20, pack(20.0, START + 20)))
    assert not recorder.path.with_name(recorder.path.name + "-wal").exists()
    assert len(run.cooks) == 2


def test_an_end_logged_by_another_process_is_seen_through_the_file(tmp_path: Path) -> None:
    """The page writes it in another process; no message passes between the two but the file."""
    run = Run(tmp_path)

    def finish_from_outside() -> None:
        with closing(sqlite3.connect(run.cooks[0])) as other:
            other.execute(
                "INSERT INTO event (uid, kind, measured, known, fields) VALUES ('x', 'finished', ?, ?, '{}')",
                (START + 3, START + 3),
            )
            other.commit()

    run.record((START + 3, finish_from_outside), (START + 100, pack(1.0, START + 100)), once=True)
    assert run.clock.now() < START + 10


def test_a_silent_source_begins_no_cook(tmp_path: Path) -> None:
    lost = Lost("The port is not there.", START + 1)
    run = Run(tmp_path).record((START + 1, lost), (START + 2, bad(START + 2)), (START + 90, lambda: None), sheet=None)
    assert run.cooks == []
    assert run.reports.lines[:2] == [
        "note: Waits for the first reading from test:; a recording begins with it.",
        "warning: The port is not there.",
    ]
    # What arrives and cannot be read is said all the same.
    assert any("A line could not be read" in words for words in run.reports.lines)


def test_without_a_batch_sheet_the_cook_begins_with_the_first_reading(tmp_path: Path) -> None:
    steps = [(START + at, pack(20.0 + at, START + at)) for at in (300, 301)]
    run = Run(tmp_path).record((START + 1, Lost("The port is not there.", START + 1)), *steps, sheet=None, once=True)
    (path,) = run.cooks
    assert read_header(path).started == pytest.approx(START + 300, abs=2.0) and read_header(path).sheet is None
    assert load(path).series["paste"].value.tolist() == [320.0, 321.0] and load(path).events == ()
    assert f"note: Records into {path.name}, from test:." in run.reports.lines


def test_a_cook_begun_by_a_person_while_the_logger_waits_is_continued(tmp_path: Path) -> None:
    run = Run(tmp_path)

    def begun() -> None:
        Recorder.create(tmp_path, run.clock.anchor(), rig="cooker", source="page").close()

    run.record((START + 5, begun), (START + 60, pack(30.0, START + 60)), sheet=None)
    (path,) = run.cooks
    assert read_header(path).started == pytest.approx(START + 5, abs=1.0)
    assert load(path).series["paste"].value.tolist() == [30.0]
