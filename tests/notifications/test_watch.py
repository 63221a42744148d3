"""Several cookers told of by one process: a fault of one is no other's, and each has one teller alone."""

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from monitor.model import make_event
from monitor.notifications.dispatcher import Dispatcher
from monitor.notifications.notifier import QUIET_AFTER_S, Notifier
from monitor.notifications.run import LOOK_EVERY_S, LOOK_IDLE_S, RigNotifier, run_notifiers
from monitor.notifications.store import NoticeFileError, NotifierLock
from monitor.protocol import parse_pack
from monitor.runtime import Anchor
from monitor.runtime.clock import JumpClock
from monitor.runtime.signals import Stop
from monitor.session import CookLibrary, LiveCook
from monitor.storage import Recorder
from tests.notifications.test_messengers import Said

START = 1_773_480_000.0
RIGS = ("left", "right")


@dataclass
class Kitchen:
    """Two cooks with a stir due at once, and the one process that tells of them."""

    folder: Path
    clock: JumpClock = field(default_factory=lambda: JumpClock(START))
    lines: list[str] = field(default_factory=list)
    said: Said = field(default_factory=Said)
    paths: dict[str, Path] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for rig in RIGS:
            recorder = Recorder.create(self.folder, Anchor(START, START, "", 0.0), rig=rig, source="test:")
            recorder.add_event(make_event("lid", "lid on", START - 2400.0, START - 2400.0))
            recorder.add_pack(parse_pack('[{"n":"paste","u":"Cel","v":94.0}]', START))
            recorder.commit()
            recorder.close()
            self.paths[rig] = recorder.path
        self.shelf = CookLibrary(self.folder, lambda _: self.clock)
        self.outgoing = Dispatcher(self.folder, self.clock, self.said)
        self.turns = [RigNotifier(self.folder, rig, self.teller, self.said) for rig in RIGS]

    def teller(self, rig: str) -> Notifier:
        """A teller of this cooker."""
        return Notifier(self.shelf, rig, self.clock, self.lines.append, self.outgoing, None, self.said)

    def go_on(self, seconds: float) -> None:
        """Lets time pass, with a look by each whose turn it is."""
        for _ in range(round(seconds / LOOK_EVERY_S)):
            self.clock.moment += LOOK_EVERY_S
            for turn in self.turns:
                if turn.due_s <= self.clock.real_s():
                    turn.look(self.clock.real_s())

    def told(self, rig: str, name: str) -> int:
        """How often this was told of this cooker."""
        return sum(f" {rig}: {name}" in line for line in self.lines)


@pytest.fixture
def kitchen(tmp_path: Path) -> Kitchen:
    return Kitchen(tmp_path)


def test_each_cooker_is_told_of_by_its_own_name(kitchen: Kitchen) -> None:
    kitchen.go_on(12)
    assert [kitchen.told(rig, "stir due") for rig in RIGS] == [1, 1] and kitchen.said.lines == []


def test_a_cooker_without_a_cook_is_looked_at_more_rarely(kitchen: Kitchen) -> None:
    kitchen.paths["left"].unlink()
    kitchen.go_on(LOOK_EVERY_S)
    now_s = kitchen.clock.real_s()
    assert [turn.due_s - now_s for turn in kitchen.turns] == [LOOK_IDLE_S, LOOK_EVERY_S]


def of_the_program(kitchen: Kitchen, patched: pytest.MonkeyPatch) -> None:
    """A cook at which the program itself fails."""
    outlook = LiveCook.outlook

    def fail(cook: LiveCook) -> object:
        if cook.rig == "left":
            raise ZeroDivisionError("float division by zero")
        return outlook(cook)

    patched.setattr(LiveCook, "outlook", fail)


def of_the_file(kitchen: Kitchen, patched: pytest.MonkeyPatch) -> None:
    """A recording that is damaged while it is followed."""
    kitchen.paths["left"].write_bytes(b"no recording " * 1000)


@pytest.mark.parametrize("fault", [of_the_program, of_the_file])
def test_a_fault_of_one_cook_silences_no_other_and_is_told(
    kitchen: Kitchen, monkeypatch: pytest.MonkeyPatch, fault: Callable[[Kitchen, pytest.MonkeyPatch], None]
) -> None:
    kitchen.go_on(6)
    fault(kitchen, monkeypatch)
    kitchen.go_on(QUIET_AFTER_S + 6)
    assert kitchen.told("left", "monitor quiet") == 1 and kitchen.told("right", "monitor quiet") == 0
    assert kitchen.said.lines and "left" in kitchen.said.lines[0]
    kitchen.go_on(600)
    # At once and after five minutes; the second gap is ten.
    assert kitchen.told("right", "stir due") == 2


def test_a_cooker_that_another_process_tells_of_is_waited_for_and_the_others_are_not(kitchen: Kitchen) -> None:
    with NotifierLock(kitchen.folder, "left") as right:
        assert right.take()
        kitchen.go_on(60)
        assert [kitchen.told(rig, "stir due") for rig in RIGS] == [0, 1]
        assert kitchen.said.lines == [
            "Another process tells of the cooker left; this one waits, and goes on when that one ends."
        ]
    kitchen.go_on(6)
    assert [kitchen.told(rig, "stir due") for rig in RIGS] == [1, 1]


def test_at_the_end_every_right_is_given_back(kitchen: Kitchen) -> None:
    kitchen.go_on(6)
    for turn in kitchen.turns:
        turn.close()
    for rig in RIGS:
        with NotifierLock(kitchen.folder, rig) as right:
            assert right.take()


def test_a_right_that_cannot_be_had_is_said_and_tried_again(kitchen: Kitchen) -> None:
    lock = kitchen.folder / ".kettleside" / "left.telling"
    lock.mkdir(parents=True)
    kitchen.go_on(60)
    assert [kitchen.told(rig, "stir due") for rig in RIGS] == [0, 1]
    assert kitchen.said.lines == [f"The file {lock} cannot be used: is a directory."]
    lock.rmdir()
    kitchen.go_on(6)
    assert kitchen.told("left", "stir due") == 1


def test_where_it_may_tell_of_none_it_ends_with_the_reason(kitchen: Kitchen) -> None:
    (kitchen.folder / ".kettleside").write_text("in the way")
    with pytest.raises(NoticeFileError, match=r"left\.telling cannot be used"):
        run_notifiers(kitchen.turns, kitchen.clock, Stop())
    (kitchen.folder / ".kettleside").unlink()
    stop = Stop()
    stop.set()
    run_notifiers(kitchen.turns, kitchen.clock, stop)
