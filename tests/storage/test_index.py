"""Which cook is under way: told by what is not finished and by the logger, never by the order of names."""

from collections.abc import Callable
from pathlib import Path
from threading import Event

import pytest

from dashboard.app import make_app
from monitor.cli import main
from monitor.logger.lock import LoggerLock
from monitor.logger.resume import cook_to_resume
from monitor.model import make_event
from monitor.protocol import parse_pack
from monitor.runtime import Anchor
from monitor.runtime.clock import JumpClock
from monitor.session import CookLibrary
from monitor.storage.connections import RecordingError
from monitor.storage.index import running, under_way, unfinished
from monitor.storage.trash import remove
from monitor.storage.writer import Recorder

START = 1_773_480_000.0
LATER = START + 30 * 86_400.0
KEY = "a-key-for-tests"


def made(folder: Path, began: float, *, finished: bool = False, rig: str = "cooker", last: float = 60.0) -> Path:
    """A recording of one reading. last: how long after its beginning it was heard of, s."""
    recorder = Recorder.create(folder, Anchor(began, began, "", 0.0), rig=rig, source="test:")
    recorder.add_pack(parse_pack('[{"n":"paste","u":"Cel","v":94.0}]', began + last))
    if finished:
        recorder.add_event(make_event(f"end-{began}", "finished", began + last, began + last))
    recorder.commit()
    recorder.close()
    return recorder.path


def logger_names(folder: Path, path: Path, *, dies: bool = False) -> LoggerLock:
    """The rig's logger as it records this cook."""
    logger = LoggerLock(folder, "cooker", Event())
    logger.__enter__()
    logger.note("/dev/rig", path.name)
    if dies:
        logger.__exit__(None, None, None)
    return logger


def by_logger(folder: Path, path: Path) -> None:
    logger_names(folder, path, dies=True)


def by_none(_folder: Path, _path: Path) -> None:
    return None


@pytest.mark.parametrize("told", [by_logger, by_none])
def test_a_finished_cook_of_a_later_date_hides_none(tmp_path: Path, told: Callable[[Path, Path], None]) -> None:
    runs = made(tmp_path, START)
    made(tmp_path, LATER, finished=True)
    told(tmp_path, runs)
    assert running(tmp_path, "cooker") == running(tmp_path) == runs
    found = cook_to_resume(tmp_path, "cooker", Anchor(START + 90.0, START + 90.0, "", 0.0))
    assert found is not None and found[0] == runs
    clock = JumpClock(START + 90.0)
    phone = make_app(CookLibrary(tmp_path, lambda _: clock), KEY).test_client()
    assert "No cook is running" not in phone.get(f"/?key={KEY}", follow_redirects=True).text
    assert phone.get("/live").get_json() == {"idle": False}


def test_of_two_the_one_that_the_logger_holds_runs_and_the_other_is_left(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    runs, left = made(tmp_path, START), made(tmp_path, LATER)
    logger = logger_names(tmp_path, runs)
    try:
        assert under_way(tmp_path) == {"cooker": runs}
        assert unfinished(tmp_path) == {"cooker": [runs, left]}
        clock = JumpClock(START + 90.0)
        phone = make_app(CookLibrary(tmp_path, lambda _: clock), KEY).test_client()
        first = phone.get(f"/?key={KEY}", follow_redirects=True).text
        assert "Left unfinished on this cooker" in first and left.stem in first and "cookers" not in first[:200]
        listed = phone.get("/cooks").text
        assert listed.count("Still running") == 1 and listed.count("Left unfinished: finish or delete it") == 1
        assert main(["list", "--recordings", str(tmp_path)]) == 0
        lines = capsys.readouterr().out.splitlines()
        assert "left unfinished" in lines[0] and "under way" in lines[1]
        assert lines[2].startswith(f"Left unfinished: {left.stem}. ")
        with pytest.raises(RecordingError, match="it is running"):
            remove(runs, START)
        remove(left, START)
        assert unfinished(tmp_path) == {"cooker": [runs]}
    finally:
        logger.__exit__(None, None, None)


def test_what_was_given_up_before_a_cook_that_is_over_does_not_run(tmp_path: Path) -> None:
    made(tmp_path, START)
    by_logger(tmp_path, made(tmp_path, START + 7200.0, finished=True))
    assert running(tmp_path) is None
    # One begun on the page since then waits for its logger.
    begun = made(tmp_path, START + 9000.0)
    assert running(tmp_path) == begun


def test_where_no_logger_said_anything_the_one_heard_of_last_runs(tmp_path: Path) -> None:
    long = made(tmp_path, START, last=9000.0)
    made(tmp_path, START + 3600.0)
    assert running(tmp_path, "cooker") == long


def test_each_rig_has_its_own(tmp_path: Path) -> None:
    left, right = made(tmp_path, START, rig="left"), made(tmp_path, LATER, rig="right")
    made(tmp_path, LATER + 100.0, rig="left", finished=True)
    assert under_way(tmp_path) == {"left": left, "right": right}
    assert running(tmp_path, "middle") is None
