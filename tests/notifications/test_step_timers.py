"""The timers of a batch's steps go out by every channel, before the cook, after it, and after kill -9."""

import shutil
from pathlib import Path

import pytest

from monitor.model import make_event
from monitor.runtime import Anchor
from monitor.storage import Recorder, log_event
from tests.cli.processes import until
from tests.notifications.catchers import post_catcher
from tests.notifications.test_notifier import START, Cooking
from tests.notifications.test_settings import settings_file

DAY_MIN = 24 * 60


@pytest.fixture
def cooking(tmp_path: Path) -> Cooking:
    return Cooking(tmp_path)


def finish(cooking: Cooking) -> Path:
    """Ends the cook, and its logger with it."""
    cooking.log("checked", result="clear")
    cooking.log("finished")
    cooking.recorder.finish()
    cooking.logger.__exit__(None, None, None)
    return cooking.recorder.path


def wait(cooking: Cooking, minutes: float, *notifiers: object, step_min: float = 1.0) -> None:
    """Lets the time pass, with an update of each notifier at every step."""
    for _ in range(round(minutes / step_min)):
        cooking.clock.moment += 60.0 * step_min
        for notifier in notifiers:
            notifier.update()  # type: ignore[attr-defined]


def test_ten_minutes_for_the_oils_ring_until_the_step_is_logged(cooking: Cooking) -> None:
    notifier = cooking.notifier()
    cooking.log("timer set", step="oils", minutes=10)
    cooking.cook_on(9, notifier)
    assert cooking.notices("oils due") == []
    cooking.cook_on(7, notifier)
    first, second = cooking.notices("oils due")
    assert "heat off once nothing solid is left" in first and "(told 2 times)" in second
    topics = [topic for topic, payload, _ in cooking.published.sent if '"notice":"oils due"' in payload]
    assert topics == ["kettleside/cooker/notice"] * 2
    cooking.log("oils melted")
    cooking.cook_on(60, notifier)
    assert len(cooking.notices("oils due")) == 2


def test_a_weeks_rest_rings_when_cook_and_logger_are_long_gone_and_names_its_batch(cooking: Cooking) -> None:
    notifier = cooking.notifier()
    cooking.cook_on(5, notifier)
    path = finish(cooking)
    cooking.log("timer set", step="settling", minutes=7 * DAY_MIN)
    wait(cooking, 7 * DAY_MIN - 60, notifier, step_min=60)
    assert cooking.notices("settling due") == []
    # Another process, as after kill -9, counts on.
    other = cooking.notifier()
    wait(cooking, 61, other)
    (told,) = cooking.notices("settling due")
    assert "cooker: The soap has had its rest" in told
    again = cooking.notifier()
    wait(cooking, 3, again)
    assert len(cooking.notices("settling due")) == 1
    wait(cooking, 3, again)
    assert "(told 2 times)" in cooking.notices("settling due")[1]
    log_event(path, make_event("look-it-", "settled", cooking.clock.now(), cooking.clock.now(), {"look": "clear"}))
    wait(cooking, 60, again)
    assert len(cooking.notices("settling due")) == 2


def test_seen_ends_it_and_put_aside_brings_it_again(cooking: Cooking) -> None:
    notifier = cooking.notifier()
    finish(cooking)
    cooking.log("timer set", step="dose", minutes=15)
    wait(cooking, 16, notifier)
    assert len(cooking.notices("reading due")) == 1
    cooking.log("shelved", condition="reading due", minutes=30)
    wait(cooking, 29, notifier)
    assert len(cooking.notices("reading due")) == 1
    wait(cooking, 2, notifier)
    assert len(cooking.notices("reading due")) == 2
    cooking.log("acknowledged", condition="reading due")
    wait(cooking, 200, notifier)
    assert len(cooking.notices("reading due")) == 2


def test_a_batch_rests_beside_the_next_cook_and_neither_silences_the_other(cooking: Cooking) -> None:
    notifier = cooking.notifier()
    finish(cooking)
    cooking.log("timer set", step="rest", minutes=40)
    now = cooking.clock.now()
    cooking.recorder = Recorder.create(cooking.folder, Anchor(now, now, "", 0.0), rig="cooker", source="test:")
    cooking.log("lid on")
    cooking.cook_on(42, notifier)
    assert len(cooking.notices("paste due")) == 1 and len(cooking.notices("stir due")) == 2


def test_quiet_hours_hold_it_back_until_the_morning(cooking: Cooking) -> None:
    # 09:20 UTC at the start.
    settings_file(cooking.folder, '[quiet_hours]\nfrom = "09:00"\nto = "12:00"\nzone = "UTC"\n')
    notifier = cooking.notifier()
    finish(cooking)
    cooking.log("timer set", step="rest", minutes=30)
    wait(cooking, 159, notifier)
    assert cooking.notices("paste due") == []
    wait(cooking, 3, notifier)
    assert len(cooking.notices("paste due")) == 1


def test_a_folder_that_is_away_costs_nothing_but_the_wait(cooking: Cooking, tmp_path: Path) -> None:
    notifier = cooking.notifier()
    finish(cooking)
    cooking.log("timer set", step="dose", minutes=15)
    wait(cooking, 5, notifier)
    aside = tmp_path.with_name("aside")
    shutil.move(cooking.folder, aside)
    wait(cooking, 20, notifier)
    shutil.move(aside, cooking.folder)
    wait(cooking, 2, notifier)
    assert len(cooking.notices("reading due")) == 1


def test_a_clock_that_was_wrong_when_it_was_set_rings_nothing_from_the_past(cooking: Cooking) -> None:
    notifier = cooking.notifier()
    finish(cooking)
    log_event(
        cooking.recorder.path,
        make_event("old-one-", "timer set", START - 9e6, START, {"step": "rest", "minutes": 600.0}),
    )
    wait(cooking, 60, notifier)
    assert cooking.notices("paste due") == []


def test_it_arrives_at_a_service_of_the_network(cooking: Cooking) -> None:
    with post_catcher() as catcher:
        settings_file(cooking.folder, f'[[service]]\nname = "Post"\nurl = "json://127.0.0.1:{catcher.port}/"\n')
        notifier = cooking.notifier()
        finish(cooking)
        cooking.log("timer set", step="dose", minutes=15)
        wait(cooking, 16, notifier)
        until(lambda: bool(catcher.posts))
        assert catcher.titles() == ["cooker: reading due"] and "read its pH" in str(catcher.posts[0])
