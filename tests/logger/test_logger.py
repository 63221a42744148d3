"""The logger on a scripted source: what it stores, notes, says and begins by itself."""

import errno
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime
from functools import partial
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from monitor.logger.lock import LoggerLock, SecondLoggerError
from monitor.logger.resume import RESUMED_WITHIN_S, resumed_anchor
from monitor.model import Event, clock_time, make_event
from monitor.notifications.store import logger_port
from monitor.protocol import Pack, parse_pack
from monitor.runtime import Anchor
from monitor.sources import Lost, Restored, SourceItem
from monitor.storage import Recorder, RecordingError, load, log_event, read_header, withdraw_event
from tests.logger.scripted import START, Run, bad, pack

SHEET = 'title = "Hand soap"\n'


def events(path: Path) -> list[tuple[str, float]]:
    return [(event.kind, event.measured - START) for event in load(path).events]


def finished(at: float) -> Event:
    return make_event(f"finished-{at}", "finished", at, at)


def count_of(event: Event) -> float:
    return float(event.fields["count"])


def test_every_pack_is_stored_once_and_acknowledged(tmp_path: Path) -> None:
    packs = [pack(60.0 + i, START + i, seq=i) for i in range(10)]
    run = Run(tmp_path).record(*((p.arrived, p) for p in packs), (START + 10, packs[-1]), sheet=SHEET)
    (path,) = run.cooks
    history = load(path)
    assert history.series["paste"].value.tolist() == [60.0 + i for i in range(10)]
    assert run.source.acknowledged == [*packs, packs[-1]]
    assert history.batch is not None and history.batch.title == "Hand soap"
    assert run.source.closed


def test_a_pack_is_committed_within_a_second_of_its_arrival(tmp_path: Path) -> None:
    run = Run(tmp_path)
    stored: list[list[float]] = []

    def look() -> None:
        series = load(run.cooks[0]).series
        stored.append(series["paste"].value.tolist() if "paste" in series else [])

    run.record(
        (START + 1, pack(60.0, START + 1)),
        (START + 1.05, look),
        (START + 1.1, pack(61.0, START + 1.1)),
        (START + 2.0, look),
        (START + 2.1, pack(62.0, START + 2.1)),
    )
    # After a pause at once, else within the second.
    assert stored == [[60.0], [60.0, 61.0]]


def test_a_sender_that_is_held_up_is_served_sooner(tmp_path: Path) -> None:
    run = Run(tmp_path, window=3)
    stored: list[int] = []
    packs = [pack(60.0 + i, START + 1 + i / 100, seq=i) for i in range(4)]
    run.record(*((p.arrived, p) for p in packs), (START + 1.05, lambda: stored.append(len(run.source.acknowledged))))
    assert stored == [4]


def test_bad_lines_are_counted_and_noted_at_most_once_a_minute(tmp_path: Path) -> None:
    run = Run(tmp_path).record(*((START + i, bad(START + i)) for i in range(150)), (START + 200, bad(START + 200)))
    noted = [event for event in load(run.cooks[0]).events if event.kind == "bad line"]
    # The last is what was left at the end.
    assert [count_of(event) for event in noted] == [1, 60, 60, 29, 1]
    assert all(later.measured - earlier.measured >= 60 for earlier, later in pairwise(noted[:-1]))
    assert noted[0].fields["bytes"] == "xyz" and noted[0].fields["reason"] == "it is not JSON"


def test_lost_packs_are_counted_by_seq(tmp_path: Path) -> None:
    seqs = [5, 6, 9, 10, 0, 1, 4]
    run = Run(tmp_path).record(
        *((START + i, pack(60.0, START + i, seq)) for i, seq in enumerate(seqs)),
        (START + 70, pack(60.0, START + 70, 5)),
    )
    noted = [event for event in load(run.cooks[0]).events if event.kind == "packs lost"]
    assert [count_of(event) for event in noted] == [2, 2]


def test_a_late_pack_is_no_restart_of_the_sender(tmp_path: Path) -> None:
    def timed(seq: int, at: float) -> Pack:
        from monitor.protocol import parse_pack

        text = f'[{{"n":"paste","u":"Cel","t":{at},"v":60}},{{"n":"seq","u":"count","v":{seq}}}]'
        return parse_pack(text, at + 30)

    order = [1, 2, 4, 3, 5, 6]
    run = Run(tmp_path).record(*((START + i, timed(seq, START + seq)) for i, seq in enumerate(order)))
    assert sum(count_of(e) for e in load(run.cooks[0]).events if e.kind == "packs lost") == 1
    assert len(load(run.cooks[0]).series["paste"]) == 6


def test_a_lost_source_is_noted_once_and_said_in_its_own_words(tmp_path: Path) -> None:
    run = Run(tmp_path).record(
        (START + 1, Lost("The port is not there.", START + 1)),
        (START + 2, Lost("The port may not be opened.", START + 2)),
        (START + 3, Lost("The port is not there.", START + 3)),
        (START + 9, Restored(START + 9)),
        (START + 20, Lost("The port is not there.", START + 20)),
    )
    assert events(run.cooks[0]) == [("source lost", 1.0), ("source back", 9.0), ("source lost", 20.0)]
    assert [text for text in run.ear.said if "port" in text] == [
        "warning: The port is not there.",
        "warning: The port may not be opened.",
        "warning: The port is not there.",
    ]


def test_a_restart_goes_on_with_the_running_cook(tmp_path: Path) -> None:
    first = Run(tmp_path).record((START + 1, pack(60.0, START + 1, 1)))
    second = Run(tmp_path, at=START + 60).record((START + 61, pack(61.0, START + 61, 2)), sheet=SHEET)
    assert first.cooks == second.cooks
    history = load(second.cooks[0])
    assert history.series["paste"].value.tolist() == [60.0, 61.0]
    assert events(second.cooks[0]) == [("resumed", 60.0)]
    assert history.batch is not None


def test_a_cook_last_heard_of_half_a_day_ago_does_not_go_on(tmp_path: Path) -> None:
    Run(tmp_path).record((START + 1, pack(60.0, START + 1)))
    run = Run(tmp_path, at=START + 1 + RESUMED_WITHIN_S).record((START + 50_000, pack(20.0, START + 50_000)))
    assert len(run.cooks) == 2
    # The old one is left as one file.
    assert not list(tmp_path.glob("*-wal"))


def test_a_virtual_cook_does_not_go_on_in_real_time(tmp_path: Path) -> None:
    Recorder.create(tmp_path, Anchor(START, START, "", 0.0, rate=80.0), rig="cooker", source="test:").close()
    run = Run(tmp_path, at=START + 60).record((START + 61, pack(61.0, START + 61)))
    assert len(run.cooks) == 2


def test_another_rigs_cook_does_not_go_on(tmp_path: Path) -> None:
    Run(tmp_path).record((START + 1, pack(60.0, START + 1)))
    run = Run(tmp_path, at=START + 9).record((START + 10, pack(61.0, START + 10)), rig="shed")
    assert len(run.cooks) == 2


def test_the_end_of_a_cook_then_idle_then_a_new_one_by_itself(tmp_path: Path) -> None:
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


def test_a_paste_that_never_cooled_begins_nothing(tmp_path: Path) -> None:
    run = Run(tmp_path)
    run.record(
        (START + 5, lambda: log_event(run.cooks[0], finished(START + 5))),
        *((START + 10 + i, pack(90.0 - i, START + 10 + i)) for i in range(40)),
    )
    assert len(run.cooks) == 1


def test_a_cook_begun_elsewhere_is_taken_up(tmp_path: Path) -> None:
    run = Run(tmp_path)

    def begin() -> None:
        Recorder.create(tmp_path, run.clock.anchor(), rig="cooker", source="page", sheet=SHEET).close()

    run.record(
        (START + 1, lambda: log_event(run.cooks[0], finished(START + 1))),
        (START + 10, begin),
        (START + 20, pack(30.0, START + 20)),
    )
    assert load(run.cooks[1]).series["paste"].value.tolist() == [30.0]


def test_an_end_that_is_taken_back_goes_on(tmp_path: Path) -> None:
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


def test_a_cook_that_was_meant_to_end_gains_no_readings(tmp_path: Path) -> None:
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


def test_what_is_held_after_an_end_is_bounded(tmp_path: Path) -> None:
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


def timed_pack(paste_c: float, at: float, own: float, seq: int | None = None) -> Pack:
    """A pack that arrives at ``at`` and says that it was measured at ``own``."""
    count = "" if seq is None else f',{{"n":"seq","u":"count","v":{seq}}}'
    return parse_pack(f'[{{"n":"paste","u":"Cel","v":{paste_c},"t":{own}}}{count}]', at)


def test_a_rigs_wrong_clock_is_taken_off_and_noted(tmp_path: Path) -> None:
    run = Run(tmp_path).record(
        *((START + i, timed_pack(60.0, START + i, START + i + 7200.0, i)) for i in range(60)),
        *((START + i, timed_pack(60.0, START + i, START + i, i)) for i in range(60, 120)),
        (START + 121, pack(60.0, START + 121)),
    )
    history = load(run.cooks[0])
    series = history.series["paste"]
    assert abs(series.measured - series.known).max() < 0.1
    noted = [event for event in history.events if event.kind == "rig clock"]
    assert [round(float(event.fields["ahead_s"])) for event in noted] == [7200, 0]
    assert not [event for event in history.events if event.kind == "packs lost"]
    with closing(sqlite3.connect(run.cooks[0])) as connection:
        said = [row[0] for row in connection.execute("SELECT said FROM reading ORDER BY id")]
    assert said[:60] == [START + i + 7200.0 for i in range(60)] and said[-30:] == [None] * 30
    assert any("2 h ahead" in text for text in run.ear.said)
    # A logger that goes on knows it still.
    queue = [(START + 200, timed_pack(61.0, START + 200, START + 130.0 + i)) for i in range(20)]
    Run(tmp_path, at=START + 199).record(*queue)
    assert load(run.cooks[0]).series["paste"].measured[-20:].tolist() == [START + 130.0 + i for i in range(20)]


def test_one_time_far_ahead_hides_no_lost_packs(tmp_path: Path) -> None:
    stray = timed_pack(60.0, START + 3, 4.1e9, 3)
    steps = [(START + i, timed_pack(60.0, START + i, START + i, i)) for i in (0, 1, 2)]
    more = [(START + i, timed_pack(60.0, START + i, START + i, i)) for i in (5, 8)]
    run = Run(tmp_path).record(*steps, (START + 3, stray), *more)
    assert sum(count_of(e) for e in load(run.cooks[0]).events if e.kind == "packs lost") == 3


@pytest.mark.parametrize("times", [2, pytest.param(20, marks=pytest.mark.long)])
def test_thousands_of_timed_packs_sent_again_are_stored_once(tmp_path: Path, times: int) -> None:
    count = 3000 * times
    packs = [timed_pack(60.0 + i % 40, START + i / 10, START + i / 10, i) for i in range(count)]
    again_at = START + count / 10 + 10.0
    recorder = Recorder.create(tmp_path, Anchor(START, START, "", 0.0), rig="cooker", source="test:")
    assert all(recorder.add_pack(one) for one in packs)
    recorder.commit()
    assert not any(recorder.add_pack(replace(one, arrived=again_at)) for one in packs)
    recorder.close()
    recorder = Recorder.resume(recorder.path)
    assert not any(recorder.add_pack(replace(one, arrived=again_at)) for one in packs)
    assert recorder.add_pack(timed_pack(60.0, again_at, again_at, count))
    # Late ones among them, and those with the same time but other content, are new.
    assert recorder.add_pack(timed_pack(11.0, again_at, START + 5.0, 50))
    recorder.close()
    assert len(load(recorder.path).series["paste"]) == count + 2


def test_the_same_distance_from_now_is_no_repetition(tmp_path: Path) -> None:
    """RFC 8428 section 4.5.3: t of -1 is a second ago, whenever it is sent."""
    recorder = Recorder.create(tmp_path, Anchor(START, START, "", 0.0), rig="cooker", source="test:")
    ago = [parse_pack('[{"n":"paste","u":"Cel","v":90,"t":-1}]', START + 60.0 * i) for i in range(5)]
    assert all(recorder.add_pack(one) for one in ago)
    assert not recorder.add_pack(replace(ago[-1], arrived=START + 243.0))
    recorder.close()


def test_a_recording_of_an_older_program_is_written_on(tmp_path: Path) -> None:
    recorder = Recorder.create(tmp_path, Anchor(START, START, "", 0.0), rig="cooker", source="test:")
    recorder.add_pack(timed_pack(60.0, START, START))
    recorder.close()
    with closing(sqlite3.connect(recorder.path)) as connection:
        connection.execute("ALTER TABLE reading DROP COLUMN said")
    run = Run(tmp_path, at=START + 9).record((START + 10, timed_pack(61.0, START + 10, START + 9000.0)))
    assert load(run.cooks[0]).series["paste"].measured.tolist() == [START, START + 10]
    # What an older program writes beside it is as good.
    with closing(sqlite3.connect(recorder.path)) as connection, connection:
        connection.execute("INSERT INTO pack (known, seq, digest) VALUES (?, NULL, NULL)", (START + 20,))
        connection.execute(
            "INSERT INTO reading (pack, channel, measured, value, fault) VALUES (3, 1, NULL, 62.0, NULL)",
        )
    assert load(run.cooks[0]).series["paste"].value.tolist() == [60.0, 61.0, 62.0]


def test_once_ends_with_the_cook(tmp_path: Path) -> None:
    run = Run(tmp_path)
    run.record(
        (START + 1, lambda: log_event(run.cooks[0], finished(START + 1))), (START + 999, pack(1.0, START)), once=True
    )
    assert run.clock.now() < START + 10
    assert not list(tmp_path.glob("*-wal"))


def test_a_finished_cook_is_folded_when_its_reader_has_gone(tmp_path: Path) -> None:
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


def test_a_cook_finished_while_the_logger_was_dead_is_folded(tmp_path: Path) -> None:
    recorder = Recorder.create(tmp_path, Anchor(START, START, "", 0.0), rig="cooker", source="test:")
    recorder.add_event(finished(START + 1))
    recorder.commit()
    # Another open connection keeps the WAL, as a killed logger leaves it.
    run = Run(tmp_path, at=START + 10)
    run.record((START + 11, recorder.close), (START + 20, pack(20.0, START + 20)))
    assert not recorder.path.with_name(recorder.path.name + "-wal").exists()
    assert len(run.cooks) == 2


class TestTrouble:
    """The disk fills up, the file vanishes: nothing is stored twice, what waits is stored later."""

    def full(self, monkeypatch: pytest.MonkeyPatch, run: Run) -> None:
        def refuse(recorder: Recorder) -> None:
            raise RecordingError(recorder.path, "the disk is full")

        monkeypatch.setattr(Recorder, "commit", refuse)

    def test_a_full_disk_is_outlived(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        run = Run(tmp_path)
        works = Recorder.commit
        run.record(
            (START + 1, pack(60.0, START + 1, 1)),
            (START + 3, lambda: self.full(monkeypatch, run)),
            *((START + 4 + i, pack(61.0 + i, START + 4 + i, 2 + i)) for i in range(20)),
            (START + 30, lambda: monkeypatch.setattr(Recorder, "commit", works)),
            (START + 40, pack(99.0, START + 40, 22)),
        )
        (path,) = run.cooks
        assert load(path).series["paste"].value.tolist() == [60.0, *(61.0 + i for i in range(20)), 99.0]
        assert [text.partition(": ")[2].partition(".cook")[2] for text in run.ear.said if "disk" in text] == [
            ": the disk is full. Readings are kept in memory and the write is tried again each second."
        ]
        assert sum("written again" in text for text in run.ear.said) == 1
        assert len(run.source.acknowledged) == 22

    def test_what_waits_is_bounded_and_what_is_let_go_is_told(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        from monitor.logger import write_buffer as keeper

        monkeypatch.setattr(keeper, "MOST_RECORDS", 100)
        run = Run(tmp_path)
        works = Recorder.commit
        run.record(
            (START + 1, lambda: self.full(monkeypatch, run)),
            *((START + 2 + i, pack(float(i), START + 2 + i)) for i in range(200)),
            (START + 300, lambda: monkeypatch.setattr(Recorder, "commit", works)),
            (START + 400, pack(-1.0, START + 400)),
        )
        history = load(run.cooks[0])
        kept = history.series["paste"].value.tolist()
        lost = sum(count_of(event) for event in history.events if event.kind == "packs lost")
        assert 40 <= len(kept) <= 51 and len(kept) - 1 + lost == 200
        assert kept[:-1] == [float(i) for i in range(200 - len(kept) + 1, 200)]

    def test_a_recording_that_is_deleted_makes_room_for_a_new_one(self, tmp_path: Path) -> None:
        run = Run(tmp_path)
        run.record(
            (START + 1, pack(60.0, START + 1)),
            (START + 5, lambda: run.cooks[0].unlink()),
            (START + 10, pack(61.0, START + 10)),
        )
        (path,) = run.cooks
        assert load(path).series["paste"].value.tolist() == [61.0]
        assert any("is gone; a new recording begins" in text for text in run.ear.said)

    def test_a_recording_that_is_spoilt_makes_room_for_a_new_one(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        run = Run(tmp_path)
        works = Recorder.commit
        spoilt: list[Path] = []

        def spoil(recorder: Recorder) -> None:
            spoilt[:] = spoilt or [recorder.path]
            if recorder.path in spoilt:
                raise RecordingError(recorder.path, "it is damaged", damaged=True)
            works(recorder)

        run.record(
            (START + 1, pack(60.0, START + 1, 1)),
            (START + 5, lambda: monkeypatch.setattr(Recorder, "commit", spoil)),
            (START + 10, pack(61.0, START + 10, 2)),
            (START + 20, pack(62.0, START + 20, 3)),
        )
        old, new = sorted(run.cooks, key=lambda path: path not in spoilt)
        assert load(old).series["paste"].value.tolist() == [60.0]
        assert load(new).series["paste"].value.tolist() == [61.0, 62.0]
        assert any("it is damaged. A new recording begins." in text for text in run.ear.said)

    def test_a_folder_that_is_a_file_ends_the_start_with_one_sentence(self, tmp_path: Path) -> None:
        (tmp_path / "file").write_text("x")
        with pytest.raises(RecordingError, match=r"^file: "):
            Run(tmp_path / "file").record()


def test_a_second_logger_of_the_same_cooker_is_refused(tmp_path: Path) -> None:
    run = Run(tmp_path)
    run.stop.set()
    with LoggerLock(tmp_path, "cooker", run.stop):
        with pytest.raises(SecondLoggerError, match="Another logger already records the cooker cooker in"):
            run.record()
        Run(tmp_path).record(rig="shed")


def test_the_port_that_speaks_stands_in_the_lock_while_it_does(tmp_path: Path) -> None:
    run, noted = Run(tmp_path), list[str | None]()

    def turn(port: str | None) -> None:
        run.source.port = port

    def look() -> None:
        noted.append(logger_port(tmp_path, "cooker"))

    ports = (None, "/dev/ttyUSB0", None, "/dev/ttyACM1")
    steps = [(START + 3 * at + more, what) for at, port in enumerate(ports) for more, what in ((0, port), (2, look))]
    run.record(*((at, what if callable(what) else partial(turn, what)) for at, what in steps))
    assert noted == list(ports)
    assert logger_port(tmp_path, "cooker") is None


def test_a_port_that_cannot_be_noted_costs_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> int:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("monitor.logger.lock.os.pwrite", full)
    run = Run(tmp_path)
    run.source.port = "/dev/ttyUSB0"
    run.record((START, pack(60.0, START, seq=0)), (START + 1, pack(61.0, START + 1, seq=1)))
    assert len(load(run.cooks[0]).series["paste"]) == 2


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=40, deadline=None)
@given(st.lists(st.sampled_from(["pack", "repeat", "bad", "lost", "back", "restart"]), max_size=25))
def test_whatever_happens_every_pack_is_there_once(
    tmp_path_factory: pytest.TempPathFactory, happenings: list[str]
) -> None:
    folder = tmp_path_factory.mktemp("any")
    run, at, stored = Run(folder), START, list[float]()
    steps = list[tuple[float, SourceItem]]()
    for happening in happenings:
        at += 0.3
        if happening == "pack":
            stored.append(float(len(stored)))
            steps.append((at, pack(stored[-1], at, len(stored))))
        elif happening == "repeat" and stored:
            steps.append((at, pack(stored[-1], at, len(stored))))
        elif happening == "bad":
            steps.append((at, bad(at)))
        elif happening == "lost":
            steps.append((at, Lost("The cable is out.", at)))
        elif happening == "back":
            steps.append((at, Restored(at)))
        elif happening == "restart":
            run.record(*steps)
            run, steps = Run(folder, at=at), list[tuple[float, SourceItem]]()
    run.record(*steps)
    (path,) = run.cooks
    series = load(path).series
    assert (series["paste"].value.tolist() if stored else []) == stored


@pytest.mark.parametrize(
    ("tied", "last_known", "fresh", "expected"),
    [
        # The wall clock was stepped by an hour, either way; the boot is the same.
        (Anchor(START, START, "b", 100.0), START + 50, Anchor(START + 3660, START + 3660, "b", 160.0), START + 60),
        (Anchor(START, START, "b", 100.0), START + 50, Anchor(START - 3540, START - 3540, "b", 160.0), START + 60),
        # The machine was restarted: the wall clock counts, but cook time never runs backwards.
        (Anchor(START, START, "b", 100.0), START + 50, Anchor(START + 90, START + 90, "c", 5.0), START + 90),
        (Anchor(START, START, "b", 100.0), START + 50, Anchor(0.0, 0.0, "c", 5.0), START + 50),
        # Half a day on, it is another cook.
        (Anchor(START, START, "b", 100.0), START + 50, Anchor(START + 5e4, START + 5e4, "b", 50_100.0), None),
        # A virtual cook does not go on in real time.
        (Anchor(START, START, "b", 100.0, 80.0), START + 50, Anchor(START + 60, START + 60, "b", 160.0), None),
    ],
)
def test_cook_time_after_a_restart(tied: Anchor, last_known: float, fresh: Anchor, expected: float | None) -> None:
    anchor = resumed_anchor(tied, last_known, fresh)
    assert (None if anchor is None else anchor.cook_time) == expected


def test_the_night_the_clocks_change_is_as_long_as_it_is(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """25 October 2026, 01:00 UTC: the clocks go back from 3 to 2 (EU directive 2000/84)."""
    change = datetime(2026, 10, 25, 1, tzinfo=UTC).timestamp()
    monkeypatch.setenv("TZ", "Europe/Berlin")
    time.tzset()
    try:
        run = Run(tmp_path, at=change - 3600.0)
        run.record(*((change + after, pack(60.0, change + after)) for after in range(-3500, 3600, 100)))
        Run(tmp_path, at=change + 3600.0).record((change + 3700.0, pack(61.0, change + 3700.0)))
        history = load(run.cooks[0])
        steps = {later - earlier for earlier, later in pairwise(history.series["paste"].measured.tolist())}
        assert clock_time(change - 60.0) == "02:59" and clock_time(change) == "02:00"
    finally:
        monkeypatch.undo()
        time.tzset()
    assert len(run.cooks) == 1 and "T000000Z" in run.cooks[0].name
    assert steps == {100.0, 200.0}


@pytest.mark.parametrize(
    ("source", "heavy"),
    [
        ("serial:///dev/nowhere", ("numpy", "pandas", "dash", "plotly", "flask", "pyarrow", "paho", "ssl")),
        ("mqtt://nowhere/kettleside/+/readings", ("numpy", "pandas", "dash", "plotly", "flask", "pyarrow", "serial")),
    ],
)
def test_the_logger_imports_nothing_heavy(tmp_path: Path, source: str, heavy: tuple[str, ...]) -> None:
    """In a fresh interpreter that records one pack from this kind of source, so that every lazy import is made."""
    script = (
        "import sys; from pathlib import Path; from threading import Event\n"
        "from monitor.cli import log; from monitor.logger import run_logger, starting_anchor\n"
        "from monitor.protocol import parse_pack; from monitor.runtime import Reporter, SystemClock\n"
        "from monitor.sources import open_source, parse_source_url\n"
        "folder, stop, clock = Path(sys.argv[1]), Event(), SystemClock()\n"
        "starting_anchor(folder, 'cooker', clock.anchor())\n"
        "source = open_source(parse_source_url(sys.argv[2]), clock)\n"
        "def poll(_timeout_s):\n"
        "    stop.set()\n"
        '    return [parse_pack(\'[{"n":"paste","u":"Cel","v":94.25}]\', clock.now())]\n'
        "source.poll = poll\n"
        "run_logger(source, folder, clock, 'cooker', None, Reporter('logger'), stop)\n"
        "print(*(name for name in sys.argv[3:] if name in sys.modules))"
    )
    command = [sys.executable, "-c", script, str(tmp_path / "cooks"), source, *heavy]
    ended = subprocess.run(command, capture_output=True, text=True, timeout=30, check=True)
    assert ended.stdout.strip() == "" and len(list((tmp_path / "cooks").glob("*.cook"))) == 1


def test_finished_is_seen_through_sqlite_alone(tmp_path: Path) -> None:
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


def test_a_source_that_never_speaks_begins_no_cook(tmp_path: Path) -> None:
    lost = Lost("The port is not there.", START + 1)
    run = Run(tmp_path).record((START + 1, lost), (START + 2, bad(START + 2)), (START + 90, lambda: None), sheet=None)
    assert run.cooks == []
    assert run.ear.said[:2] == [
        "note: Waits for the first reading from test:; a recording begins with it.",
        "warning: The port is not there.",
    ]
    # What arrives and cannot be read is said all the same.
    assert any("A line could not be read" in words for words in run.ear.said)


def test_without_a_batch_sheet_the_cook_begins_with_the_first_reading(tmp_path: Path) -> None:
    steps = [(START + at, pack(20.0 + at, START + at)) for at in (300, 301)]
    run = Run(tmp_path).record((START + 1, Lost("The port is not there.", START + 1)), *steps, sheet=None, once=True)
    (path,) = run.cooks
    assert read_header(path).started == pytest.approx(START + 300, abs=2.0) and read_header(path).sheet is None
    assert load(path).series["paste"].value.tolist() == [320.0, 321.0] and load(path).events == ()
    assert f"note: Records into {path.name}, from test:." in run.ear.said


def test_a_cook_that_a_person_begins_while_the_logger_waits_is_taken_up(tmp_path: Path) -> None:
    run = Run(tmp_path)

    def begun() -> None:
        Recorder.create(tmp_path, run.clock.anchor(), rig="cooker", source="page").close()

    run.record((START + 5, begun), (START + 60, pack(30.0, START + 60)), sheet=None)
    (path,) = run.cooks
    assert read_header(path).started == pytest.approx(START + 5, abs=1.0)
    assert load(path).series["paste"].value.tolist() == [30.0]
