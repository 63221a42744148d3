"""The teller on real recordings, with a clock that jumps."""

import json
import shutil
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from monitor.logger.lock import LoggerLock
from monitor.model import make_event
from monitor.notifications.dispatcher import Dispatcher
from monitor.notifications.notifier import QUIET_AFTER_S, Notifier
from monitor.notifications.page_alerts import PageAlerts
from monitor.protocol import parse_pack
from monitor.runtime import Anchor
from monitor.runtime.clock import JumpClock
from monitor.runtime.signals import Stop
from monitor.session import CookLibrary
from monitor.storage import Recorder, log_event
from tests.notifications.test_messengers import Said
from tests.notifications.test_settings import settings_file

START = 1_773_480_000.0


class Post:
    """Keeps what is published."""

    def __init__(self) -> None:
        self.sent: list[tuple[str, str, bool]] = []

    def tend(self) -> None:
        """Has nothing to tend."""

    def publish(self, topic: str, payload: str, *, retained: bool = False) -> None:
        """Keeps it."""
        self.sent.append((topic, payload, retained))

    def close(self) -> None:
        """Has nothing to close."""


@dataclass
class House:
    """A cook with a reading a minute, and tellers that come and go."""

    folder: Path
    clock: JumpClock = field(default_factory=lambda: JumpClock(START))
    lines: list[str] = field(default_factory=list)
    post: Post = field(default_factory=Post)
    said: Said = field(default_factory=Said)
    paste_c: float = 94.0

    def __post_init__(self) -> None:
        self.recorder = Recorder.create(self.folder, Anchor(START, START, "", 0.0), rig="cooker", source="test:")
        self.log("lid on")
        self.logger = LoggerLock(self.folder, "cooker", Stop())
        self.logger.__enter__()

    def teller(self) -> Notifier:
        """A new one, as after a restart."""
        shelf = CookLibrary(self.folder, lambda _: self.clock)
        outgoing = Dispatcher(self.folder, self.clock, self.said)
        return Notifier(shelf, "cooker", self.clock, self.lines.append, outgoing, self.post, self.said)

    def log(self, kind: str, **fields: object) -> None:
        """Logs an event now."""
        now = self.clock.now()
        log_event(self.recorder.path, make_event(f"{kind}{now}", kind, now, now, fields))

    def go_on(self, minutes: int, *tellers: Notifier, readings: bool = True) -> None:
        """Cooks on, with a look a minute by each."""
        for _ in range(minutes):
            if readings:
                for _ in range(6):
                    self.clock.moment += 10.0
                    # A sound probe's noise.
                    value = self.paste_c + 0.1 * (self.clock.moment // 10.0 % 3.0)
                    pack = f'[{{"n":"paste","u":"Cel","v":{value:.1f}}}]'
                    self.recorder.add_pack(parse_pack(pack, self.clock.now()))
                self.recorder.commit()
            else:
                self.clock.moment += 60.0
            for teller in tellers:
                teller.look()

    def told(self, name: str) -> list[str]:
        """The lines that tell of this."""
        return [line for line in self.lines if f": {name}" in line]


@pytest.fixture
def house(tmp_path: Path) -> House:
    return House(tmp_path)


def test_a_stir_is_told_with_growing_gaps_until_it_is_logged(house: House) -> None:
    teller = house.teller()
    house.go_on(34, teller)
    assert house.lines == []
    house.go_on(17, teller)
    assert len(house.told("stir due")) == 3
    assert "(told 2 times)" in house.told("stir due")[1] and "35 minutes after the start" in house.told("stir due")[0]
    house.log("stirred")
    house.go_on(34, teller)
    assert len(house.told("stir due")) == 3
    house.go_on(2, teller)
    assert len(house.told("stir due")) == 4


def test_a_tap_answers_it_and_overdue_is_another_matter(house: House) -> None:
    teller = house.teller()
    house.go_on(36, teller)
    house.log("acknowledged", condition="stir due")
    house.go_on(50, teller)
    assert len(house.told("stir due")) == 1 and house.told("stir overdue") == []
    house.go_on(15, teller)
    assert len(house.told("stir overdue")) >= 1


def test_while_the_paste_is_cold_no_stir_is_told_and_at_once_when_it_is_hot_again(house: House) -> None:
    teller = house.teller()
    house.go_on(61, teller)
    house.log("stirred")
    before = len(house.told("stir due"))
    house.paste_c = 56.0
    house.go_on(60, teller)
    # Due for 25 minutes, and pointless; the cold is told again and again instead.
    assert len(house.told("paste cold")) >= 3 and len(house.told("stir due")) == before
    assert house.told("check due") == house.told("stir overdue") == []
    published = [json.loads(payload) for topic, payload, _ in house.post.sent if topic.endswith("outlook") and payload]
    assert published[-1]["stir_due"] is None and published[-1]["reasons"]["stir"].startswith(
        "Stirring and checking wait"
    )
    house.paste_c = 94.0
    house.go_on(4, teller)
    assert len(house.told("stir due")) == before + 1


def test_a_cold_that_somebody_has_seen_holds_no_stir_back_for_ever(house: House) -> None:
    teller = house.teller()
    house.go_on(61, teller)
    house.log("stirred")
    before = len(house.told("stir due"))
    house.paste_c = 56.0
    house.go_on(10, teller)
    house.log("acknowledged", condition="paste cold")
    house.go_on(24, teller)
    assert len(house.told("stir due")) == before
    house.go_on(8, teller)
    assert len(house.told("stir due")) == before + 1


def test_heat_that_was_logged_off_holds_a_stir_back_while_the_paste_is_cold(house: House) -> None:
    teller = house.teller()
    house.go_on(20, teller)
    house.log("heat off")
    house.paste_c = 56.0
    house.go_on(30, teller)
    assert house.told("stir due") == []
    house.log("heat", setting="on again")
    house.paste_c = 94.0
    house.go_on(2, teller)
    assert len(house.told("stir due")) == 1


def test_a_restart_does_not_repeat_what_was_told(house: House) -> None:
    house.go_on(36, house.teller())
    for _ in range(3):
        house.go_on(1, house.teller())
    assert len(house.told("stir due")) == 1
    house.go_on(5, house.teller())
    assert len(house.told("stir due")) == 2


def test_one_that_cannot_remember_still_tells(house: House) -> None:
    teller = house.teller()
    (house.folder / ".kettleside").write_text("in the way")
    house.go_on(36, teller)
    assert len(house.told("stir due")) == 1
    assert len(house.said.lines) == 1 and "cooker.told cannot be used" in house.said.lines[0]


def test_settings_are_taken_in_while_it_runs_and_a_wrong_file_changes_nothing(house: House) -> None:
    teller = house.teller()
    settings_file(house.folder, 'leave_out = ["stir due"]')
    house.go_on(60, teller)
    assert house.told("stir due") == []
    settings_file(house.folder, "again_minuts = [7]")
    house.go_on(5, teller)
    assert house.told("stir due") == []
    assert house.said.lines == [
        "The notice settings are wrong at 'again_minuts': there is no such key; the nearest is 'again_minutes'. "
        "What was set before goes on."
    ]
    settings_file(house.folder, "again_minutes = [7]")
    house.go_on(16, teller)
    assert len(house.told("stir due")) == 3


def test_no_data_is_told_and_a_logger_that_is_gone_is_told_as_that(house: House) -> None:
    teller = house.teller()
    house.go_on(2, teller)
    house.go_on(3, teller, readings=False)
    assert len(house.told("no data")) == 1 and house.told("monitor quiet") == []
    house.logger.__exit__(None, None, None)
    house.go_on(3, teller, readings=False)
    assert len(house.told("monitor quiet")) == 1
    assert "Nothing is being recorded, because no logger runs" in house.told("monitor quiet")[0]


def test_a_logger_that_is_started_again_in_time_is_no_matter(house: House) -> None:
    teller = house.teller()
    house.go_on(2, teller)
    house.logger.__exit__(None, None, None)
    house.clock.moment += QUIET_AFTER_S - 1.0
    teller.look()
    house.logger.__enter__()
    house.go_on(5, teller)
    assert house.told("monitor quiet") == []


def test_a_recording_that_can_no_longer_be_read_is_told(house: House) -> None:
    teller = house.teller()
    house.go_on(2, teller)
    house.recorder.close()
    for path in house.folder.glob("*.cook*"):
        path.write_bytes(b"no recording " * 1000)
    house.go_on(3, teller, readings=False)
    assert len(house.told("monitor quiet")) == 1 and "The cook cannot be followed" in house.lines[-1]
    assert len(house.said.lines) >= 1


@pytest.mark.parametrize("stand_in", [False, True])
def test_while_the_folder_is_away_it_calls_on_and_says_so(house: House, stand_in: bool) -> None:
    teller = house.teller()
    settings_file(house.folder, 'leave_out = ["check due"]')
    house.go_on(33, teller)
    elsewhere = house.folder.with_name(f"{house.folder.name}-elsewhere")
    house.folder.rename(elsewhere)
    if stand_in:
        house.folder.mkdir()
    house.go_on(60, teller, readings=False)
    (away,) = house.told("monitor quiet")[:1]
    assert "The recordings folder" in away and "is away; put its disk or share back." in away
    assert len(house.told("stir due")) == 4 and house.told("no data") == []
    assert stand_in or not house.folder.exists()
    if stand_in:
        shutil.rmtree(house.folder)
    elsewhere.rename(house.folder)
    house.log("stirred")
    told = len(house.lines)
    house.go_on(20, teller)
    assert len(house.lines) == told


def test_of_a_cook_in_two_parts_the_one_with_the_lid_on_calls_until_the_other_is_worked_at(house: House) -> None:
    teller = house.teller()
    house.go_on(20, teller)
    house.logger.note(None, house.recorder.path.name)
    first, now = house.recorder, house.clock.now()
    house.recorder = Recorder.create(house.folder, Anchor(now, now, "", 0.0), rig="cooker", source="test:")
    house.logger.note(None, house.recorder.path.name)
    house.go_on(40, teller)
    assert len(house.told("stir due")) == 3
    assert f"By its earlier part {first.path.stem}, which was left unfinished: " in house.told("stir due")[0]
    # One that is started anew knows it from the folder.
    again = house.teller()
    house.go_on(40, again)
    assert len(house.told("stir due")) == 4
    house.log("stirred")
    told = len(house.lines)
    house.go_on(20, again)
    assert len(house.lines) == told


def test_a_recording_that_a_person_took_away_is_no_matter(house: House) -> None:
    teller = house.teller()
    house.go_on(2, teller)
    house.recorder.close()
    for path in house.folder.glob("*.cook*"):
        path.unlink()
    house.go_on(10, teller, readings=False)
    assert house.lines == [] and not teller.look()


def test_what_is_published_and_that_the_outlook_is_taken_away_at_the_end(house: House) -> None:
    teller = house.teller()
    house.go_on(60, teller)
    notices = [payload for topic, payload, retained in house.post.sent if topic.endswith("/notice") and not retained]
    assert len(notices) == len(house.lines) and '"notice":"stir due"' in notices[0]
    outlooks = [payload for topic, payload, kept in house.post.sent if topic == "kettleside/cooker/outlook" and kept]
    assert len(outlooks) > 50
    house.log("finished")
    house.recorder.close()
    house.clock.moment += 60.0
    assert not teller.look() and not teller.look()
    assert [payload for _, payload, _ in house.post.sent].count("") == 1


def test_the_open_page_rings_in_the_same_rounds_and_not_for_what_was_told(house: House) -> None:
    house.go_on(33, house.teller())
    shelf = CookLibrary(house.folder, lambda _: house.clock)
    cook = shelf.running("cooker")
    assert cook is not None
    rings, numbers = PageAlerts(house.folder, "cooker", cook.name), []

    def look(with_rings: PageAlerts) -> int:
        cook.look()
        with_rings.look(cook.outlook(), cook.history().events, cook.now(), cook.now(), cook.rate)
        return with_rings.number

    for _ in range(18):
        house.go_on(1)
        numbers.append(look(rings))
    assert numbers.count(0) == 1 and [numbers.count(n) for n in (1, 2)] == [5, 10] and numbers[-1] == 3
    assert rings.text == "Stir due." and rings.unanswered == ("stir due",)
    house.go_on(0)
    house.teller().look()
    later = PageAlerts(house.folder, "cooker", cook.name)
    assert look(later) == 0 and later.unanswered == ("stir due",)
    house.log("stirred")
    house.go_on(1)
    look(rings)
    assert not rings.unanswered
