"""Drives the whole logger by scripted sources on a clock that jumps."""

import sqlite3
import subprocess
import sys
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from monitor.protocol import parse_pack
from monitor.runtime import Anchor
from monitor.sources import Lost, Restored, SourceItem
from monitor.storage import Recorder, load
from tests.logger.scripted import START, Run, bad, events, pack, timed_pack

SHEET = 'title = "Hand soap"\n'


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


def test_a_sender_with_a_full_window_is_acknowledged_sooner(tmp_path: Path) -> None:
    run = Run(tmp_path, window=3)
    stored: list[int] = []
    packs = [pack(60.0 + i, START + 1 + i / 100, seq=i) for i in range(4)]
    run.record(*((p.arrived, p) for p in packs), (START + 1.05, lambda: stored.append(len(run.source.acknowledged))))
    assert stored == [4]


def test_a_lost_source_is_logged_once_with_its_own_text(tmp_path: Path) -> None:
    run = Run(tmp_path).record(
        (START + 1, Lost("The port is not there.", START + 1)),
        (START + 2, Lost("The port may not be opened.", START + 2)),
        (START + 3, Lost("The port is not there.", START + 3)),
        (START + 9, Restored(START + 9)),
        (START + 20, Lost("The port is not there.", START + 20)),
    )
    assert events(run.cooks[0]) == [("source lost", 1.0), ("source back", 9.0), ("source lost", 20.0)]
    assert [text for text in run.reports.lines if "port" in text] == [
        "warning: The port is not there.",
        "warning: The port may not be opened.",
        "warning: The port is not there.",
    ]


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


def test_equal_relative_times_are_not_a_repetition(tmp_path: Path) -> None:
    """RFC 8428 section 4.5.3: t of -1 is a second ago, whenever it is sent."""
    recorder = Recorder.create(tmp_path, Anchor(START, START, "", 0.0), rig="cooker", source="test:")
    ago = [parse_pack('[{"n":"paste","u":"Cel","v":90,"t":-1}]', START + 60.0 * i) for i in range(5)]
    assert all(recorder.add_pack(one) for one in ago)
    assert not recorder.add_pack(replace(ago[-1], arrived=START + 243.0))
    recorder.close()


def test_a_recording_of_an_older_version_is_continued(tmp_path: Path) -> None:
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


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=40, deadline=None)
@given(st.lists(st.sampled_from(["pack", "repeat", "bad", "lost", "back", "restart"]), max_size=25))
def test_every_pack_is_stored_once_whatever_happens(
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
    ("source", "heavy"),
    [
        ("serial:///dev/nowhere", ("numpy", "pandas", "dash", "plotly", "flask", "pyarrow", "tqdm", "paho", "ssl")),
        (
            "mqtt://nowhere/kettleside/+/readings",
            ("numpy", "pandas", "dash", "plotly", "flask", "pyarrow", "tqdm", "serial"),
        ),
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


def test_a_rigs_clock_offset_is_subtracted_and_logged(tmp_path: Path) -> None:
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
    assert any("2 h ahead" in text for text in run.reports.lines)
    # A logger that goes on knows it still.
    queue = [(START + 200, timed_pack(61.0, START + 200, START + 130.0 + i)) for i in range(20)]
    Run(tmp_path, at=START + 199).record(*queue)
    assert load(run.cooks[0]).series["paste"].measured[-20:].tolist() == [START + 130.0 + i for i in range(20)]
