"""The steps before the lid and after a clear sample: what ticks them, and what is offered next."""

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient

from dashboard.app import make_app
from dashboard.pages.bench_sums import SUM_PAGES
from monitor.model import MORNING_HOUR, PERSON_EVENTS, REST_H, STEP_TIMERS
from monitor.runtime.clock import JumpClock
from monitor.session import AFTER_CLEAR, BEFORE_LID, DOSE, PROBE, REST, SETTLING, CookLibrary, steps_of
from monitor.storage import load
from tests.dashboard.seeded import Maker

Look = Callable[[], dict[str, Any]]
OURS = {"Sec-Fetch-Site": "same-origin"}


@pytest.fixture
def clock() -> JumpClock:
    return JumpClock()


@pytest.fixture
def maker(tmp_path: Path, clock: JumpClock) -> Iterator[Maker]:
    # Ten minutes: the paste is warm, and not yet so warm that a cook without a log would count.
    made = Maker(tmp_path, clock, hours=1 / 6, events=False)
    yield made
    made.recorder.close()


@pytest.fixture
def client(maker: Maker, clock: JumpClock) -> FlaskClient:
    phone = make_app(CookLibrary(maker.path.parent, lambda _tie: clock), "key").test_client()
    phone.get("/?key=key")
    return phone


@pytest.fixture
def look(maker: Maker, clock: JumpClock, client: FlaskClient) -> Look:

    def now() -> dict[str, Any]:
        clock.moment += 5
        maker.went_on(clock.moment - maker.started)
        answer: dict[str, Any] | None = client.get("/live", query_string={"cook": maker.path.stem}).json
        assert answer is not None
        return answer

    return now


def states(look: dict[str, Any]) -> list[str]:
    return [str(step[1]) for step in look["steps"]]


def test_the_next_step_is_the_one_button_with_its_caution_and_there_is_no_per_cent(look: Look, maker: Maker) -> None:
    first = look()
    assert first["stage"] == "before" and (first["converted"], first["done"], first["stir_due"]) == (None, None, None)
    assert states(first) == ["next", "open", "open", "open", "done", "open"]
    assert first["first_buttons"] == ["oils melted"] and first["next_step"][0] == "Melt the oils"
    for place, kind in enumerate(("oils melted", "lye cooled", "lye in", "thick trace")):
        maker.log(kind, 590 + place)
        seen = look()
        assert states(seen)[: place + 1] == ["done"] * (place + 1) and seen["stage"] == "before"
    assert seen["first_buttons"] == ["lid on"] and "hot paste" in seen["next_step"][1]
    maker.log("lid on", 620)
    assert look()["steps"] == [] and look()["stage"] == "cooking"


def test_a_step_that_nobody_logged_is_passed_over(look: Look, maker: Maker) -> None:
    maker.log("lye in", 590)
    assert states(look()) == ["passed", "passed", "done", "next", "done", "open"]


def test_the_probe_ticks_itself_while_it_is_heard(look: Look, maker: Maker, clock: JumpClock) -> None:
    maker.log("thick trace", 595)
    assert look()["next_step"][2] == "lid on"
    clock.moment += 360.0
    history = load(maker.path, clock.moment)
    assert [one.state for one in steps_of(history, "before", clock.moment)][-2:] == ["next", "open"]


def test_a_cook_that_counts_without_any_log_has_no_steps(tmp_path: Path, clock: JumpClock, maker: Maker) -> None:
    hot = Maker(tmp_path, clock, hours=1.0, events=False, rig="other")
    client = make_app(CookLibrary(tmp_path, lambda _tie: clock), "key").test_client()
    client.get("/?key=key")
    found: Any = client.get("/live", query_string={"cook": hot.path.stem}).json
    assert found["stage"] == "cooking" and found["steps"] == [] and found["converted"] is not None
    hot.recorder.close()


def test_what_comes_after_a_clear_sample_is_ticked_by_the_log(look: Look, maker: Maker) -> None:
    maker.log("lid on", 595)
    maker.log("checked", 600, {"result": "clear"})
    first = look()
    assert states(first) == ["next"] + ["open"] * (len(AFTER_CLEAR) - 1)
    assert first["first_buttons"] == ["heat off", "finished"] and first["next_step"][0] == "It reads clear"
    maker.log("heat off", 601)
    assert look()["first_buttons"] == ["finished"]
    maker.log("water added", 602, {"grams": 900})
    seen = look()
    assert states(seen)[:6] == ["done", "passed", "passed", "done", "next", "open"]
    assert seen["steps"][4][2] == round(maker.started + 602 + 3600.0 * REST_H)
    # Its page of the bench, its timer, and the next morning for that.
    assert seen["next_step"][2:6] == ["", "dilute", "rest", None]
    maker.log("timer set", 603, {"step": "rest", "minutes": 660})
    timed = look()["next_step"]
    assert timed[4] == "" and timed[6] == round(maker.started + 603 + 660 * 60)
    history = load(maker.path)
    rested = steps_of(history, "clear", maker.started + 603 + 660 * 60)
    assert [one.state for one in rested][:6] == ["done", "passed", "passed", "done", "done", "next"]


def test_what_rests_is_over_with_the_step_after_it(look: Look, maker: Maker) -> None:
    maker.log("lid on", 595)
    maker.log("checked", 600, {"result": "clear"})
    maker.log("water added", 602, {"grams": 900})
    maker.log("ph read", 603, {"ph": 10.2})
    assert states(look())[3:7] == ["done", "done", "done", "next"]


def test_a_timer_rings_on_the_page_of_a_batch_whose_cook_is_over_and_in_the_line_of_every_page(
    look: Look, maker: Maker, clock: JumpClock, client: FlaskClient
) -> None:
    maker.log("lid on", 595)
    maker.log("checked", 600, {"result": "clear"})
    maker.log("finished", 605)
    clock.moment += 3600.0
    cook = maker.path.stem

    def log(kind: str, **fields: object) -> str:
        answer: Any = client.post("/log", json={"cook": cook, "kind": kind, "fields": fields}, headers=OURS)
        assert answer.status_code == 200, answer.text
        logged: Any = answer.json
        return str(logged["uid"])

    def due() -> object:
        clock.moment += 1.0
        answer: Any = client.get("/due").json
        return answer.get("alarm")

    def page() -> dict[str, Any]:
        clock.moment += 1.0
        answer: Any = client.get("/live", query_string={"cook": cook}).json
        return dict(answer)

    assert page()["stage"] == "finished" and page()["stands"] == "paste, not diluted yet"
    log("water added", grams=900)
    set_ = log("timer set", step="rest", minutes=30)
    assert page()["stage"] == "after" and page()["stands"].startswith("resting until")
    assert due() is None and page()["unanswered"] == []
    number = page()["alert_number"]
    clock.moment += 1800.0
    ringing = page()
    assert ringing["unanswered"] == ["paste due"] and ringing["alert_number"] == number + 1
    assert ringing["stir_due"] is None and due() == "paste due"
    # Not answered, it rings again.
    clock.moment += 301.0
    assert page()["alert_number"] == number + 2
    seen = log("acknowledged", condition="paste due")
    assert page()["alarms"] == [] and due() is None
    # What was tapped by mistake is taken back, and so is a timer.
    for uid in (seen, set_):
        assert client.post("/back", json={"cook": cook, "uid": uid}, headers=OURS).status_code == 200
        assert (due() == "paste due") is (uid == seen)


def test_every_step_is_logged_by_a_known_kind_and_leads_to_a_page_that_is_there() -> None:
    for step in (*BEFORE_LID, *AFTER_CLEAR):
        assert step.kind in (PROBE, REST, DOSE, SETTLING) or step.kind in PERSON_EVENTS
        assert not step.page or step.page in SUM_PAGES
        assert not step.timer or step.timer in STEP_TIMERS
        assert step.line.endswith(".") and len(step.line) < 80
    assert {step.timer for step in (*BEFORE_LID, *AFTER_CLEAR)} - {""} == set(STEP_TIMERS)


def test_the_page_sets_its_reminder_for_the_same_morning_as_the_plan_of_a_day() -> None:
    script = (Path(__file__).resolve().parents[3] / "dashboard" / "assets" / "10-words.js").read_text(encoding="utf-8")
    assert f"const MORNING_HOUR = {MORNING_HOUR};" in script
