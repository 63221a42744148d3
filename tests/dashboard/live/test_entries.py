"""An entry of a phone: logged once however often it arrives, at the time of its tap however late."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from flask.testing import FlaskClient

from dashboard.app import make_app
from dashboard.live.cook_state import cook_state
from monitor.estimation import Costs, Estimator
from monitor.model import Event, History, series_from
from monitor.runtime import Anchor, Clock
from monitor.runtime.clock import JumpClock
from monitor.session import CookLibrary, read_kitchen_costs, set_kitchen_costs
from monitor.session.outlook import with_conditions
from monitor.storage import load
from tests.dashboard.live.test_app_state import KEY, post
from tests.dashboard.seeded import Maker

ID = "7f0c9a52-1f7e-4d57-9d5e-0c7c2f1d3a11"
OTHER = "0a6f1c1e-1111-4222-8333-444455556666"


@pytest.fixture
def clock() -> JumpClock:
    return JumpClock()


@pytest.fixture(params=[1.0, 60.0])
def maker(tmp_path: Path, clock: JumpClock, request: pytest.FixtureRequest) -> Iterator[Maker]:
    """A cook at life's pace, and one sixty times as fast."""
    made = Maker(tmp_path, clock, hours=1.5, rate=request.param)
    yield made
    made.recorder.close()


@pytest.fixture
def phone(maker: Maker, clock: JumpClock) -> FlaskClient:
    def clock_for(_tie: Anchor) -> Clock:
        return clock

    client = make_app(CookLibrary(maker.path.parent, clock_for), KEY).test_client()
    client.get(f"/?key={KEY}")
    return client


def stirs(maker: Maker) -> list[float]:
    return [event.measured for event in load(maker.path).events_of("stirred")]


def test_a_repeated_entry_is_logged_once_and_answered_alike(phone: FlaskClient, maker: Maker, clock: JumpClock) -> None:
    before = len(stirs(maker))
    asked = {"cook": maker.path.stem, "kind": "stirred", "id": ID}
    first = post(phone, "/log", asked | {"age_s": 0})
    clock.moment += 30
    second = post(phone, "/log", asked | {"age_s": 30})
    assert first.status_code == 200 and first.json == second.json and first.json["uid"] == ID
    assert len(stirs(maker)) == before + 1


def test_a_late_entry_is_logged_at_the_time_of_its_tap(phone: FlaskClient, maker: Maker, clock: JumpClock) -> None:
    post(phone, "/log", {"cook": maker.path.stem, "kind": "stirred", "id": ID, "age_s": 12.5})
    assert stirs(maker)[-1] == pytest.approx(clock.moment - 12.5 * maker.anchor.rate)


@pytest.mark.parametrize(
    "more", [{"age_s": -1}, {"age_s": "soon"}, {"age_s": 1e9}, {"id": 5}, {"id": "short"}, {"id": "a b c d e f"}]
)
def test_an_invalid_entry_is_reported_in_one_sentence(
    phone: FlaskClient, maker: Maker, more: dict[str, object]
) -> None:
    before = stirs(maker)
    for path in ("/log", "/earlier", "/drop", "/keep"):
        if path != "/log" and "age_s" in more:
            continue
        answer = post(phone, path, {"cook": maker.path.stem, "kind": "stirred", "uid": "x", "at": 0} | more)
        assert answer.status_code == 400 and answer.text.endswith(".") and "\n" not in answer.text
    assert stirs(maker) == before


def test_a_repeated_move_by_five_minutes_moves_by_five_minutes(phone: FlaskClient, maker: Maker) -> None:
    cook = maker.path.stem
    post(phone, "/log", {"cook": cook, "kind": "stirred", "id": ID, "age_s": 0})
    at, others = stirs(maker)[-1], stirs(maker)[:-1]
    moved = [post(phone, "/earlier", {"cook": cook, "uid": ID, "by_s": 300, "id": OTHER}) for _ in range(2)]
    assert [answer.json for answer in moved] == [{"uid": OTHER, "at": round(at - 300)}] * 2
    assert set(stirs(maker)) == {*others, at - 300}
    for _ in range(2):
        assert post(phone, "/back", {"cook": cook, "uid": OTHER}).status_code == 200
    assert set(stirs(maker)) == set(others)


def test_a_late_stir_from_before_the_end_is_logged_and_one_after_it_is_refused(
    phone: FlaskClient, maker: Maker, clock: JumpClock
) -> None:
    cook = maker.path.stem
    clock.moment += 100
    post(phone, "/log", {"cook": cook, "kind": "finished"})
    ended, before = clock.moment, len(stirs(maker))
    clock.moment += 60 * maker.anchor.rate
    early = post(phone, "/log", {"cook": cook, "kind": "stirred", "id": ID, "age_s": 61})
    assert early.status_code == 200 and stirs(maker)[-1] == pytest.approx(ended - maker.anchor.rate)
    late = post(phone, "/log", {"cook": cook, "kind": "stirred", "id": OTHER, "age_s": 1})
    assert late.status_code == 400 and late.text == "The cook had been finished before that."
    assert len(stirs(maker)) == before + 1
    # What is remembered later is still worth keeping.
    note = post(phone, "/log", {"cook": cook, "kind": "note", "fields": {"text": "pale"}, "age_s": 1})
    assert note.status_code == 200 and note.json["at"] == round(ended)


def test_a_missing_cook_is_reported(phone: FlaskClient, maker: Maker) -> None:
    answer = post(phone, "/log", {"cook": "2020-01-01T000000Z-gone", "kind": "stirred", "id": ID, "age_s": 1})
    assert answer.status_code == 404 and "may have been deleted" in answer.text


def test_costs_for_all_cooks_count_for_this_one_too_and_are_set_once(phone: FlaskClient, maker: Maker) -> None:
    cook, folder = maker.path.stem, maker.path.parent
    asked = {"cook": cook, "amounts": {"check_min": 8}, "id": ID, "age_s": 0}
    first = post(phone, "/costs", asked)
    assert first.status_code == 200 and first.json["uid"] == ID
    assert read_kitchen_costs(folder) == Costs(check_min=8.0)
    set_kitchen_costs(folder, {"check_min": 20.0})
    # A late second try does not undo what was set since.
    assert post(phone, "/costs", asked).json == first.json
    assert read_kitchen_costs(folder) == Costs(check_min=20.0)
    (event,) = load(maker.path).events_of("costs set")
    assert event.fields == {"check_min": 8.0}


@pytest.mark.parametrize(
    "amounts", [None, {}, [], {"check_min": "8"}, {"check_min": 500}, {"check_min": True}, {"uid": 3}]
)
def test_amounts_that_are_none_are_one_sentence_and_set_nothing(
    phone: FlaskClient, maker: Maker, amounts: object
) -> None:
    answer = post(phone, "/costs", {"cook": maker.path.stem, "amounts": amounts})
    assert answer.status_code == 400 and answer.text.endswith(".") and "\n" not in answer.text
    assert not (maker.path.parent / "kitchen.toml").exists()
    assert not load(maker.path).events_of("costs set")


def test_the_share_of_the_cooking_is_told_once_the_estimate_has_it() -> None:
    times = np.arange(0.0, 600.0, 10.0)
    paste = series_from("paste", "Cel", times, times, np.full(60, 90.0))
    history = History(0.0, 600.0, {"paste": paste}, (Event("a", "lid on", 0.0, 0.0),))
    estimate = Estimator().estimate(history, 600.0)
    assert cook_state(history, with_conditions(replace(estimate, done=(0.0, 0.0, 0.0)), history, 600.0))["done"] is None
    told = with_conditions(replace(estimate, done=(0.5, 0.602, 0.71), excess=(0.01, 0.02, 0.03)), history, 600.0)
    assert cook_state(history, told)["done"] == [500, 600, 710]
    assert told.as_json()["excess"] == [0.01, 0.02, 0.03] and told.as_json()["done"] == [0.5, 0.602, 0.71]


def test_a_row_is_corrected_once_in_time_and_value(phone: FlaskClient, maker: Maker) -> None:
    cook = maker.path.stem
    post(phone, "/log", {"cook": cook, "kind": "checked", "fields": {"result": "hazy"}, "id": ID, "age_s": 0})
    (before,) = load(maker.path).events_of("checked")
    asked = {"cook": cook, "uid": ID, "at": before.measured - 3600, "fields": {"result": "cloudy"}, "id": OTHER}
    answers = [post(phone, "/change", asked).json for _ in range(2)]
    assert answers == [{"uid": OTHER, "at": round(before.measured - 3600)}] * 2
    (event,) = load(maker.path).events_of("checked")
    assert event.measured == pytest.approx(before.measured - 3600) and event.fields == {"result": "cloudy"}
    refused = post(phone, "/change", asked | {"id": ID[::-1]})
    assert refused.status_code == 400 and refused.text == "That was taken back already."


@pytest.mark.parametrize(
    "wrong", [{"at": "soon"}, {"at": None}, {"at": 0}, {"fields": 3}, {"fields": {"result": "blue"}}]
)
def test_a_correction_that_is_not_allowed_leaves_the_row_as_it_was(
    phone: FlaskClient, maker: Maker, wrong: dict[str, object]
) -> None:
    cook = maker.path.stem
    at = post(
        phone, "/log", {"cook": cook, "kind": "checked", "fields": {"result": "hazy"}, "id": ID, "age_s": 0}
    ).json["at"]
    answer = post(phone, "/change", {"cook": cook, "uid": ID, "at": at, "id": OTHER} | wrong)
    assert answer.status_code == 400 and "\n" not in answer.text
    (event,) = load(maker.path).events_of("checked")
    assert event.uid == ID
