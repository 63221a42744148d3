"""What the pages' scripts ask: live changes, a moment of the past, and logging."""

import gzip
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from dashboard.app import make_app
from dashboard.live.replay import known_at
from monitor.runtime import Anchor, Clock
from monitor.runtime.clock import JumpClock
from monitor.session import Cook, CookLibrary
from monitor.storage import load
from tests.dashboard.dash_requests import page_of
from tests.dashboard.seeded import Maker

KEY = "a-key-for-tests"
OURS = {"Sec-Fetch-Site": "same-origin"}


@pytest.fixture
def clock() -> JumpClock:
    return JumpClock()


@pytest.fixture
def maker(tmp_path: Path, clock: JumpClock) -> Iterator[Maker]:
    made = Maker(tmp_path, clock, hours=1.5)
    yield made
    made.recorder.close()


@pytest.fixture
def app(maker: Maker, clock: JumpClock) -> Flask:
    def clock_for(_tie: Anchor) -> Clock:
        return clock

    return make_app(CookLibrary(maker.path.parent, clock_for), KEY)


@pytest.fixture
def phone(app: Flask) -> FlaskClient:
    client = app.test_client()
    client.get(f"/?key={KEY}")
    return client


def post(phone: FlaskClient, path: str, body: Any) -> Any:
    return phone.post(path, json=body, headers=OURS)


def get(phone: FlaskClient, path: str, **query: object) -> dict[str, Any]:
    answer: dict[str, Any] | None = phone.get(path, query_string=query).json
    assert answer is not None
    return answer


def live(phone: FlaskClient, maker: Maker, since: str = "") -> dict[str, Any]:
    return get(phone, "/live", cook=maker.path.stem, since=since)


def goes_on(clock: JumpClock, maker: Maker, seconds: int) -> None:
    clock.moment += seconds
    maker.went_on(clock.moment - maker.started)


def test_the_first_answer_has_everything_but_the_course(phone: FlaskClient, maker: Maker) -> None:
    look = live(phone, maker)
    assert look["title"] == "Kitchen batch"
    assert look["stage"] == "cooking" and look["first_buttons"] == ["stirred", "checked"]
    assert not {"points", "forecast", "curve_origin"} & look.keys()
    assert look["paste_tenths_c"] == pytest.approx(910, abs=40)
    assert [entry[1] for entry in look["events"]] == ["lye in", "thick trace", "lid on", "stirred"]


def test_a_danger_is_the_headline_before_a_due_stir(tmp_path: Path, clock: JumpClock) -> None:
    cut = Maker(tmp_path / "cold", clock, hours=3.0, power_cut_s=3 * 3600 - 2200)
    phone = make_app(CookLibrary(cut.path.parent, lambda _tie: clock), KEY).test_client()
    phone.get(f"/?key={KEY}")
    look = live(phone, cut)
    heading, since = look["headline"]
    assert heading == "Paste cold" and since == look["alarms"][0][1] and "The paste is cold, 5" in look["alarms"][0][0]
    assert (look["stir_due"], look["check_due"]) == (None, None)
    assert look["waits"] == look["stir_reason"] == "Stirring and checking wait until the paste is hot again."
    assert {key: get(phone, "/live-all")["cooks"][0][key] for key in ("headline", "waits", "next_due")} == {
        "headline": look["headline"],
        "waits": look["waits"],
        "next_due": None,
    }
    # Put aside, it gives the headline back; it stands no longer in the way of a stir either.
    post(
        phone, "/log", {"cook": cut.path.stem, "kind": "shelved", "fields": {"condition": "paste cold", "minutes": 30}}
    )
    look = live(phone, cut)
    assert look["headline"] is None and look["waits"] == "" and look["stir_due"] < clock.now()
    cut.recorder.close()


def test_a_delayed_stir_is_due_as_soon_as_the_paste_is_hot(tmp_path: Path, clock: JumpClock) -> None:
    cut = Maker(tmp_path / "cold", clock, hours=3.0, power_cut_s=3 * 3600 - 2200)
    phone = make_app(CookLibrary(cut.path.parent, lambda _tie: clock), KEY).test_client()
    phone.get(f"/?key={KEY}")
    assert live(phone, cut)["stir_due"] is None
    cut.power_back()
    goes_on(clock, cut, 1500)
    look = live(phone, cut)
    assert look["headline"] is None and look["waits"] == "" and look["stir_due"] < clock.now()
    cut.recorder.close()


def test_the_next_answer_has_only_changes(phone: FlaskClient, maker: Maker, clock: JumpClock) -> None:
    first = live(phone, maker)
    goes_on(clock, maker, 2)
    second = live(phone, maker, first["cursor"])
    assert set(second) <= {"cursor", "time", "paste_tenths_c"}
    assert len(json.dumps(second, separators=(",", ":"))) < 120
    assert second["time"] == first["time"] + 2
    third = live(phone, maker, second["cursor"])
    assert set(third) == {"cursor", "time"}


def test_a_phone_gets_all_it_missed_in_one_answer(phone: FlaskClient, maker: Maker, clock: JumpClock) -> None:
    first = live(phone, maker)
    clock.moment += 600
    maker.log("stirred", clock.moment - maker.started)
    goes_on(clock, maker, 0)
    change = live(phone, maker, first["cursor"])
    assert change["events"][-1][1] == "stirred" and change["stir_due"] > first["stir_due"]
    assert set(live(phone, maker, change["cursor"])) == {"cursor", "time"}


@pytest.mark.parametrize("since", ["rubbish", "a.b.c.d", "zzzz.1.1.1", "....", "-", "zzzz.99999999999.1.1"])
def test_an_invalid_cursor_gets_the_whole_state(phone: FlaskClient, maker: Maker, since: str) -> None:
    assert live(phone, maker, since).keys() == live(phone, maker).keys()


def test_logging_writes_the_event_and_shows_it(phone: FlaskClient, maker: Maker) -> None:
    first = live(phone, maker)
    answer = post(phone, "/log", {"cook": maker.path.stem, "kind": "checked", "fields": {"result": "clear"}})
    assert answer.status_code == 200
    stored = load(maker.path).events_of("checked")[-1]
    assert stored.uid == answer.json["uid"] and stored.fields["result"] == "clear"
    change = live(phone, maker, first["cursor"])
    assert change["events"][-1][1:2] == ["checked"] and change["stage"] == "clear"
    assert change["first_buttons"] == ["heat off", "finished"]


def test_undo_withdraws_the_event(phone: FlaskClient, maker: Maker, clock: JumpClock) -> None:
    uid = post(phone, "/log", {"cook": maker.path.stem, "kind": "stirred"}).json["uid"]
    before = len(load(maker.path).events)
    clock.moment += 5
    assert post(phone, "/back", {"cook": maker.path.stem, "uid": uid}).status_code == 200
    after = load(maker.path, clock.moment)
    assert len(after.events) == before - 1
    assert uid not in {event.uid for event in after.events}


def test_earlier_moves_the_event_by_five_minutes(phone: FlaskClient, maker: Maker, clock: JumpClock) -> None:
    first = post(phone, "/log", {"cook": maker.path.stem, "kind": "stirred"}).json
    clock.moment += 5
    second = post(phone, "/earlier", {"cook": maker.path.stem, "uid": first["uid"]}).json
    assert second["at"] == first["at"] - 300
    stirs = load(maker.path, clock.moment).events_of("stirred")
    assert [event.uid for event in stirs].count(second["uid"]) == 1
    assert first["uid"] not in {event.uid for event in stirs}
    assert post(phone, "/earlier", {"cook": maker.path.stem, "uid": first["uid"]}).status_code == 400


@pytest.mark.parametrize(
    "body",
    [
        {"kind": "stired"},
        {"kind": "bad line", "fields": {"reason": "x", "bytes": "y"}},
        {"kind": "checked"},
        {"kind": "checked", "fields": {"result": "murky"}},
        {"kind": "checked", "fields": "clear"},
        {"kind": "note", "fields": {"text": "x" * 3000}},
        {"kind": "note", "fields": {"text": 5}},
        {"kind": "stirred", "at": "soon"},
        {"kind": "stirred", "at": 1e300},
        {"kind": "stirred", "at": 5},
        {"kind": None},
        {},
    ],
)
def test_an_invalid_event_is_refused_in_one_sentence_and_not_written(
    phone: FlaskClient, maker: Maker, body: dict[str, Any]
) -> None:
    before = load(maker.path).events
    answer = post(phone, "/log", {"cook": maker.path.stem} | body)
    assert answer.status_code == 400
    assert answer.text.endswith(".") and "\n" not in answer.text and "Traceback" not in answer.text
    assert load(maker.path).events == before


@pytest.mark.parametrize("body", [b"", b"{", b"[]", b"null", b'"x"', b"\xff\xfe", b"[" * 5000])
def test_a_body_that_is_not_an_object_is_reported_in_one_sentence(phone: FlaskClient, body: bytes) -> None:
    answer = phone.post("/log", data=body, content_type="application/json", headers=OURS)
    assert answer.status_code == 400 and answer.text.endswith(".")


def test_a_body_too_long_is_refused(phone: FlaskClient) -> None:
    answer = phone.post("/log", data=b" " * 20_000, content_type="application/json", headers=OURS)
    assert answer.status_code in (400, 413)


@pytest.mark.parametrize(
    "name",
    ["../x", "..", ".", "a/b", "..\\x", "/etc/passwd", "nothing-here", "x\x00", "", " ", "a" * 5000, "%2e%2e%2fx"],
)
def test_names_never_reach_outside_the_folder(phone: FlaskClient, name: str) -> None:
    answer = phone.get("/live", query_string={"cook": name} if name else {"cook": "\t"})
    assert answer.status_code in (400, 404, 414)
    assert answer.text.endswith(".") and "/" not in answer.text
    assert post(phone, "/log", {"cook": name, "kind": "stirred"}).status_code in (400, 404)


def test_a_past_moment_shows_what_was_known_then(maker: Maker) -> None:
    at = maker.started + 1600
    look: Any = known_at(Cook(maker.path), at)
    assert look["time"] == at
    assert [entry[1] for entry in look["events"]] == ["lye in", "thick trace"]
    assert look["stage"] == "before"
    assert look["first_buttons"] == ["lid on"] and look["next_step"][0] == "Put the lid on"


@pytest.mark.parametrize("t", ["nan", "inf", "soon", "1e400", "-1e300"])
def test_an_invalid_moment_is_reported_in_one_sentence(phone: FlaskClient, maker: Maker, t: str) -> None:
    answer = phone.get(f"/cooks/{maker.path.stem}/then", query_string={"t": t})
    assert answer.status_code == 400 and answer.text == "T must be a number."


def test_a_moment_is_clamped_to_the_cook(maker: Maker) -> None:
    assert known_at(Cook(maker.path), 5.0)["time"] == round(maker.started, 1)


def test_a_cook_is_finished_and_a_new_one_begun(phone: FlaskClient, maker: Maker, clock: JumpClock) -> None:
    assert post(phone, "/begin", {}).status_code == 400
    post(phone, "/log", {"cook": maker.path.stem, "kind": "finished"})
    look = live(phone, maker)
    assert look["stage"] == "finished" and look["finished"] == round(clock.moment) and look["first_buttons"] == []
    assert look["stir_due"] is None and look["check_due"] is None
    assert phone.get("/live").json == {"idle": True}
    begun = post(phone, "/begin", {})
    assert begun.status_code == 200
    assert phone.get("/live").json == {"idle": False}
    assert CookLibrary(maker.path.parent).cook(begun.json["cook"]).rig == "cooker"


def test_every_page_can_be_opened(phone: FlaskClient, maker: Maker) -> None:
    assert "Kitchen batch" in page_of(phone, "/")
    assert "There is no such page." in page_of(phone, "/nowhere")


def test_an_empty_folder_is_reported(tmp_path: Path) -> None:
    client = make_app(CookLibrary(tmp_path), KEY).test_client()
    client.get(f"/?key={KEY}")
    assert "No cook is running." in page_of(client, "/")


def test_static_files_are_compressed_and_cached(phone: FlaskClient) -> None:
    index = phone.get("/").text
    scripts = re.findall(r'src="([^"]+)"', index)
    assert len(scripts) > 8
    assert not [address for address in scripts if "polyfill" in address or "dash_table" in address]
    for address in scripts:
        answer = phone.get(address, headers={"Accept-Encoding": "gzip"}, buffered=True)
        assert "immutable" in answer.headers["Cache-Control"], address
        if answer.headers.get("Content-Encoding") == "gzip":
            assert gzip.decompress(answer.data) == phone.get(address, buffered=True).data


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16", "utf-32"])
@pytest.mark.parametrize("path", ["/_dash-update-component", "/log", "/try", "/bench/keep", "/probe-keep"])
def test_deeply_nested_json_is_refused_with_400(
    phone: FlaskClient, path: str, encoding: str, caplog: pytest.LogCaptureFixture
) -> None:
    deep = 7000 if encoding == "utf-8" else 1500
    bodies = ["[" * deep, "[" * deep + "]" * deep, '{"output": "a.b", "inputs": ' + "[" * deep + "]" * deep + "}"]
    for body in bodies:
        answer = phone.post(path, data=body.encode(encoding), content_type="application/json", headers=OURS)
        assert answer.status_code == 400 and answer.text == "The request is nested too deeply."
    assert not caplog.records


def test_brackets_in_a_note_do_not_count_as_nesting(phone: FlaskClient, maker: Maker) -> None:
    text = '"[{' * 300
    answer = post(phone, "/log", {"cook": maker.path.stem, "kind": "note", "fields": {"text": text}})
    assert answer.status_code == 200 and load(maker.path).events_of("note")[-1].fields["text"] == text
