"""Alarms acknowledged and suggestions accepted or dismissed, through the addresses that a phone uses."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient

from dashboard.app import make_app
from monitor.detection import Suggestion, find_suggestions
from monitor.model import History, cut
from monitor.protocol import Pack, SenmlRecord
from monitor.runtime import Anchor, Clock
from monitor.runtime.clock import JumpClock
from monitor.session import CookLibrary
from monitor.session.live_cook import NOTICE_AGAIN_S
from monitor.storage import Recorder, load
from tests.bench.noticed_rates import without_wall
from tests.dashboard.live.test_app_state import KEY, goes_on, live, post
from tests.dashboard.seeded import Maker
from tests.detection.test_suggestions import START, cooked, pot

OPEN = "open circuit"


@pytest.fixture
def clock() -> JumpClock:
    return JumpClock()


@pytest.fixture
def maker(tmp_path: Path, clock: JumpClock) -> Iterator[Maker]:
    made = Maker(tmp_path, clock, hours=1.5)
    yield made
    made.recorder.close()


def paired(folder: Path, clock: JumpClock) -> FlaskClient:
    def clock_for(_tie: Anchor) -> Clock:
        return clock

    client = make_app(CookLibrary(folder, clock_for), KEY).test_client()
    client.get(f"/?key={KEY}")
    return client


@pytest.fixture
def phone(maker: Maker, clock: JumpClock) -> FlaskClient:
    return paired(maker.path.parent, clock)


def opens(clock: JumpClock, maker: Maker, seconds: int) -> None:
    """The wall's thermocouple comes loose for so many seconds; the paste reads on."""
    for _ in range(seconds):
        clock.moment += 1.0
        records = (
            SenmlRecord("paste", "Cel", 91.0 + (clock.moment % 4) / 4, None, clock.moment),
            SenmlRecord("wall", "Cel", None, OPEN, clock.moment),
        )
        maker.recorder.add_pack(Pack(records, clock.moment, None, None))
    maker.recorder.commit()


def wall_of(phone: FlaskClient, maker: Maker) -> list[Any] | None:
    look = live(phone, maker)
    return next((one for one in look["alarms"] if one[3] == "wall probe open"), None)


def test_an_alarm_is_acknowledged_shelved_and_shown_again(phone: FlaskClient, maker: Maker, clock: JumpClock) -> None:
    opens(clock, maker, 30)
    raised = wall_of(phone, maker)
    assert raised is not None and raised[2] == "unacknowledged" and raised[4] is None and OPEN in raised[0]
    assert raised[1] == pytest.approx(clock.moment - 30, abs=2)
    fields: dict[str, object] = {"condition": "wall probe open"}
    seen = post(phone, "/log", {"cook": maker.path.stem, "kind": "acknowledged", "fields": fields})
    assert seen.status_code == 200
    known = wall_of(phone, maker)
    assert known is not None and known[2] == "acknowledged"
    away = post(phone, "/log", {"cook": maker.path.stem, "kind": "shelved", "fields": fields | {"minutes": 30}})
    shelved = wall_of(phone, maker)
    assert shelved is not None
    assert shelved[2] == "shelved" and shelved[4] == pytest.approx(clock.moment + 1800, abs=1)
    assert shelved[5] == away.json["uid"]
    clock.moment += 1
    assert post(phone, "/back", {"cook": maker.path.stem, "uid": shelved[5]}).status_code == 200
    again = wall_of(phone, maker)
    assert again is not None and again[2] == "acknowledged" and again[5] is None
    # An answer to an alarm is not listed among the events of the cook.
    assert {entry[1] for entry in live(phone, maker)["events"]} <= {"lye in", "thick trace", "lid on", "stirred"}


def test_an_unacknowledged_past_alarm_is_shown_until_acknowledged(
    phone: FlaskClient, maker: Maker, clock: JumpClock
) -> None:
    opens(clock, maker, 30)
    assert (wall_of(phone, maker) or [])[2] == "unacknowledged"
    maker._second = int(clock.moment - maker.started)
    goes_on(clock, maker, 60)
    over = wall_of(phone, maker)
    assert over is not None and over[2] == "returned unacknowledged" and over[4] > over[1]
    assert "said" in over[0] and "reads again" in over[0]
    fields = {"condition": "wall probe open"}
    post(phone, "/log", {"cook": maker.path.stem, "kind": "acknowledged", "fields": fields})
    assert wall_of(phone, maker) is None


@pytest.mark.parametrize(
    "fields", [{}, {"condition": "x" * 99, "minutes": 5}, {"condition": "x", "minutes": 0}, {"condition": 5}]
)
def test_an_invalid_answer_is_reported_in_one_sentence(
    phone: FlaskClient, maker: Maker, fields: dict[str, object]
) -> None:
    answer = post(phone, "/log", {"cook": maker.path.stem, "kind": "shelved", "fields": fields})
    assert answer.status_code == 400 and answer.text.endswith(".")


@pytest.fixture(scope="session")
def calm(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, float]:
    """The calm cook of a virtual kitchen as a recording, with nothing but its lid logged; and its latest moment."""
    history, _ = cooked()
    return recorded(tmp_path_factory.mktemp("calm"), history)


def recorded(folder: Path, history: History) -> tuple[Path, float]:
    """The readings and events of a cook that goes on, as a recording; and its latest moment."""
    clock = JumpClock(history.started)
    recorder = Recorder.create(folder, clock.anchor(), rig="cooker", source="test")
    for event in history.events:
        if event.kind != "finished":
            recorder.add_event(event)
    moments: dict[float, list[SenmlRecord]] = {}
    for series in history.series.values():
        for moment, value in zip(series.measured.tolist(), series.value.tolist(), strict=True):
            moments.setdefault(moment, []).append(SenmlRecord(series.channel, series.unit, value, None, moment))
    for moment in sorted(moments):
        recorder.add_pack(Pack(tuple(moments[moment]), moment, None, None))
    recorder.commit()
    recorder.close()
    return recorder.path, max(moments)


@pytest.fixture
def calm_phone(calm: tuple[Path, float], tmp_path: Path) -> tuple[FlaskClient, str, JumpClock]:
    source, end = calm
    (tmp_path / source.name).write_bytes(source.read_bytes())
    clock = JumpClock(end + 1.0)
    return paired(tmp_path, clock), source.stem, clock


def look_at(phone: FlaskClient, name: str) -> Any:
    return phone.get("/live", query_string={"cook": name}).json


def test_a_suggested_stir_is_accepted_dismissed_and_withdrawn(
    calm_phone: tuple[FlaskClient, str, JumpClock], tmp_path: Path
) -> None:
    phone, name, clock = calm_phone
    first = look_at(phone, name)
    assert len(first["suggestions"]) == 2 and first["suggestions"][0][1] > first["suggestions"][1][1]
    kind, at, until = first["suggestions"][0]
    assert kind == "stirred" and until is None
    before = load(tmp_path / f"{name}.cook").events_of("stirred")
    # The page asked a minute ago, and the moment has shifted a little since.
    kept = post(phone, "/keep", {"cook": name, "noticed": kind, "at": at + 40})
    assert kept.status_code == 200 and kept.json["at"] == at
    stirs = load(tmp_path / f"{name}.cook").events_of("stirred")
    assert len(stirs) == len(before) + 1 and round(stirs[-1].measured) == at
    assert [kind, at, until] not in look_at(phone, name)["suggestions"]
    assert post(phone, "/keep", {"cook": name, "noticed": kind, "at": at}).status_code == 400
    clock.moment += 1
    assert post(phone, "/back", {"cook": name, "uid": kept.json["uid"]}).status_code == 200
    clock.moment += 1
    assert [kind, at, until] in look_at(phone, name)["suggestions"]
    dropped = post(phone, "/drop", {"cook": name, "noticed": kind, "at": at})
    assert dropped.status_code == 200
    assert [kind, at, until] not in look_at(phone, name)["suggestions"]
    assert len(load(tmp_path / f"{name}.cook", clock.moment + 1).events_of("stirred")) == len(before)


def test_a_repeated_answer_to_a_suggestion_counts_once(
    calm_phone: tuple[FlaskClient, str, JumpClock], tmp_path: Path
) -> None:
    phone, name, _ = calm_phone
    (kind, at, _until), (_kind, other, _) = look_at(phone, name)["suggestions"]
    before = len(load(tmp_path / f"{name}.cook").events_of("stirred"))
    kept = [post(phone, "/keep", {"cook": name, "noticed": kind, "at": at, "id": "kept-once"}) for _ in range(2)]
    assert [answer.json for answer in kept] == [{"uid": "kept-once", "at": at}] * 2
    dropped = [post(phone, "/drop", {"cook": name, "noticed": kind, "at": other, "id": "drop-once"}) for _ in range(2)]
    assert [answer.json for answer in dropped] == [{"uid": "drop-once", "at": other}] * 2
    history = load(tmp_path / f"{name}.cook")
    assert len(history.events_of("stirred")) == before + 1 and len(history.events_of("dropped")) == 1


def test_the_person_chooses_between_two_possible_causes(tmp_path: Path) -> None:
    path, end = recorded(tmp_path, cut(without_wall(pot("lid")), START + 6600.0))
    phone = paired(tmp_path, JumpClock(end + 1.0))
    (offer,) = [one for one in look_at(phone, path.stem)["suggestions"] if one[0] != "stirred"]
    kind, at, until, *which = offer
    assert kind == "lid off or heat off" and until is None and which == ["lid off", "heat off"]
    body = {"cook": path.stem, "noticed": "lid off", "at": at}
    assert post(phone, "/keep", {**body, "noticed": "stirred"}).status_code == 400
    assert post(phone, "/keep", body).json["at"] == at
    assert [event.kind for event in load(path).events] == ["lid on", "lid off"]
    assert [one for one in look_at(phone, path.stem)["suggestions"] if one[0] != "stirred"] == []


@pytest.mark.parametrize(
    "body", [{}, {"noticed": "stirred"}, {"noticed": "stirred", "at": 5}, {"noticed": 7, "at": "x"}]
)
def test_an_answer_to_no_suggestion_is_reported_in_one_sentence(
    calm_phone: tuple[FlaskClient, str, JumpClock], body: dict[str, object]
) -> None:
    phone, name, _ = calm_phone
    for path in ("/keep", "/drop"):
        answer = post(phone, path, {"cook": name} | body)
        assert answer.status_code == 400 and answer.text.endswith(".") and "\n" not in answer.text


def test_the_curve_is_searched_every_two_minutes_at_most(
    calm_phone: tuple[FlaskClient, str, JumpClock], monkeypatch: pytest.MonkeyPatch
) -> None:
    phone, name, clock = calm_phone
    looks: list[float] = []

    def counted(history: History) -> tuple[Suggestion, ...]:
        looks.append(clock.moment)
        return find_suggestions(history)

    monkeypatch.setattr("monitor.session.live_cook.find_suggestions", counted)
    mark = ""
    for _ in range(150):
        answer = phone.get("/live", query_string={"cook": name, "since": mark}).json
        assert answer is not None
        mark = answer["cursor"]
        clock.moment += 2.0
    # Five minutes of asking every two seconds.
    assert len(looks) in (300.0 // NOTICE_AGAIN_S, 300.0 // NOTICE_AGAIN_S + 1)
    assert len(json.dumps(answer)) < 150


def test_an_unpaired_browser_cannot_answer(tmp_path: Path, maker: Maker) -> None:
    unpaired = make_app(CookLibrary(maker.path.parent), KEY).test_client()
    for path in ("/keep", "/drop"):
        assert post(unpaired, path, {"cook": maker.path.stem}).status_code == 401
