"""The notifier on real recordings, with a clock that jumps."""

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
from tests.notifications.test_channels import Reports
from tests.notifications.test_settings import settings_file

START = 1_773_480_000.0


class Publications:
    """Collects what is published."""

    def __init__(self) -> None:
        self.sent: list[tuple[str, str, bool]] = []

    def tend(self) -> None:
        """Has nothing to tend."""

    def publish(self, topic: str, payload: str, *, retained: bool = False) -> None:
        """Collects it."""
        self.sent.append((topic, payload, retained))

    def close(self) -> None:
        """Has nothing to close."""


@dataclass
class Cooking:
    """A cook with six readings a minute, and notifiers that come and go."""

    folder: Path
    clock: JumpClock = field(default_factory=lambda: JumpClock(START))
    lines: list[str] = field(default_factory=list)
    published: Publications = field(default_factory=Publications)
    reports: Reports = field(default_factory=Reports)
    paste_c: float = 94.0

    def __post_init__(self) -> None:
        self.recorder = Recorder.create(self.folder, Anchor(START, START, "", 0.0), rig="cooker", source="test:")
        self.log("lid on")
        self.logger = LoggerLock(self.folder, "cooker", Stop())
        self.logger.__enter__()

    def notifier(self) -> Notifier:
        """A new notifier, as after a restart."""
        library = CookLibrary(self.folder, lambda _: self.clock)
        dispatcher = Dispatcher(self.folder, self.clock, self.reports)
        return Notifier(library, "cooker", self.clock, self.lines.append, dispatcher, self.published, self.reports)

    def log(self, kind: str, **fields: object) -> None:
        """Logs an event now."""
        now = self.clock.now()
        log_event(self.recorder.path, make_event(f"{kind}{now}", kind, now, now, fields))

    def cook_on(self, minutes: int, *notifiers: Notifier, readings: bool = True) -> None:
        """Cooks on, with an update of each notifier every minute."""
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
            for notifier in notifiers:
                notifier.update()

    def notices(self, name: str) -> list[str]:
        """The lines of the notices of this name."""
        return [line for line in self.lines if f": {name}" in line]


@pytest.fixture
def cooking(tmp_path: Path) -> Cooking:
    return Cooking(tmp_path)


def test_a_stir_goes_out_with_growing_gaps_until_it_is_logged(cooking: Cooking) -> None:
    notifier = cooking.notifier()
    cooking.cook_on(34, notifier)
    assert cooking.lines == []
    cooking.cook_on(17, notifier)
    assert len(cooking.notices("stir due")) == 3
    assert (
        "(told 2 times)" in cooking.notices("stir due")[1]
        and "35 minutes after the start" in cooking.notices("stir due")[0]
    )
    cooking.log("stirred")
    cooking.cook_on(34, notifier)
    assert len(cooking.notices("stir due")) == 3
    cooking.cook_on(2, notifier)
    assert len(cooking.notices("stir due")) == 4


def test_a_tap_answers_it_and_overdue_is_another_notification(cooking: Cooking) -> None:
    notifier = cooking.notifier()
    cooking.cook_on(36, notifier)
    cooking.log("acknowledged", condition="stir due")
    cooking.cook_on(50, notifier)
    assert len(cooking.notices("stir due")) == 1 and cooking.notices("stir overdue") == []
    cooking.cook_on(15, notifier)
    assert len(cooking.notices("stir overdue")) >= 1


def test_while_the_paste_is_cold_no_stir_goes_out_but_at_once_when_it_is_hot_again(cooking: Cooking) -> None:
    notifier = cooking.notifier()
    cooking.cook_on(61, notifier)
    cooking.log("stirred")
    before = len(cooking.notices("stir due"))
    cooking.paste_c = 56.0
    cooking.cook_on(60, notifier)
    # Due for 25 minutes, and pointless; the cold goes out again and again instead.
    assert len(cooking.notices("paste cold")) >= 3 and len(cooking.notices("stir due")) == before
    assert cooking.notices("check due") == cooking.notices("stir overdue") == []
    outlooks = [
        json.loads(payload) for topic, payload, _ in cooking.published.sent if topic.endswith("outlook") and payload
    ]
    assert outlooks[-1]["stir_due"] is None and outlooks[-1]["reasons"]["stir"].startswith("Stirring and checking wait")
    cooking.paste_c = 94.0
    cooking.cook_on(4, notifier)
    assert len(cooking.notices("stir due")) == before + 1


def test_a_cold_that_somebody_has_seen_holds_no_stir_back_for_ever(cooking: Cooking) -> None:
    notifier = cooking.notifier()
    cooking.cook_on(61, notifier)
    cooking.log("stirred")
    before = len(cooking.notices("stir due"))
    cooking.paste_c = 56.0
    cooking.cook_on(10, notifier)
    cooking.log("acknowledged", condition="paste cold")
    cooking.cook_on(24, notifier)
    assert len(cooking.notices("stir due")) == before
    cooking.cook_on(8, notifier)
    assert len(cooking.notices("stir due")) == before + 1


def test_heat_that_was_logged_off_holds_a_stir_back_while_the_paste_is_cold(cooking: Cooking) -> None:
    notifier = cooking.notifier()
    cooking.cook_on(20, notifier)
    cooking.log("heat off")
    cooking.paste_c = 56.0
    cooking.cook_on(30, notifier)
    assert cooking.notices("stir due") == []
    cooking.log("heat", setting="on again")
    cooking.paste_c = 94.0
    cooking.cook_on(2, notifier)
    assert len(cooking.notices("stir due")) == 1


def test_a_restart_does_not_repeat_what_went_out(cooking: Cooking) -> None:
    cooking.cook_on(36, cooking.notifier())
    for _ in range(3):
        cooking.cook_on(1, cooking.notifier())
    assert len(cooking.notices("stir due")) == 1
    cooking.cook_on(5, cooking.notifier())
    assert len(cooking.notices("stir due")) == 2


def test_a_notifier_that_cannot_save_its_states_still_notifies(cooking: Cooking) -> None:
    notifier = cooking.notifier()
    (cooking.folder / ".kettleside").write_text("in the way")
    cooking.cook_on(36, notifier)
    assert len(cooking.notices("stir due")) == 1
    assert len(cooking.reports.lines) == 1 and "cooker.told cannot be used" in cooking.reports.lines[0]


def test_settings_are_read_again_while_it_runs_and_a_wrong_file_changes_nothing(cooking: Cooking) -> None:
    notifier = cooking.notifier()
    settings_file(cooking.folder, 'leave_out = ["stir due"]')
    cooking.cook_on(60, notifier)
    assert cooking.notices("stir due") == []
    settings_file(cooking.folder, "again_minuts = [7]")
    cooking.cook_on(5, notifier)
    assert cooking.notices("stir due") == []
    assert cooking.reports.lines == [
        "The notice settings are wrong at 'again_minuts': there is no such key; the nearest is 'again_minutes'. "
        "What was set before goes on."
    ]
    settings_file(cooking.folder, "again_minutes = [7]")
    cooking.cook_on(16, notifier)
    assert len(cooking.notices("stir due")) == 3


def test_no_data_goes_out_and_a_logger_that_is_gone_is_named(cooking: Cooking) -> None:
    notifier = cooking.notifier()
    cooking.cook_on(2, notifier)
    cooking.cook_on(3, notifier, readings=False)
    assert len(cooking.notices("no data")) == 1 and cooking.notices("monitor quiet") == []
    cooking.logger.__exit__(None, None, None)
    cooking.cook_on(3, notifier, readings=False)
    assert len(cooking.notices("monitor quiet")) == 1
    assert "Nothing is being recorded, because no logger runs" in cooking.notices("monitor quiet")[0]


def test_a_logger_that_is_started_again_in_time_is_nothing_to_notify(cooking: Cooking) -> None:
    notifier = cooking.notifier()
    cooking.cook_on(2, notifier)
    cooking.logger.__exit__(None, None, None)
    cooking.clock.moment += QUIET_AFTER_S - 1.0
    notifier.update()
    cooking.logger.__enter__()
    cooking.cook_on(5, notifier)
    assert cooking.notices("monitor quiet") == []


def test_a_recording_that_can_no_longer_be_read_is_notified(cooking: Cooking) -> None:
    notifier = cooking.notifier()
    cooking.cook_on(2, notifier)
    cooking.recorder.close()
    for path in cooking.folder.glob("*.cook*"):
        path.write_bytes(b"no recording " * 1000)
    cooking.cook_on(3, notifier, readings=False)
    assert len(cooking.notices("monitor quiet")) == 1 and "The cook cannot be followed" in cooking.lines[-1]
    assert len(cooking.reports.lines) >= 1


@pytest.mark.parametrize("stand_in", [False, True])
def test_while_the_folder_is_away_it_goes_on_and_says_so(cooking: Cooking, stand_in: bool) -> None:
    notifier = cooking.notifier()
    settings_file(cooking.folder, 'leave_out = ["check due"]')
    cooking.cook_on(33, notifier)
    elsewhere = cooking.folder.with_name(f"{cooking.folder.name}-elsewhere")
    cooking.folder.rename(elsewhere)
    if stand_in:
        cooking.folder.mkdir()
    cooking.cook_on(60, notifier, readings=False)
    (away,) = cooking.notices("monitor quiet")[:1]
    assert "The recordings folder" in away and "is away; put its disk or share back." in away
    assert len(cooking.notices("stir due")) == 4 and cooking.notices("no data") == []
    assert stand_in or not cooking.folder.exists()
    if stand_in:
        shutil.rmtree(cooking.folder)
    elsewhere.rename(cooking.folder)
    cooking.log("stirred")
    before = len(cooking.lines)
    cooking.cook_on(20, notifier)
    assert len(cooking.lines) == before


def test_of_a_cook_in_two_parts_the_one_with_the_lid_on_goes_on_until_the_other_is_worked_at(cooking: Cooking) -> None:
    notifier = cooking.notifier()
    cooking.cook_on(20, notifier)
    cooking.logger.note(None, cooking.recorder.path.name)
    first, now = cooking.recorder, cooking.clock.now()
    cooking.recorder = Recorder.create(cooking.folder, Anchor(now, now, "", 0.0), rig="cooker", source="test:")
    cooking.logger.note(None, cooking.recorder.path.name)
    cooking.cook_on(40, notifier)
    assert len(cooking.notices("stir due")) == 3
    assert f"By its earlier part {first.path.stem}, which was left unfinished: " in cooking.notices("stir due")[0]
    # A notifier that is started anew knows the first part from the folder.
    again = cooking.notifier()
    cooking.cook_on(40, again)
    assert len(cooking.notices("stir due")) == 4
    cooking.log("stirred")
    before = len(cooking.lines)
    cooking.cook_on(20, again)
    assert len(cooking.lines) == before


def test_a_recording_that_a_person_took_away_is_nothing_to_notify(cooking: Cooking) -> None:
    notifier = cooking.notifier()
    cooking.cook_on(2, notifier)
    cooking.recorder.close()
    for path in cooking.folder.glob("*.cook*"):
        path.unlink()
    cooking.cook_on(10, notifier, readings=False)
    assert cooking.lines == [] and not notifier.update()


def test_what_is_published_and_that_the_outlook_is_taken_away_at_the_end(cooking: Cooking) -> None:
    notifier = cooking.notifier()
    cooking.cook_on(60, notifier)
    notices = [
        payload for topic, payload, retained in cooking.published.sent if topic.endswith("/notice") and not retained
    ]
    assert len(notices) == len(cooking.lines) and '"notice":"stir due"' in notices[0]
    outlooks = [
        payload for topic, payload, kept in cooking.published.sent if topic == "kettleside/cooker/outlook" and kept
    ]
    assert len(outlooks) > 50
    cooking.log("finished")
    cooking.recorder.close()
    cooking.clock.moment += 60.0
    assert not notifier.update() and not notifier.update()
    assert [payload for _, payload, _ in cooking.published.sent].count("") == 1


def test_the_open_page_rings_on_the_same_schedule_and_not_for_what_went_out(cooking: Cooking) -> None:
    cooking.cook_on(33, cooking.notifier())
    library = CookLibrary(cooking.folder, lambda _: cooking.clock)
    cook = library.running("cooker")
    assert cook is not None
    alerts, numbers = PageAlerts(cooking.folder, "cooker", cook.name), []

    def number_after_update(alerts: PageAlerts) -> int:
        cook.look()
        alerts.look(cook.outlook(), cook.history().events, cook.now(), cook.now(), cook.rate)
        return alerts.number

    for _ in range(18):
        cooking.cook_on(1)
        numbers.append(number_after_update(alerts))
    assert numbers.count(0) == 1 and [numbers.count(n) for n in (1, 2)] == [5, 10] and numbers[-1] == 3
    assert alerts.text == "Stir due." and alerts.unanswered == ("stir due",)
    cooking.cook_on(0)
    cooking.notifier().update()
    later = PageAlerts(cooking.folder, "cooker", cook.name)
    assert number_after_update(later) == 0 and later.unanswered == ("stir due",)
    cooking.log("stirred")
    cooking.cook_on(1)
    number_after_update(alerts)
    assert not alerts.unanswered
