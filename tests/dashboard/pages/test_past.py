"""Past cooks: the list, a cook's page, its replay without later knowledge, the time loss."""

import json
import re
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from flask.testing import FlaskClient

from dashboard.app import make_app
from dashboard.live.replay import course_at, frame_of, known_at, what_came
from dashboard.live.replay_words import said_then
from dashboard.pages import cooks
from monitor.runtime.clock import JumpClock
from monitor.session import Cook, CookLibrary
from tests.dashboard.dash_requests import Part, answer_of, written
from tests.dashboard.seeded import Maker

KEY = "a-key-for-tests"
INVENTED = Path(__file__).resolve().parents[3] / "recordings"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The three invented cooks."""
    for path in INVENTED.glob("*.cook"):
        shutil.copy(path, tmp_path)
    return tmp_path


@pytest.fixture
def phone(folder: Path) -> Iterator[FlaskClient]:
    client = make_app(CookLibrary(folder), KEY).test_client()
    client.get(f"/?key={KEY}")
    yield client


def names(folder: Path) -> list[str]:
    return sorted(path.stem for path in folder.glob("*.cook"))


def post(client: FlaskClient, path: str, body: object) -> tuple[int, str]:
    answer = client.post(path, json=body, headers={"Sec-Fetch-Site": "same-origin"})
    return answer.status_code, answer.text


def cut_at(whole: Path, moment: float, place: Path) -> Path:
    """A copy of a recording that holds only what was known at ``moment`` (Unix seconds)."""
    cut = place / whole.name
    shutil.copy(whole, cut)
    with closing(sqlite3.connect(cut)) as connection, connection:
        connection.execute("DELETE FROM reading WHERE pack IN (SELECT id FROM pack WHERE known > ?)", (moment,))
        for table in ("pack", "event", "withdrawal", "sheet"):
            connection.execute(f"DELETE FROM {table} WHERE known > ?", (moment,))
        connection.execute("DELETE FROM about WHERE key = 'ended'")
    return cut


@pytest.mark.parametrize("share", [0.0, 0.02, 0.2, 0.41, 0.5, 0.66, 0.83, 0.97, 1.0])
@pytest.mark.parametrize("number", [0, 1, 2])
def test_a_replayed_moment_does_not_depend_on_later_data(
    folder: Path, tmp_path: Path, number: int, share: float
) -> None:
    whole = sorted(folder.glob("*.cook"))[number]
    cook = Cook(whole)
    history = cook.history()
    end = cook.now()
    moment = float(round(history.started + share * (end - history.started)))
    # Into a folder of its own with the same neighbours, because a kitchen learns from the cooks before.
    place = tmp_path / "cut"
    place.mkdir()
    for other in folder.glob("*.cook"):
        if other != whole:
            shutil.copy(other, place)
    cut = Cook(cut_at(whole, moment, place))
    known = known_at(cook, moment)
    # A cut recording looks unfinished, so its now is the clock's; it is asked for the same moment.
    assert known == known_at(_held(cut, moment), moment)
    assert known["time"] == moment
    axis = (history.started, end)
    assert course_at(cook, moment, axis, "UTC") == course_at(_held(cut, moment), moment, axis, "UTC")


def _held(cook: Cook, moment: float) -> Cook:
    """The cook with its end at ``moment``, as the page would take it from one still under way."""
    return _Held(cook, moment)  # type: ignore[return-value]


class _Held:
    def __init__(self, cook: Cook, moment: float) -> None:
        self._cook, self._moment = cook, moment

    def finished(self) -> float:
        return self._moment

    def now(self) -> float:
        return self._moment

    def __getattr__(self, name: str) -> object:
        return getattr(self._cook, name)


def test_late_readings_withdrawals_and_new_sheets_do_not_change_earlier_moments(tmp_path: Path) -> None:
    clock = JumpClock()
    maker = Maker(tmp_path, clock, hours=2.6)
    moment = maker.started + 7000
    later = maker.started + 9100
    maker.recorder.add_withdrawal(f"{maker.path.stem}-stirred-3800", later)
    maker.recorder.add_sheet(
        'title = "Renamed"\n[[oil]]\nname = "rapeseed"\ngrams = 500\n[alkali]\nkind = "KOH"\nassay = 0.9\nexcess = 0.05\n[water]\ngrams = 500\n',
        later,
    )
    maker.recorder.commit()
    cook = Cook(maker.path, lambda _: clock)
    known = known_at(cook, moment)
    assert known["title"] == "Kitchen batch"
    assert [entry[1] for entry in known["events"]].count("stirred") == 2  # type: ignore[attr-defined]
    assert known_at(cook, later)["title"] == "Renamed"
    paste = next(one for one in course_at(cook, moment, (maker.started, later), "UTC").data if one.name == "paste")
    assert (len(paste.y) - 1) * paste.dx / 1000 <= 7000
    maker.recorder.close()


def test_the_frame_has_the_checks_and_when_the_cook_came_clear(folder: Path) -> None:
    cook = CookLibrary(folder).cook(names(folder)[1])
    frame = frame_of(cook)
    checks = [event for event in cook.history().events if event.kind == "checked"]
    whole = what_came(cook)
    assert whole["checks"] == [[round(event.measured), event.fields["result"]] for event in checks]
    assert whole["came_clear"] == [round(checks[-2].measured), round(checks[-1].measured)]
    moments: Any = frame["moments"]
    assert moments == sorted(moments) and (moments[0], moments[-1]) == (frame["first"], frame["last"])
    for event in checks:
        at = next(m for m in moments if m >= event.known)
        assert event.uid in [entry[0] for entry in known_at(cook, at)["events"]]  # type: ignore[attr-defined]


def test_the_list_shows_every_cook_and_reports_damaged_files(phone: FlaskClient, folder: Path) -> None:
    (folder / "2026-01-01T000000Z-wreck-0000.cook").write_bytes(b"no recording at all")
    text = phone.get("/cooks").text
    assert "Invented: a smooth cook" in text and f'href="/cooks/{names(folder)[-1]}"' in text
    assert "Clear after 5 h 45 min, 6 checks, 1 note. " in text
    assert "2026-01-01T000000Z-wreck-0000.cook" in text and "Cannot be read: it is not a recording." in text
    wreck = phone.get("/cooks/2026-01-01T000000Z-wreck-0000")
    assert wreck.status_code == 503 and "it is not a recording" in wreck.text


SEARCHES = pytest.mark.parametrize(
    ("words", "found"),
    [
        ("coconut", 3),
        ("2026-05-09", 1),
        ("clear may", 3),
        ("power cut", 1),
        ("olive", 0),
        ("cloudy-cook", 0),
    ],
)


@SEARCHES
def test_search_by_oil_date_outcome_and_note(phone: FlaskClient, words: str, found: int) -> None:
    text = phone.get("/cooks", query_string={"words": words}).text
    assert len(re.findall(r"<li[^>]*data-cook", text)) == found
    assert ("No cook has" in text) == (found == 0)


@SEARCHES
def test_the_list_follows_what_is_typed(phone: FlaskClient, words: str, found: int) -> None:
    text = answer_of(phone, ("cook-list", "children"), {("cook-words", "value"): words})
    assert text.count('"data-cook":') == found and ("No cook has" in text) == (found == 0)


def test_a_long_list_shows_the_latest_and_the_way_to_all(tmp_path: Path) -> None:
    whole = next(INVENTED.glob("*smooth.cook"))
    for number in range(cooks.MOST_ROWS + 1):
        shutil.copy(whole, tmp_path / f"2026-01-01T{number:06d}Z-copy.cook")
    client = make_app(CookLibrary(tmp_path), KEY).test_client()
    client.get(f"/?key={KEY}")
    short, every = client.get("/cooks").text, client.get("/cooks?every=1").text
    assert short.count("data-cook=") == cooks.MOST_ROWS and f"Show all {cooks.MOST_ROWS + 1}" in short
    assert "000000Z-copy" not in short and every.count("data-cook=") == cooks.MOST_ROWS + 1


def verdicts_of(client: FlaskClient, asked: list[str]) -> dict[str, Any]:
    """What the list's judge answers, by its output."""
    ids = [{"verdict": name} for name in asked]
    body = {
        "output": '..{"verdict":["ALL"]}.children...judge.disabled..',
        "outputs": [
            [{"id": one, "property": "children"} for one in ids],
            {"id": "judge", "property": "disabled"},
        ],
        "inputs": [{"id": "judge", "property": "n_intervals", "value": 0}],
        "state": [[{"id": one, "property": "id", "value": one} for one in ids]],
        "changedPropIds": ["judge.n_intervals"],
    }
    answer = client.post("/_dash-update-component", json=body, headers={"Origin": "http://localhost"})
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.get_json()["response"]
    return found


def test_each_cook_gets_its_verdict(phone: FlaskClient, folder: Path) -> None:
    own = names(folder)
    found: dict[str, Any] = {}
    for _ in own:
        found = verdicts_of(phone, own)
    told = {json.loads(key)["verdict"]: value["children"] for key, value in found.items() if key != "judge"}
    assert told[own[1]] == "98 min heat lost" and set(told) == set(own) and found["judge"]["disabled"]


def test_a_verdict_takes_its_turn_where_there_is_no_time(
    phone: FlaskClient, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cooks, "JUDGE_FOR_S", -1.0)
    found = verdicts_of(phone, names(folder))
    assert not found["judge"]["disabled"] and len(found) == 2


def test_a_strip_is_one_scale_and_kept_by_the_browser(phone: FlaskClient, folder: Path) -> None:
    addresses = re.findall(r"url\((/cooks/[^)]*)\)", phone.get("/cooks").text)
    assert len(addresses) == 3 and {address.split("hours=")[1].split("&")[0] for address in addresses} == {"7"}
    drawn = phone.get(addresses[0].replace("&amp;", "&"))
    assert drawn.mimetype == "image/svg+xml" and "immutable" in drawn.headers["Cache-Control"]
    assert 'class="clear"' in drawn.text and "prefers-color-scheme:dark" in drawn.text and len(drawn.data) < 4000
    refused = phone.get(f"/cooks/{names(folder)[0]}/course.svg?hours=7000")
    assert refused.status_code == 400 and "no-store" in refused.headers["Cache-Control"]
    assert phone.get("/cooks/monday/course.svg?hours=7").status_code == 404


def test_a_note_is_kept_and_found(phone: FlaskClient, folder: Path) -> None:
    name = names(folder)[0]
    fields = {"text": "skin on top, label peeled", "photo": "IMG_2041.jpg"}
    assert post(phone, "/log", {"cook": name, "kind": "note", "fields": fields})[0] == 200
    for words in ("peeled", "img_2041"):
        text = phone.get("/cooks", query_string={"words": words}).text
        assert re.findall(r'data-cook="([^"]+)"', text) == [name]
    assert "2 notes, 1 photograph" in text
    # The name of a photograph, as older programs kept it, without the photograph.
    page = phone.get(f"/cooks/{name}").text
    assert "skin on top, label peeled" in page and "IMG_2041.jpg" in page
    assert post(phone, "/log", {"cook": name, "kind": "note", "fields": {"text": "x", "photo": 5}})[0] == 400


def test_deleting_can_be_undone_for_a_day(phone: FlaskClient, folder: Path) -> None:
    name = names(folder)[1]
    before = (folder / f"{name}.cook").read_bytes()
    assert "Yes, delete it" in phone.get(f"/cooks/{name}").text
    status, told = post(phone, "/cooks/delete", {"cook": name, "id": "11111111"})
    assert status == 200 and json.loads(told)["to"] == "/cooks"
    # The answer was lost, and the phone sends the same again.
    assert post(phone, "/cooks/delete", {"cook": name, "id": "11111111"})[0] == 200
    assert name not in names(folder)
    text = phone.get("/cooks").text
    assert f'data-cook="{name}"' not in text and "Deleted in the last day" in text and name in text
    assert phone.get(f"/cooks/{name}").status_code == 404
    for _ in range(2):
        assert post(phone, "/cooks/put-back", {"cook": name, "id": "22222222"})[0] == 200
    assert (folder / f"{name}.cook").read_bytes() == before
    assert phone.get(f"/cooks/{name}").status_code == 200
    status, words = post(phone, "/cooks/put-back", {"cook": name})
    assert status == 400 and "was not deleted within the last day" in words
    assert post(phone, "/cooks/delete", {"cook": "../etc/passwd"})[0] == 404


def test_a_running_cook_is_not_deleted(tmp_path: Path) -> None:
    maker = Maker(tmp_path, JumpClock(), hours=0.1)
    client = make_app(CookLibrary(tmp_path), KEY).test_client()
    client.get(f"/?key={KEY}")
    status, words = post(client, "/cooks/delete", {"cook": maker.path.stem})
    assert status == 400 and "it is running; finish it first" in words and maker.path.exists()
    maker.recorder.close()


def counted(client: FlaskClient, name: str, against: str | None) -> dict[str, Any]:
    """Where the time went, as the page's callback answers it, by its outputs."""
    chart = {"chart": "lost", "part": "data"}
    outputs: list[tuple[Part, str]] = [
        (chart, "data"),
        ("lost-total", "children"),
        ("lost-list", "children"),
        ("losses", "data"),
    ]
    body = {
        "output": f"..{'...'.join(f'{written(part)}.{prop}' for part, prop in outputs)}..",
        "outputs": [{"id": part, "property": prop} for part, prop in outputs],
        "inputs": [{"id": "against", "property": "data", "value": against}],
        "state": [{"id": "cook-name", "property": "data", "value": name}],
        "changedPropIds": ["against.data"],
    }
    answer = client.post("/_dash-update-component", json=body, headers={"Origin": "http://localhost"})
    assert answer.status_code == 200, answer.text
    response = answer.get_json()["response"]
    return {
        "chart": response[written(chart)]["data"],
        "total": response["lost-total"]["children"],
        "list": json.dumps(response["lost-list"]["children"], ensure_ascii=False),
        "losses": response["losses"]["data"],
    }


@pytest.mark.parametrize("against", [None, "ideal", "other"])
def test_where_the_time_went_adds_up_on_the_page(phone: FlaskClient, folder: Path, against: str | None) -> None:
    name = names(folder)[1]
    chosen = names(folder)[0] if against == "other" else against
    found = counted(phone, name, chosen)
    assert "heat lost" in found["list"] and "Stir about every 35 minutes" in found["list"]
    told = CookLibrary(folder).cook(name).ledger(chosen)
    assert told is not None
    assert sum(entry.seconds for entry in told.losses) == pytest.approx(told.seconds, abs=1e-6)
    assert f"against {told.reference}" in found["total"]
    drawn = found["chart"]["figure"]["data"][0]["customdata"]
    assert [place in [row[:2] for row in found["losses"]] for place in np.round(drawn).tolist()]
    assert all(told.began - 1 <= begin <= end <= told.ended + 1 for begin, end, _ in found["losses"])


def test_the_verdict_says_what_was_dearest(phone: FlaskClient, folder: Path) -> None:
    body = {
        "output": "..against-usual.children...dearest.children..",
        "outputs": [{"id": one, "property": "children"} for one in ("against-usual", "dearest")],
        "inputs": [{"id": "start", "property": "data", "value": True}],
        "state": [{"id": "cook-name", "property": "data", "value": names(folder)[1]}],
        "changedPropIds": ["start.data"],
    }
    said = phone.post("/_dash-update-component", json=body, headers={"Origin": "http://localhost"}).text
    assert "98 min heat lost" in said and "+2 h 16 min against an ideal cook" in said


def test_a_doubt_about_the_main_cause_is_shown(
    phone: FlaskClient, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    name = names(folder)[1]
    assert "may have cost as much" not in counted(phone, name, "ideal")["total"]
    told = CookLibrary(folder).cook(name).ledger("ideal")
    assert told is not None
    doubtful = replace(told, losses=tuple(replace(one, variance_s2=1e8) for one in told.losses))
    monkeypatch.setattr("monitor.session.cook.Cook.ledger", lambda _cook, _against: doubtful)
    assert "late stirs" in (said := doubtful.in_doubt) and said in counted(phone, name, "ideal")["total"]


def test_the_page_of_a_cook_begins_with_its_outcome_and_holds_sheet_log_and_ways(
    phone: FlaskClient, folder: Path
) -> None:
    name = names(folder)[1]
    text = phone.get(f"/cooks/{name}").text
    assert 'class="outcome">Clear after 5 h 45 min</p>' in text and "6 checks, 1 note" in text
    assert "coconut" in text and "140.0 g" in text and "Checked: clear" in text
    for way in (f"/record/{name}", f"/compare?cook={name}", "/cooks"):
        assert f'href="{way}"' in text
    # The slider and the chart are there before any script, with their height.
    assert 'type="range"' in text and 'style="height:320px"' in text


def test_a_moment_is_told_beside_what_came_of_it(phone: FlaskClient, folder: Path) -> None:
    name = names(folder)[1]
    cook = CookLibrary(folder).cook(name)
    answer = phone.get(f"/cooks/{name}/then", query_string={"t": cook.history().started + 2.4 * 3600})
    said: Any = answer.get_json()
    assert said["wrong-then"].startswith("Wrong then: The paste is cold")
    assert said["clear-came"] == "Clear at 15:03, not yet at 14:30: it came true."
    assert "likely" in said["clear-said"] and "paste 5" in said["glance"]
    # A phone on a slow line is to have it soon.
    assert len(answer.data) < 600
    assert phone.get(f"/cooks/{name}/then?t=soon").status_code == 400


@pytest.mark.parametrize(
    ("said", "came"),
    [
        ((50.0, 60.0, 70.0), "it came true"),
        ((120.0, 130.0, 140.0), "it was too late"),
        ((10.0, 20.0, 30.0), "it was too early"),
    ],
)
def test_a_stated_time_is_held_against_the_checks(
    said: tuple[float, float, float], came: str, phone: FlaskClient
) -> None:
    whole = {"came_clear": [40, 100], "stirs": [], "checks": [], "over": True}
    known: dict[str, Any] = dict.fromkeys(("stir_due", "check_due", "done", "converted", "chance_clear"))
    known |= {"stage": "cooking", "clear_at": list(said), "alarms": [], "time": 0.0, "paste_tenths_c": None}
    with phone.application.test_request_context():
        assert came in said_then(known, whole)["clear-came"]


def test_the_course_is_drawn_as_it_was_known_on_an_axis_that_stays(folder: Path) -> None:
    cook = CookLibrary(folder).cook(names(folder)[1])
    frame: Any = frame_of(cook)
    span, moment = (frame["begin"], frame["end"]), frame["first"] + 7200
    whole, then = course_at(cook, None, span, "UTC"), course_at(cook, moment, span, "UTC")
    assert tuple(whole.layout.xaxis.range) == tuple(then.layout.xaxis.range)
    expected = [[trace.name for trace in figure.data if trace.name] for figure in (whole, then)]
    assert "expected" not in expected[0] and {"expected", "clear time"} <= set(expected[1])
    paste = next(trace for trace in then.data if trace.name == "paste")
    assert len(paste.y) * paste.dx / 1000 <= moment - span[0] + 2 * paste.dx / 1000


@pytest.mark.parametrize(
    "path", ["/cooks/monday", "/?cook=monday", "/probes/monday", "/record/monday", "/compare?cook=monday"]
)
def test_a_missing_cook_is_reported_without_file_names(phone: FlaskClient, path: str) -> None:
    text = phone.get(path).text
    assert "There is no cook of this name here" in text and "no such file" not in text and ".cook:" not in text


def test_the_usual_cook_needs_three_others(phone: FlaskClient, folder: Path) -> None:
    assert "It takes 3 other ended cooks" in counted(phone, names(folder)[0], "usual")["total"]


def test_equal_cooks_coincide_in_equivalent_time(folder: Path) -> None:
    """The power cut costs hours on the clock and far less in equivalent time, in which both pastes need alike."""
    library = CookLibrary(folder)

    def later(way: str) -> float:
        clear = []
        for name in names(folder)[:2]:
            track = library.cook(name).track(way)
            assert track is not None and track.clear is not None
            clear.append(track.clear)
        return clear[1] / clear[0] - 1

    assert later("lid on") > 0.4 and abs(later("equivalent time")) < later("lid on") / 2


def test_an_empty_folder_is_reported(tmp_path: Path) -> None:
    client = make_app(CookLibrary(tmp_path), KEY).test_client()
    client.get(f"/?key={KEY}")
    assert "There is no cook yet." in client.get("/cooks").text
    # Werkzeug takes the escaped slashes for ones of the path, so that no cook's page is asked at all.
    assert "There is no such page." in client.get("/cooks/..%2f..%2fetc").text


def test_a_running_cook_has_its_course_with_what_is_expected_and_cannot_be_deleted(tmp_path: Path) -> None:
    clock = JumpClock()
    maker = Maker(tmp_path, clock, hours=2.0)
    library = CookLibrary(tmp_path, lambda _: clock)
    frame: Any = frame_of(library.cook(maker.path.stem))
    drawn = course_at(library.cook(maker.path.stem), None, (frame["begin"], frame["end"]), "Pacific/Auckland")
    assert "expected" in [trace.name for trace in drawn.data] and frame["end"] > frame["last"]
    client = make_app(library, KEY).test_client()
    client.get(f"/?key={KEY}")
    text = client.get(f"/cooks/{maker.path.stem}").text
    assert "Finish this cook" in text and "Yes, delete it" not in text and 'id="time"' not in text
    assert client.get(f"/cooks/{maker.path.stem}/then?t={maker.started + 5000}").status_code == 200
    maker.recorder.close()
