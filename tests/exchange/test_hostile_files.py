"""Recordings and packages that are no files, never end, or hold what no program of ours writes."""

import json
import os
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from dashboard.app import make_app
from monitor.cli import main
from monitor.exchange import ExchangeError, export_package, import_package
from monitor.exchange.package_reader import MOST_TABLE_BYTES
from monitor.formulation import SheetError, read_sheet
from monitor.logger.lock import LoggerLock
from monitor.model import make_event
from monitor.notifications.store import NoticeFileError, NotifierLock
from monitor.protocol import parse_pack
from monitor.runtime import Anchor, try_lock
from monitor.runtime.clock import JumpClock
from monitor.runtime.signals import Stop
from monitor.session import CookLibrary
from monitor.storage import Recorder, RecordingError, building, load, log_event, recordings, summary

START = 1_773_480_000.0
LONE = "steam\ud83d rising"
KEY = "a-key-for-tests"
ENDLESS = "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n) SELECT"
WITHIN_S = 20.0


@pytest.fixture
def cook(tmp_path: Path) -> Path:
    folder = tmp_path / "cooks"
    recorder = Recorder.create(folder, Anchor(START, START, "", 0.0), rig="cooker", source="test:")
    recorder.add_pack(parse_pack('[{"n":"paste","u":"Cel","v":94.0}]', START + 1))
    recorder.add_event(make_event("end-0000", "finished", START + 60, START + 60))
    recorder.finish()
    return recorder.path


def change(path: Path, *statements: str) -> None:
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("PRAGMA writable_schema = ON")
        for statement in statements:
            connection.execute(statement)


def test_a_lone_surrogate_in_a_note_is_replaced_and_the_cook_can_be_exported(cook: Path, tmp_path: Path) -> None:
    event = make_event("note-0000", "note", START + 2, START + 2, {"text": LONE})
    assert event.fields["text"] == "steam\ufffd rising"
    log_event(cook, event)
    # As an older program stored it.
    change(
        cook,
        "INSERT INTO event (uid, kind, measured, known, fields) VALUES "
        f"('old-00000', 'note', {START + 3}, {START + 3}, '{json.dumps({'text': LONE})}')",
    )
    notes = [event.fields["text"] for event in load(cook).events if event.kind == "note"]
    assert notes == ["steam\ufffd rising"] * 2
    export_package(cook, tmp_path / "out")
    again = import_package(tmp_path / "out", tmp_path / "in")
    assert summary(again).events == summary(cook).events
    clock = JumpClock(START + 90.0)
    phone = make_app(CookLibrary(cook.parent, lambda _: clock), KEY).test_client()
    phone.get(f"/?key={KEY}")
    record = phone.get(f"/cooks/{cook.stem}/record")
    assert phone.get("/cooks").status_code == 200 and record.status_code in (200, 404)
    assert main(["show", cook.stem, "--recordings", str(cook.parent)]) == 0


def test_a_lone_surrogate_in_a_sheet_is_reported_in_one_sentence() -> None:
    with pytest.raises(SheetError, match="half a character"):
        read_sheet(f'title = "{LONE}"')


@pytest.mark.parametrize(
    "statements",
    [
        ("DROP TABLE event", f"CREATE VIEW event AS {ENDLESS} i AS id, 'u' AS uid, 'note' AS kind, 1.0 AS measured, "
         "1.0 AS known, '{}' AS fields FROM n"),
        ("DROP TABLE pack", f"CREATE VIEW pack AS {ENDLESS} i AS id, 1.0 AS known, NULL AS seq, NULL AS digest FROM n"),
        ("CREATE TRIGGER more AFTER INSERT ON event BEGIN INSERT INTO withdrawal (uid, known) VALUES (new.uid, 1); END",),
        ("DROP TABLE withdrawal", "CREATE VIRTUAL TABLE withdrawal USING fts5(uid, known)"),
        ("ALTER TABLE pack ADD COLUMN more AS (zeroblob(900000000))",),
    ],
)  # fmt: skip
def test_a_file_with_views_triggers_or_virtual_tables_is_refused(cook: Path, statements: tuple[str, ...]) -> None:
    change(cook, *statements)
    with pytest.raises(RecordingError, match="it holds what no recording does"):
        summary(cook)
    with pytest.raises(RecordingError, match="it holds what no recording does"):
        log_event(cook, make_event("note-0001", "note", START, START, {"text": "x"}))
    listed = run("list", "--recordings", str(cook.parent))
    assert "cannot be read: it holds what no recording does" in listed.stdout and listed.returncode == 0


def test_a_schema_that_is_not_text_is_reported_as_damage(cook: Path) -> None:
    change(
        cook,
        "PRAGMA writable_schema = ON",
        "UPDATE sqlite_schema SET sql = CAST(CAST(sql || ' -- ' AS BLOB) || X'E92870' AS TEXT) WHERE name = 'pack'",
    )
    with pytest.raises(RecordingError) as caught:
        summary(cook)
    assert caught.value.damaged


def test_cyclic_database_pages_do_not_hang_the_reader(cook: Path) -> None:
    """Interior pages whose every child is the next one down: 400 to the power of the depth (SQLite file format, 1.6)."""
    with closing(sqlite3.connect(cook, isolation_level=None)) as connection:
        connection.execute("PRAGMA journal_mode = DELETE")
        root = connection.execute("SELECT rootpage FROM sqlite_schema WHERE name = 'event'").fetchone()[0]
    raw = bytearray(cook.read_bytes())
    first, depth, cells = len(raw) // 4096 + 1, 8, 400

    def interior(child: int) -> bytes:
        start = 4096 - 5 * cells
        head = bytes([5, 0, 0]) + cells.to_bytes(2, "big") + start.to_bytes(2, "big") + b"\0" + child.to_bytes(4, "big")
        pointers = b"".join((start + 5 * i).to_bytes(2, "big") for i in range(cells))
        return (head + pointers).ljust(start, b"\0") + (child.to_bytes(4, "big") + b"\x7f") * cells

    leaf = raw[(root - 1) * 4096 : root * 4096]
    raw[(root - 1) * 4096 : root * 4096] = interior(first)
    for level in range(depth):
        raw += interior(first + level + 1)
    raw += leaf
    raw[28:32] = (len(raw) // 4096).to_bytes(4, "big")
    cook.write_bytes(raw)
    assert "cannot be read: it is damaged" in run("list", "--recordings", str(cook.parent)).stdout


def run(*words: str) -> subprocess.CompletedProcess[str]:
    """A command that has to end by itself."""
    command = [sys.executable, "-m", "monitor.cli", *words]
    return subprocess.run(command, capture_output=True, text=True, timeout=WITHIN_S, check=False)


def pipe(path: Path) -> None:
    os.mkfifo(path)


def device(path: Path) -> None:
    path.symlink_to("/dev/zero")


def folder(path: Path) -> None:
    path.mkdir()


def loop(path: Path) -> None:
    path.symlink_to(path.name)


ODD = (pipe, device, folder, loop)


@pytest.mark.parametrize("odd", ODD)
def test_a_recording_that_is_not_a_regular_file_does_not_block(cook: Path, odd: Callable[[Path], None]) -> None:
    odd(cook.with_name("2027-odd.cook"))
    listed = run("list", "--recordings", str(cook.parent))
    assert "2027-odd  cannot be read: it is no plain file" in listed.stdout and cook.stem in listed.stdout
    assert run("import", str(cook.with_name("2027-odd.cook")), "--recordings", str(cook.parent)).returncode == 1


@pytest.mark.parametrize("beside", ["-wal", "-journal"])
def test_a_pipe_beside_a_recording_does_not_block(cook: Path, beside: str) -> None:
    os.mkfifo(cook.with_name(f"{cook.name}{beside}"))
    assert f"{beside} is no plain file" in run("list", "--recordings", str(cook.parent)).stdout


@pytest.mark.parametrize("odd", ODD)
@pytest.mark.parametrize("name", ["readings.csv", "packs.csv", "events.csv", "batch.json", "calibrations.jsonl"])
def test_a_package_with_irregular_files_is_reported_in_one_sentence(
    cook: Path, tmp_path: Path, name: str, odd: Callable[[Path], None]
) -> None:
    package, into = tmp_path / "out", tmp_path / "in"
    export_package(cook, package)
    (package / name).unlink(missing_ok=True)
    odd(package / name)
    with pytest.raises(ExchangeError, match=name):
        import_package(package, into)
    assert not into.exists() or list(into.iterdir()) == []


def test_an_endless_table_and_an_endless_line_are_reported_in_one_sentence(cook: Path, tmp_path: Path) -> None:
    package = tmp_path / "out"
    export_package(cook, package)
    whole = (package / "readings.csv").read_text()
    (package / "readings.csv").write_text(whole + "x" * 2_000_000)
    with pytest.raises(ExchangeError, match="a line of more than"):
        import_package(package, tmp_path / "in")
    # A file with a hole takes no room.
    os.truncate(package / "readings.csv", MOST_TABLE_BYTES + 1)
    with pytest.raises(ExchangeError, match="longer than that of any cook"):
        import_package(package, tmp_path / "in")


def test_a_killed_import_leaves_no_cook_and_the_next_import_cleans_up(cook: Path, tmp_path: Path) -> None:
    package, into = tmp_path / "out", tmp_path / "in"
    export_package(cook, package)
    # The process ends where a killed one would: in the middle, without any clearing up.
    words = (
        "import os, sys\nfrom pathlib import Path\nfrom monitor.exchange import package_reader\n"
        "def killed(*_):\n    os.kill(os.getpid(), 9)\n"
        "package_reader._import_events = killed\n"
        "package_reader.import_package(Path(sys.argv[1]), Path(sys.argv[2]))\n"
    )
    ended = subprocess.run([sys.executable, "-c", words, str(package), str(into)], timeout=WITHIN_S, check=False)
    assert ended.returncode == -9
    assert recordings(into) == [] and len(list(into.iterdir())) == 1
    path = import_package(package, into)
    assert list(into.iterdir()) == [path]


def test_a_running_import_is_not_cleaned_up(tmp_path: Path) -> None:
    with building(tmp_path) as first, building(tmp_path) as second:
        assert first != second and first.is_dir()
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("odd", ODD)
def test_a_lock_file_that_links_outside_is_refused(tmp_path: Path, odd: Callable[[Path], None]) -> None:
    odd(tmp_path / ".logger-cooker.lock")
    with pytest.raises(RecordingError), LoggerLock(tmp_path, "cooker", Stop()):
        pass
    (tmp_path / ".kettleside").mkdir()
    odd(tmp_path / ".kettleside" / "cooker.telling")
    with pytest.raises(NoticeFileError):
        NotifierLock(tmp_path, "cooker").acquire()


def test_a_lock_file_that_is_a_link_leaves_its_target_unchanged(tmp_path: Path) -> None:
    victim = tmp_path / "letter"
    victim.write_text("dear")
    (tmp_path / ".logger-cooker.lock").symlink_to(victim)
    with pytest.raises(RecordingError), LoggerLock(tmp_path, "cooker", Stop()):
        pass
    with pytest.raises(OSError, match="symbolic"):
        try_lock(tmp_path / ".logger-cooker.lock")
    assert victim.read_text() == "dear"
