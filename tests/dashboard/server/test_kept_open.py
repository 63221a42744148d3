"""A running cook's file stays open between the looks of a page, and never in the way of its logger."""

from pathlib import Path

import pytest

from monitor.model import make_event
from monitor.runtime.clock import JumpClock
from monitor.session import Cook, CookLibrary
from monitor.session.library import LET_GO_S
from monitor.storage import fold, log_event
from tests.dashboard.seeded import Maker


@pytest.fixture
def clock() -> JumpClock:
    return JumpClock()


@pytest.fixture
def maker(tmp_path: Path, clock: JumpClock) -> Maker:
    return Maker(tmp_path, clock, hours=0.5)


@pytest.fixture
def library(tmp_path: Path, clock: JumpClock) -> CookLibrary:
    return CookLibrary(tmp_path, lambda _tie: clock, keeps_open=True)


def looked_at(library: CookLibrary, maker: Maker, clock: JumpClock) -> Cook:
    """The cook after a few looks, so that its file is kept open."""
    cook = library.cook(maker.path.stem)
    for _ in range(3):
        clock.moment += 1.0
        cook.look()
    return cook


def test_new_readings_are_seen_through_the_open_file(maker: Maker, library: CookLibrary, clock: JumpClock) -> None:
    cook = library.cook(maker.path.stem)
    for seconds in range(1, 6):
        clock.moment += 1.0
        maker.went_on(1800 + seconds)
        cook.look()
        assert len(cook.history().series["paste"]) == 1800 + seconds
    library.let_go()
    maker.log("stirred", 1805)
    clock.moment += 1.0
    cook.look()
    assert [event.kind for event in cook.history().events][-1] == "stirred"
    maker.recorder.abandon()


def test_the_wal_is_truncated_while_the_file_is_open(maker: Maker, library: CookLibrary, clock: JumpClock) -> None:
    cook = looked_at(library, maker, clock)
    maker.recorder.commit()
    blocked, _, _ = maker.recorder._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
    assert not blocked
    assert maker.path.with_name(f"{maker.path.name}-wal").stat().st_size == 0
    clock.moment += 1.0
    maker.went_on(1802)
    cook.look()
    assert len(cook.history().series["paste"]) == 1802
    maker.recorder.abandon()


def test_the_file_is_closed_when_nobody_looks(maker: Maker, library: CookLibrary, clock: JumpClock) -> None:
    looked_at(library, maker, clock)
    library.let_go()
    assert not maker.recorder.finish()
    clock.moment += LET_GO_S
    library.let_go()
    assert fold(maker.path)


@pytest.mark.parametrize("by_page", [True, False])
def test_the_file_is_closed_at_the_end_of_the_cook(
    maker: Maker, library: CookLibrary, clock: JumpClock, by_page: bool
) -> None:
    cook = looked_at(library, maker, clock)
    if by_page:
        cook.log_event("finished")
    else:
        log_event(maker.path, make_event("end", "finished", clock.now(), clock.now()))
        clock.moment += 1.0
        cook.look()
    assert maker.recorder.finish()


def test_a_new_file_of_the_same_name_is_another_cook(
    maker: Maker, library: CookLibrary, clock: JumpClock, tmp_path: Path
) -> None:
    cook = looked_at(library, maker, clock)
    other = Maker(tmp_path / "elsewhere", clock, hours=0.6, events=False)
    other.log("note", 5, {"text": "of another file"})
    other.recorder.finish()
    maker.recorder.abandon()
    other.path.replace(maker.path)
    for end in ("-wal", "-shm"):
        maker.path.with_name(maker.path.name + end).unlink(missing_ok=True)
    clock.moment += 1.0
    cook.look()
    assert any(event.fields.get("text") == "of another file" for event in cook.history().events)
