"""The picture of a running cook: asked of the server, drawn once for all phones, in each one's own zone."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from dashboard.app import make_app
from dashboard.components.parts import COURSE
from dashboard.live import course as course_module
from monitor.runtime import Anchor, Clock
from monitor.runtime.clock import JumpClock
from monitor.session import CookLibrary
from tests.dashboard.dash_requests import answer_of, chart_of
from tests.dashboard.seeded import Maker

WANTED = ("course-wanted", "data")


@pytest.fixture
def clock() -> JumpClock:
    return JumpClock()


@pytest.fixture
def maker(tmp_path: Path, clock: JumpClock) -> Iterator[Maker]:
    made = Maker(tmp_path, clock, hours=2.6)
    yield made
    made.recorder.close()


@pytest.fixture
def app(maker: Maker, clock: JumpClock) -> Flask:
    def clock_for(_tie: Anchor) -> Clock:
        return clock

    return make_app(CookLibrary(maker.path.parent, clock_for), "key")


@pytest.fixture
def drawn(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Each time that a course is made, the zone it is made for."""
    made: list[str] = []
    real = course_module._chart

    def counted(*given: Any) -> dict[str, object]:
        made.append(given[2])
        return real(*given)

    monkeypatch.setattr(course_module, "_chart", counted)
    return made


def phone_of(app: Flask, zone: str = "") -> FlaskClient:
    client = app.test_client()
    client.get("/?key=key")
    if zone:
        client.set_cookie("kettleside-zone", zone)
    return client


def course_for(phone: FlaskClient, maker: Maker, turn: int = 1) -> dict[str, object]:
    return chart_of(phone, COURSE, {WANTED: {"cook": maker.path.stem, "turn": turn}})


def test_the_course_has_the_paste_the_stirs_and_the_hill(app: Flask, maker: Maker) -> None:
    data: Any = course_for(phone_of(app), maker)
    assert {"paste", "expected", "clear time", "stirred", "stir due"} <= {
        one.get("name") for one in data["figure"]["data"]
    }
    assert data["words"].startswith("Course of the cook") and len(data["rows"]) > 5


def test_five_phones_cost_one_drawing_and_an_event_another(
    app: Flask, maker: Maker, clock: JumpClock, drawn: list[str]
) -> None:
    phones = [phone_of(app) for _ in range(5)]
    pictures = [course_for(phone, maker) for phone in phones]
    assert drawn == ["UTC"] and all(picture == pictures[0] for picture in pictures)
    clock.moment += 5
    maker.went_on(clock.moment - maker.started)
    maker.log("checked", clock.moment - maker.started, {"result": "hazy"})
    later = [course_for(phone, maker, 2) for phone in phones]
    assert drawn == ["UTC"] * 2 and later[0] != pictures[0]
    # Readings alone are drawn with the next estimate, a minute later.
    clock.moment += 10
    maker.went_on(clock.moment - maker.started)
    assert course_for(phones[0], maker, 3) == later[0]
    clock.moment += 60
    maker.went_on(clock.moment - maker.started)
    assert course_for(phones[0], maker, 4) != later[0] and len(drawn) == 3


def test_each_phone_has_its_own_clock_on_the_axis(app: Flask, maker: Maker, drawn: list[str]) -> None:
    far, near = course_for(phone_of(app, "Pacific/Auckland"), maker), course_for(phone_of(app, "Europe/Paris"), maker)
    assert far != near and drawn == ["Pacific/Auckland", "Europe/Paris"]


def test_few_figures_are_kept(maker: Maker, app: Flask) -> None:
    look = CookLibrary(maker.path.parent).cook(maker.path.stem).state()
    figures = course_module.CourseFigures()
    for number in range(course_module.MOST_COOKS + 3):
        figures.chart_of(f"cook {number}", look.history, look.outlook.estimate, "UTC")
    for zone in ("Asia/Tokyo", "Asia/Kolkata", "Asia/Dubai", "Africa/Cairo", "Europe/Oslo"):
        figures.chart_of("cook 5", look.history, look.outlook.estimate, zone)
    assert len(figures._drawn) == course_module.MOST_COOKS
    assert len(figures._drawn["cook 5"].by_zone) == course_module.MOST_ZONES


def test_a_cook_without_readings_has_an_empty_course(tmp_path: Path, app: Flask, clock: JumpClock) -> None:
    new = Maker(tmp_path, clock, hours=0.0, events=False, rig="other")
    data: Any = course_for(phone_of(app), new)
    assert "has not begun" in data["words"]
    new.recorder.close()


def test_another_name_draws_nothing(app: Flask) -> None:
    part = {"chart": COURSE, "part": "data"}
    for name in ("../x", "nothing-here"):
        assert '"response":{}' in answer_of(phone_of(app), (part, "data"), {WANTED: {"cook": name}})
    unknown: list[object] = [None, [], {}, {"cook": 5}]
    for wanted in unknown:
        answer_of(phone_of(app), (part, "data"), {WANTED: wanted}, 400)
