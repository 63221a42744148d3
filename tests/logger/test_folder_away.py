"""The folder of recordings away for a while: the logger waits, and goes on with the same cook."""

import shutil
from collections.abc import Callable
from pathlib import Path
from threading import Event

import pytest

from monitor.logger.lock import LoggerLock, SecondLoggerError
from monitor.logger.resume import RESUMED_WITHIN_S, absent_cook
from monitor.logger.state_file import StateFile
from monitor.storage import load, lock_path, logger_status, running
from monitor.storage.connections import connect_to_write
from tests.logger.scripted import START, Run, pack
from tests.logger.scripted import bad as bad_line

RIG = "cooker"


def values(path: Path) -> list[float]:
    return list(load(path).series["paste"].value.tolist())


def kinds(path: Path) -> list[str]:
    return [event.kind for event in load(path).events]


def packs(first: float, count: int) -> list[tuple[float, Callable[[], None] | object]]:
    return [(first + i, pack(60.0 + i, first + i, seq=int(first - START) + i)) for i in range(count)]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "cooks"


class Away:
    """Takes the folder away and brings it back. stand_in: whether another, empty one is there meanwhile."""

    def __init__(self, folder: Path, *, stand_in: bool = False) -> None:
        self.folder, self.stand_in = folder, stand_in
        self.elsewhere = folder.with_name("elsewhere")

    def take(self) -> None:
        """Away with it."""
        self.folder.rename(self.elsewhere)
        if self.stand_in:
            self.folder.mkdir()

    def bring(self) -> None:
        """As a mount lies over what is there, whatever a program wrote into that."""
        if self.folder.exists():
            assert list(self.folder.glob("*.cook")) == [], "a cook was begun in the stand-in"
            shutil.rmtree(self.folder)
        self.elsewhere.rename(self.folder)


@pytest.mark.parametrize("stand_in", [False, True])
@pytest.mark.parametrize("away_s", [1.0, 3.0, 30.0, 600.0])
def test_the_same_cook_continues_and_no_pack_is_lost(folder: Path, stand_in: bool, away_s: float) -> None:
    run, away = Run(folder), Away(folder, stand_in=stand_in)
    count = int(away_s) + 20
    sent = [pack(60.0 + i, START + 1 + i, seq=i) for i in range(count)]
    run.record(
        *((each.arrived, each) for each in sent),
        (START + 10.5, away.take),
        (START + 10.5 + away_s, away.bring),
    )
    (path,) = run.cooks
    assert values(path) == [60.0 + i for i in range(count)]
    assert "packs lost" not in kinds(path) and "resumed" not in kinds(path)
    assert sum("recordings folder" in words and "is away" in words for words in run.reports.lines) == 1
    assert any("is written again; nothing that waited is lost" in words for words in run.reports.lines)


def test_a_folder_that_existed_is_never_created_anew(folder: Path) -> None:
    run, away = Run(folder), Away(folder)
    seen: list[bool] = []
    run.record(
        *((START + 1 + i, pack(60.0 + i, START + 1 + i)) for i in range(40)),
        (START + 5.5, away.take),
        *((START + 6.5 + i, lambda: seen.append(folder.exists())) for i in range(20)),
        (START + 30.5, away.bring),
    )
    assert len(seen) == 20 and not any(seen)


def test_many_absences_of_any_length_do_not_split_the_cook(folder: Path) -> None:
    run, away = Run(folder), Away(folder)
    stand_in = Away(folder, stand_in=True)
    steps: list[tuple[float, Callable[[], None]]] = []
    at = START + 5.3
    for n in range(100):
        one = stand_in if n % 2 else away
        steps += [(at, one.take), (at + 0.5 + 29.5 * (n % 7) / 6, one.bring)]
        at += 35.0
    sent = [pack(60.0, START + 1 + 5 * i, seq=i) for i in range(int(at - START) // 5)]
    run.record(*((each.arrived, each) for each in sent), *steps)
    (path,) = run.cooks
    assert len(values(path)) == len(sent) and "packs lost" not in kinds(path)


def test_a_logger_started_while_the_folder_is_away_waits_for_its_cook(folder: Path) -> None:
    first = Run(folder).record((START + 1, pack(60.0, START + 1, 1)))
    away = Away(folder, stand_in=True)
    away.take()
    second = Run(folder, START + 10)
    second.record(
        *((START + 11 + i, pack(61.0 + i, START + 11 + i, 2 + i)) for i in range(5)),
        (START + 20, away.bring),
        (START + 30, pack(66.0, START + 30, 7)),
    )
    assert first.cooks == second.cooks and len(second.cooks) == 1
    assert values(second.cooks[0]) == [60.0, 61.0, 62.0, 63.0, 64.0, 65.0, 66.0]
    assert "resumed" in kinds(second.cooks[0])
    assert "it goes on when its disk or share is back" in second.reports.lines[0]
    # It took the lock that came back with the folder.
    assert logger_status(folder, RIG).cook == second.cooks[0].name


def test_a_new_cook_is_begun_only_when_asked_for(folder: Path) -> None:
    Run(folder).record((START + 1, pack(60.0, START + 1)))
    Away(folder, stand_in=True).take()
    StateFile(folder, RIG).forget()
    run = Run(folder, START + 10).record((START + 11, pack(61.0, START + 11)))
    assert len(run.cooks) == 1 and values(run.cooks[0]) == [61.0]


def test_a_finished_removed_or_old_cook_is_not_waited_for(folder: Path) -> None:
    run = Run(folder)
    run.record((START + 1, pack(60.0, START + 1)))
    fresh = run.clock.anchor()
    assert absent_cook(folder, RIG, fresh) is None
    away = Away(folder)
    away.take()
    assert absent_cook(folder, RIG, fresh) is not None
    run.clock.moment += RESUMED_WITHIN_S
    assert absent_cook(folder, RIG, run.clock.anchor()) is None
    away.bring()
    run.cooks[0].unlink()
    assert absent_cook(folder, RIG, fresh) is None


def test_a_second_logger_is_refused_while_the_folder_and_its_lock_are_away(folder: Path) -> None:
    with LoggerLock(folder, RIG, Event()):
        Away(folder, stand_in=True).take()
        stop = Event()
        stop.set()
        with pytest.raises(SecondLoggerError), LoggerLock(folder, RIG, stop):
            pass


def test_a_folder_replaced_by_its_copy_is_continued(folder: Path) -> None:
    run = Run(folder)

    def exchange() -> None:
        other = folder.with_name("copy")
        shutil.copytree(folder, other)
        folder.rename(folder.with_name("elsewhere"))
        other.rename(folder)

    run.record(
        *((START + 1 + i, pack(60.0 + i, START + 1 + i, i)) for i in range(10)),
        (START + 5.9, exchange),
    )
    assert values(run.cooks[0]) == [60.0 + i for i in range(10)]


def test_a_file_that_reappears_in_parts_is_waited_for(folder: Path) -> None:
    run, away = Run(folder), Away(folder)
    whole: list[bytes] = []

    def half() -> None:
        away.bring()
        path = run.cooks[0]
        connect_to_write(path).close()
        whole[:] = [path.read_bytes()]
        path.write_bytes(b"")

    def rest() -> None:
        run.cooks[0].write_bytes(whole[0])

    run.record(
        (START + 1, pack(60.0, START + 1, 1)),
        (START + 5, away.take),
        (START + 6, pack(61.0, START + 6, 2)),
        (START + 10, half),
        (START + 12, pack(62.0, START + 12, 3)),
        (START + 20, rest),
        (START + 25, pack(63.0, START + 25, 4)),
    )
    assert len(run.cooks) == 1 and values(run.cooks[0]) == [60.0, 61.0, 62.0, 63.0]


def test_the_lock_names_the_running_cook(folder: Path) -> None:
    later = Run(folder, START + 1000).record((START + 1001, pack(60.0, START + 1001)), rig=RIG).cooks[0]
    lock_path(folder, RIG).unlink()
    later.rename(later.with_name(f"2099-{later.name}"))
    run = Run(folder, START + 2000 + RESUMED_WITHIN_S).record((START + 2002 + RESUMED_WITHIN_S, bad_line(START)))
    named = logger_status(folder, RIG).cook
    found = running(folder, RIG)
    assert len(run.cooks) == 2 and found is not None and found.name == named and not found.name.startswith("2099")
