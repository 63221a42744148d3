"""The steps before the lid and after a clear sample: what ticks them, and what is offered next."""

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from dashboard.app import make_app
from dashboard.pages.bench_sums import SUM_PAGES
from dashboard.steps import AFTER_CLEAR, BEFORE_LID, PROBE, REST, REST_S, steps_of
from monitor.model import PERSON_EVENTS
from monitor.runtime.clock import JumpClock
from monitor.session import CookLibrary
from monitor.storage import load
from tests.dashboard.seeded import Maker

Look = Callable[[], dict[str, Any]]


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
def look(maker: Maker, clock: JumpClock) -> Look:
    client = make_app(CookLibrary(maker.path.parent, lambda _tie: clock), "key").test_client()
    client.get("/?key=key")

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
    assert [step[1] for step in steps_of(history, "before", clock.moment)][-2:] == ["next", "open"]


def test_a_cook_that_counts_without_any_log_has_no_steps(tmp_path: Path, clock: JumpClock, maker: Maker) -> None:
    hot = Maker(tmp_path, clock, hours=1.0, events=False, rig="other")
    client = make_app(CookLibrary(tmp_path, lambda _tie: clock), "key").test_client()
    client.get("/?key=key")
    found: Any = client.get("/live", query_string={"cook": hot.path.stem}).json
    assert found["stage"] == "cooking" and found["steps"] == [] and found["converted"] is not None
    hot.recorder.close()


def test_what_comes_after_a_clear_sample_is_ticked_by_the_log(look: Look, maker: Maker, clock: JumpClock) -> None:
    maker.log("lid on", 595)
    maker.log("checked", 600, {"result": "clear"})
    assert states(look()) == ["next"] + ["open"] * 5
    maker.log("heat off", 601)
    maker.log("water added", 602, {"grams": 900})
    seen = look()
    assert states(seen) == ["done", "passed", "done", "next", "open", "open"]
    assert seen["steps"][3][2] == round(maker.started + 602 + REST_S)
    history = load(maker.path)
    rested = steps_of(history, "finished", maker.started + 602 + REST_S)
    assert [step[1] for step in rested] == ["done", "passed", "done", "done", "next", "open"]


def test_every_step_is_logged_by_a_known_kind_and_leads_to_a_page_that_is_there() -> None:
    for step in (*BEFORE_LID, *AFTER_CLEAR):
        assert step.kind in (PROBE, REST) or step.kind in PERSON_EVENTS
        assert not step.page or step.page in SUM_PAGES
    assert all(step.caution.endswith(".") and len(step.caution) < 70 for step in BEFORE_LID)
