"""The pages of past cooks: the list, the replay without later knowledge, the time loss."""

import re
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from dashboard.app import make_app
from dashboard.figures import grid_for
from dashboard.replay import frame_of, known_at
from monitor.runtime.clock import JumpClock
from monitor.session import Cook, CookLibrary
from tests.dashboard.seeded import Maker

KEY = "a-key-for-tests"
INVENTED = Path(__file__).resolve().parents[2] / "recordings"


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
    grid = grid_for(history.started, end)
    # Into a folder of its own with the same neighbours, because a kitchen learns from the cooks before.
    place = tmp_path / "cut"
    place.mkdir()
    for other in folder.glob("*.cook"):
        if other != whole:
            shutil.copy(other, place)
    cut = Cook(cut_at(whole, moment, place))
    known = known_at(cook, moment, grid)
    # A cut recording looks unfinished, so its now is the clock's; it is asked for the same moment.
    assert known == known_at(_held(cut, moment), moment, grid)
    assert known["time"] == moment


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
    assert known_at(cook)["title"] == "Renamed"
    assert max(known["points"][::2]) <= 7000  # type: ignore[index]
    maker.recorder.close()


def test_the_frame_has_the_checks_and_when_the_cook_came_clear(folder: Path) -> None:
    cook = CookLibrary(folder).cook(names(folder)[1])
    frame = frame_of(cook)
    checks = [event for event in cook.history().events if event.kind == "checked"]
    assert frame["checks"] == [[round(event.measured), event.fields["result"]] for event in checks]
    assert frame["came_clear"] == [round(checks[-2].measured), round(checks[-1].measured)]
    moments = [one[0] for one in frame["moments"]]  # type: ignore[attr-defined]
    assert moments == sorted(moments)
    for event in checks:
        at = next(m for m in moments if m >= event.known)
        assert event.uid in [entry[0] for entry in known_at(cook, at)["events"]]  # type: ignore[attr-defined]


def test_the_list_shows_every_cook_and_reports_damaged_files(phone: FlaskClient, folder: Path) -> None:
    (folder / "2026-01-01T000000Z-wreck-0000.cook").write_bytes(b"no recording at all")
    text = phone.get("/cooks").text
    assert "Invented: a smooth cook" in text and f"/cooks/{names(folder)[-1]}" in text
    assert "2026-01-01T000000Z-wreck-0000.cook" in text and "Cannot be read: it is not a recording." in text
    wreck = phone.get("/cooks/2026-01-01T000000Z-wreck-0000")
    assert wreck.status_code == 503 and "cannot be shown" in wreck.text and "it is not a recording" in wreck.text


@pytest.mark.parametrize(
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
def test_search_by_oil_date_outcome_and_note(phone: FlaskClient, words: str, found: int) -> None:
    text = phone.get("/cooks", query_string={"words": words}).text
    assert len(re.findall(r"<li[^>]*data-cook", text)) == found
    assert ("No cook has" in text) == (found == 0)


def test_a_note_with_a_photograph_is_logged_and_found(phone: FlaskClient, folder: Path) -> None:
    name = names(folder)[0]
    fields = {"text": "skin on top, label peeled", "photo": "IMG_2041.jpg"}
    assert post(phone, "/log", {"cook": name, "kind": "note", "fields": fields})[0] == 200
    for words in ("peeled", "img_2041"):
        text = phone.get("/cooks", query_string={"words": words}).text
        assert re.findall(r'data-cook="([^"]+)"', text) == [name]
    assert "2 notes, 1 photograph" in text
    assert post(phone, "/log", {"cook": name, "kind": "note", "fields": {"text": "x", "photo": 5}})[0] == 400


def test_deleting_can_be_undone_for_a_day(phone: FlaskClient, folder: Path) -> None:
    name = names(folder)[1]
    before = (folder / f"{name}.cook").read_bytes()
    assert post(phone, "/cooks/delete", {"cook": name})[0] == 200
    assert name not in names(folder)
    text = phone.get("/cooks").text
    assert f'data-cook="{name}"' not in text and f'data-put-back="{name}"' in text
    assert phone.get(f"/cooks/{name}").status_code == 404
    assert post(phone, "/cooks/put-back", {"cook": name})[0] == 200
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


@pytest.mark.parametrize("against", ["", "ideal", "other"])
def test_where_the_time_went_adds_up_on_the_page(phone: FlaskClient, folder: Path, against: str) -> None:
    name = names(folder)[1]
    chosen = names(folder)[0] if against == "other" else against
    text = phone.get(f"/cooks/{name}/time", query_string={"against": chosen}).text
    assert "heat lost" in text and "Stir about every 35 minutes" in text
    told = CookLibrary(folder).cook(name).ledger(chosen or None)
    assert told is not None
    assert sum(entry.seconds for entry in told.losses) == pytest.approx(told.seconds, abs=1e-6)
    assert f"against {told.reference}".replace("'", "&#39;") in text
    spans = [(int(a), int(b)) for a, b in re.findall(r'data-begins="(\d+)" data-ends="(\d+)"', text)]
    assert spans and all(told.began - 1 <= a <= b <= told.ended + 1 for a, b in spans)


def test_the_time_loss_address_redirects_to_the_replay(phone: FlaskClient, folder: Path) -> None:
    name = names(folder)[1]
    led = phone.get(f"/cooks/{name}/time", headers={"Accept": "text/html,application/xhtml+xml,*/*;q=0.8"})
    assert led.status_code == 303 and led.location == f"/cooks/{name}"
    assert phone.get(f"/cooks/{name}/time", headers={"Accept": "*/*"}).status_code == 200


def test_a_doubt_about_the_main_cause_is_shown(
    phone: FlaskClient, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    name = names(folder)[1]
    assert "may have cost as much" not in phone.get(f"/cooks/{name}/time?against=ideal").text
    told = CookLibrary(folder).cook(name).ledger("ideal")
    assert told is not None
    doubtful = replace(told, losses=tuple(replace(one, variance_s2=1e8) for one in told.losses))
    monkeypatch.setattr("monitor.session.cook.Cook.ledger", lambda _cook, _against: doubtful)
    assert "late stirs" in (said := doubtful.in_doubt) and said in phone.get(f"/cooks/{name}/time").text


@pytest.mark.parametrize(
    "path", ["/cooks/monday", "/?cook=monday", "/probes/monday", "/record/monday", "/compare?cook=monday"]
)
def test_a_missing_cook_is_reported_without_file_names(phone: FlaskClient, path: str) -> None:
    text = phone.get(path).text
    assert "There is no cook of this name here" in text and "no such file" not in text and ".cook:" not in text


def test_the_usual_cook_needs_three_others(phone: FlaskClient, folder: Path) -> None:
    text = phone.get(f"/cooks/{names(folder)[0]}/time?against=usual").text
    assert "it takes 3 other ended cooks" in text


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
