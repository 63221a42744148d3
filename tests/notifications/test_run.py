"""Several rigs in one process: a fault at one silences no other, and each rig has one notifier alone."""

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from monitor.model import make_event
from monitor.notifications.dispatcher import Dispatcher
from monitor.notifications.notifier import QUIET_AFTER_S, Notifier
from monitor.notifications.run import UPDATE_EVERY_S, UPDATE_IDLE_S, RigNotifier, run_notifiers
from monitor.notifications.store import NoticeFileError, NotifierLock
from monitor.protocol import parse_pack
from monitor.runtime import Anchor
from monitor.runtime.clock import JumpClock
from monitor.runtime.signals import Stop
from monitor.session import CookLibrary, LiveCook
from monitor.storage import Recorder
from tests.notifications.test_channels import Reports

START = 1_773_480_000.0
RIGS = ("left", "right")


@dataclass
class TwoRigs:
    """Two cooks with a stir due at once, and the one process that notifies for both."""

    folder: Path
    clock: JumpClock = field(default_factory=lambda: JumpClock(START))
    lines: list[str] = field(default_factory=list)
    reports: Reports = field(default_factory=Reports)
    paths: dict[str, Path] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for rig in RIGS:
            recorder = Recorder.create(self.folder, Anchor(START, START, "", 0.0), rig=rig, source="test:")
            recorder.add_event(make_event("lid", "lid on", START - 2400.0, START - 2400.0))
            recorder.add_pack(parse_pack('[{"n":"paste","u":"Cel","v":94.0}]', START))
            recorder.commit()
            recorder.close()
            self.paths[rig] = recorder.path
        self.library = CookLibrary(self.folder, lambda _: self.clock)
        self.dispatcher = Dispatcher(self.folder, self.clock, self.reports)
        self.notifiers = [RigNotifier(self.folder, rig, self.notifier, self.reports) for rig in RIGS]

    def notifier(self, rig: str) -> Notifier:
        """The notifier of this rig."""
        return Notifier(self.library, rig, self.clock, self.lines.append, self.dispatcher, None, self.reports)

    def wait(self, seconds: float) -> None:
        """Lets time pass, with an update of each notifier that is due."""
        for _ in range(round(seconds / UPDATE_EVERY_S)):
            self.clock.moment += UPDATE_EVERY_S
            for notifier in self.notifiers:
                if notifier.next_update_s <= self.clock.real_s():
                    notifier.update(self.clock.real_s())

    def count(self, rig: str, name: str) -> int:
        """The number of notices of this name that went out for this rig."""
        return sum(f" {rig}: {name}" in line for line in self.lines)


@pytest.fixture
def rigs(tmp_path: Path) -> TwoRigs:
    return TwoRigs(tmp_path)


def test_each_rig_is_named_in_its_notices(rigs: TwoRigs) -> None:
    rigs.wait(12)
    assert [rigs.count(rig, "stir due") for rig in RIGS] == [1, 1] and rigs.reports.lines == []


def test_a_rig_without_a_cook_is_updated_more_rarely(rigs: TwoRigs) -> None:
    rigs.paths["left"].unlink()
    rigs.wait(UPDATE_EVERY_S)
    now_s = rigs.clock.real_s()
    assert [notifier.next_update_s - now_s for notifier in rigs.notifiers] == [UPDATE_IDLE_S, UPDATE_EVERY_S]


def fault_of_the_program(rigs: TwoRigs, patched: pytest.MonkeyPatch) -> None:
    """A cook at which the program itself fails."""
    outlook = LiveCook.outlook

    def fail(cook: LiveCook) -> object:
        if cook.rig == "left":
            raise ZeroDivisionError("float division by zero")
        return outlook(cook)

    patched.setattr(LiveCook, "outlook", fail)


def fault_of_the_file(rigs: TwoRigs, patched: pytest.MonkeyPatch) -> None:
    """A recording that is damaged while it is followed."""
    rigs.paths["left"].write_bytes(b"no recording " * 1000)


@pytest.mark.parametrize("fault", [fault_of_the_program, fault_of_the_file])
def test_a_fault_of_one_cook_silences_no_other_and_is_notified(
    rigs: TwoRigs, monkeypatch: pytest.MonkeyPatch, fault: Callable[[TwoRigs, pytest.MonkeyPatch], None]
) -> None:
    rigs.wait(6)
    fault(rigs, monkeypatch)
    rigs.wait(QUIET_AFTER_S + 6)
    assert rigs.count("left", "monitor quiet") == 1 and rigs.count("right", "monitor quiet") == 0
    assert rigs.reports.lines and "left" in rigs.reports.lines[0]
    rigs.wait(600)
    # At once and after five minutes; the second gap is ten.
    assert rigs.count("right", "stir due") == 2


def test_a_rig_that_another_process_notifies_for_is_waited_for_and_the_others_are_not(rigs: TwoRigs) -> None:
    with NotifierLock(rigs.folder, "left") as lock:
        assert lock.acquire()
        rigs.wait(60)
        assert [rigs.count(rig, "stir due") for rig in RIGS] == [0, 1]
        assert rigs.reports.lines == [
            "Another process tells of the cooker left; this one waits, and goes on when that one ends."
        ]
    rigs.wait(6)
    assert [rigs.count(rig, "stir due") for rig in RIGS] == [1, 1]


def test_at_the_end_every_lock_is_released(rigs: TwoRigs) -> None:
    rigs.wait(6)
    for notifier in rigs.notifiers:
        notifier.close()
    for rig in RIGS:
        with NotifierLock(rigs.folder, rig) as lock:
            assert lock.acquire()


def test_a_lock_that_cannot_be_used_is_reported_and_tried_again(rigs: TwoRigs) -> None:
    lock = rigs.folder / ".kettleside" / "left.telling"
    lock.mkdir(parents=True)
    rigs.wait(60)
    assert [rigs.count(rig, "stir due") for rig in RIGS] == [0, 1]
    assert rigs.reports.lines == [f"The file {lock} cannot be used: is a directory."]
    lock.rmdir()
    rigs.wait(6)
    assert rigs.count("left", "stir due") == 1


def test_where_no_lock_can_be_used_it_ends_with_the_reason(rigs: TwoRigs) -> None:
    (rigs.folder / ".kettleside").write_text("in the way")
    with pytest.raises(NoticeFileError, match=r"left\.telling cannot be used"):
        run_notifiers(rigs.notifiers, rigs.clock, Stop())
    (rigs.folder / ".kettleside").unlink()
    stop = Stop()
    stop.set()
    run_notifiers(rigs.notifiers, rigs.clock, stop)
