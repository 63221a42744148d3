"""The list of phones: kept safely, changed by several processes, and what a phone or a link may do."""

import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient

from dashboard.app import make_app
from dashboard.hosts import Hosts
from dashboard.pairing import Door, Doorkeeper
from dashboard.phones import MOST_GUESTS, PIN_TRIES, PIN_VALID_S, Book, BookError, tidy_name
from dashboard.throttle import Throttle
from monitor.session import CookLibrary
from tests.dashboard.seeded import Maker

KEY = "a-key-for-tests"
OURS = {"Sec-Fetch-Site": "same-origin"}
NOW = 1_773_480_000.0


class Kitchen:
    """An application with its book in a folder, and the PINs that it showed."""

    def __init__(self, folder: Path) -> None:
        self.maker = Maker(folder, hours=0.05)
        self.calibration_log = Book(folder)
        self.shown: list[str] = []
        self.complaints: list[str] = []
        door = Door(
            self.calibration_log, Hosts(["soap.example"], machine="kitchen"), self.shown.append, self.complaints.append
        )
        self.app: Flask = make_app(CookLibrary(folder), KEY, door)

    def stranger(self) -> FlaskClient:
        return self.app.test_client()

    def phone(self, agent: str = "Android") -> FlaskClient:
        client = self.stranger()
        assert client.get(f"/?key={KEY}", headers={"User-Agent": agent}).status_code == 303
        return client


@pytest.fixture
def kitchen(tmp_path: Path) -> Iterator[Kitchen]:
    made = Kitchen(tmp_path)
    yield made
    made.maker.recorder.close()


def test_the_list_is_its_owners_alone_and_survives(tmp_path: Path) -> None:
    book = Book(tmp_path)
    phone = book.add("Big tablet", NOW)
    assert book.path is not None
    assert book.path.stat().st_mode & 0o777 == 0o600
    assert book.path.parent.stat().st_mode & 0o777 == 0o700
    assert Book(tmp_path).guests() == [phone]
    assert sorted(path.name for path in book.path.parent.iterdir()) == ["phones.json", "phones.lock"]


def test_several_processes_write_at_once_and_nothing_is_lost(tmp_path: Path) -> None:
    adds = "import sys; from pathlib import Path; from dashboard.phones import Book; b = Book(Path(sys.argv[1])); "
    adds += "[b.add(f'{sys.argv[2]} {n}', n) for n in range(12)]"
    root = Path(__file__).parents[2]
    writers = [subprocess.Popen([sys.executable, "-c", adds, str(tmp_path), str(n)], cwd=root) for n in range(4)]
    assert [writer.wait(60) for writer in writers] == [0] * 4
    assert {guest.name for guest in Book(tmp_path).guests()} == {f"{a} {b}" for a in range(4) for b in range(12)}


def test_a_damaged_list_lets_nobody_in_and_is_left_as_it_is(kitchen: Kitchen) -> None:
    phone = kitchen.phone()
    assert kitchen.calibration_log.path is not None
    for damaged in ("{", "[]", '{"guests": [{"id": 1}], "pin": null, "address": ""}', "[" * 100_000, "\ud800"):
        content = damaged.encode("utf-8", "surrogatepass")
        kitchen.calibration_log.path.write_bytes(content)
        for path in ("/", "/live?cook=x&since=", f"/?key={KEY}"):
            answer = phone.get(path)
            assert answer.status_code == 503 and answer.text.count(".") == 1
        assert kitchen.calibration_log.path.read_bytes() == content
        with pytest.raises(BookError, match="it is damaged"):
            kitchen.calibration_log.guests()
    assert all("damaged" in words for words in kitchen.complaints)


def test_the_list_has_an_end(tmp_path: Path) -> None:
    book = Book(None)
    for second in range(MOST_GUESTS + 3):
        book.add(str(second), NOW + second)
    assert [guest.name for guest in book.guests()] == [str(n) for n in range(3, MOST_GUESTS + 3)]
    assert len(tidy_name("x" * 5000)) == 60


def test_a_phone_that_is_shut_out_is_out_at_once(kitchen: Kitchen) -> None:
    one, other = kitchen.phone(), kitchen.phone("iPad")
    live = f"/live?cook={kitchen.maker.path.stem}&since="
    mark = one.get(live).get_json()["cursor"]
    assert one.get(live + mark).status_code == other.get(live + mark).status_code == 200
    first, second = kitchen.calibration_log.guests()
    assert (first.name, second.name) == ("Phone", "Tablet") and first.id != second.id
    # From another process's hand: another Book on the same file.
    assert Book(kitchen.maker.path.parent).forget(first.id)
    assert one.get(live + mark).status_code == one.get("/").status_code == 401
    assert other.get(live + mark).status_code == 200


def test_the_page_names_phones_and_shuts_them_out(kitchen: Kitchen) -> None:
    one, other = kitchen.phone(), kitchen.phone("iPad")
    first, second = kitchen.calibration_log.guests()
    assert "Tablet" in one.get("/phones").text and "(this one)" in one.get("/phones").text
    named = one.post("/phones/name", data={"id": second.id, "name": "<b>Hall"}, headers=OURS)
    assert named.status_code == 303 and "&lt;b&gt;Hall" in one.get("/phones").text
    assert one.post("/phones/forget", data={"id": second.id}, headers=OURS).status_code == 303
    assert other.get("/phones").status_code == 401
    assert kitchen.calibration_log.guests() == [first]
    assert (
        one.post("/phones/forget", data={"id": first.id}, headers={"Origin": "http://elsewhere.example"}).status_code
        == 403
    )


def test_one_phone_pairs_once(kitchen: Kitchen) -> None:
    phone = kitchen.phone()
    assert phone.get(f"/cooks?key={KEY}").headers["Location"] == "/cooks"
    assert len(kitchen.calibration_log.guests()) == 1


def test_a_link_lets_look_and_not_log(kitchen: Kitchen) -> None:
    made = kitchen.phone().post("/phones/link", data={"hours": "24", "name": "Aunt"}, headers=OURS)
    at = made.text.index("/look?with=")
    link = made.text[at : made.text.index('"', at)]
    guest = kitchen.stranger()
    arrived = guest.get(link)
    assert arrived.status_code == 303 and arrived.headers["Location"] == "/"
    assert "HttpOnly" in arrived.headers["Set-Cookie"] and "Max-Age=86" in arrived.headers["Set-Cookie"]
    cook = kitchen.maker.path.stem
    for path in (
        "/",
        "/cooks",
        f"/cooks/{cook}",
        f"/at?cook={cook}",
        f"/live?cook={cook}",
        "/bench",
        f"/record/{cook}",
    ):
        assert guest.get(path).status_code == 200, path
    assert 'data-may="look"' in guest.get("/").text and 'data-may="look"' in guest.get("/bench").text
    owner = kitchen.phone()
    for path, offer in (("/cooks", 'href="/phones"'), (f"/cooks/{cook}", 'id="note"')):
        assert offer in owner.get(path).text and offer not in guest.get(path).text, path
    events = CookLibrary(kitchen.maker.path.parent).cook(cook).history().events
    for path in ("/log", "/back", "/earlier", "/begin", "/bench/keep", "/phones/pin", "/phones/link", "/nowhere"):
        assert guest.post(path, json={"cook": cook, "kind": "stirred"}, headers=OURS).status_code == 403, path
    assert guest.get("/phones").status_code == 403
    assert guest.post("/bench/work", json={}, headers=OURS).status_code == 400
    assert CookLibrary(kitchen.maker.path.parent).cook(cook).history().events == events
    (looker,) = (each for each in kitchen.calibration_log.guests() if each.looks_only)
    kitchen.calibration_log.forget(looker.id)
    assert guest.get("/").status_code == kitchen.stranger().get(link).status_code == 401


def test_a_link_ends_by_itself(kitchen: Kitchen, monkeypatch: pytest.MonkeyPatch) -> None:
    made = kitchen.phone().post("/phones/link", data={"hours": "4"}, headers=OURS)
    at = made.text.index("/look?with=")
    link = made.text[at : made.text.index('"', at)]
    guest = kitchen.stranger()
    guest.get(link)
    assert guest.get("/cooks").status_code == 200
    (looker,) = (each for each in kitchen.calibration_log.guests() if each.looks_only)
    assert looker.expires is not None and looker.expires - looker.made == 4 * 3600
    assert kitchen.calibration_log.guest(looker.id, looker.expires - 1) is not None
    assert kitchen.calibration_log.guest(looker.id, looker.expires) is None
    monkeypatch.setattr("dashboard.pairing.SystemClock.now", lambda self: looker.expires)
    assert guest.get("/cooks").status_code == kitchen.stranger().get(link).status_code == 401


@pytest.mark.parametrize(
    "link", ["/look", "/look?with=", "/look?with=paired", "/look?with=00000000.AAAA", "/look?with=%FF"]
)
def test_a_made_up_link_is_refused(kitchen: Kitchen, link: str) -> None:
    assert kitchen.stranger().get(link).status_code == 401


def test_a_phones_cookie_is_no_link(kitchen: Kitchen) -> None:
    kitchen.phone()
    (phone,) = kitchen.calibration_log.guests()
    assert kitchen.stranger().get(f"/look?with={phone.id}").status_code == 401


def test_a_pin_pairs_once_and_for_five_minutes() -> None:
    book = Book(None)
    digits = book.new_pin(NOW)
    assert len(digits) == 6 and digits.isdecimal()
    assert book.take_pin(digits, NOW + PIN_VALID_S - 1)
    assert not book.take_pin(digits, NOW)
    assert not book.take_pin(book.new_pin(NOW), NOW + PIN_VALID_S)
    assert len({book.new_pin(NOW) for _ in range(50)}) > 40


def test_a_pin_bears_few_wrong_tries(tmp_path: Path) -> None:
    book = Book(tmp_path)
    digits = book.new_pin(NOW)
    wrong = f"{(int(digits) + 1) % 10**6:06d}"
    for _ in range(PIN_TRIES):
        # A server that starts again counts on.
        assert not Book(tmp_path).take_pin(wrong, NOW)
    assert not Book(tmp_path).take_pin(digits, NOW)


def test_a_pin_that_was_asked_for_is_shown_where_it_runs_and_lets_in(kitchen: Kitchen) -> None:
    stranger = kitchen.stranger()
    asked = stranger.post("/pin", headers=OURS)
    assert asked.status_code == 200 and kitchen.shown[0] not in asked.text
    again = stranger.post("/pin", headers=OURS)
    assert again.status_code == 200 and stranger.post("/pin", headers=OURS).status_code == 429
    digits = kitchen.shown[-1]
    assert stranger.post("/pair", data={"key": f"{digits[:3]} {digits[3:]}"}, headers=OURS).status_code == 303
    assert stranger.get("/cooks").status_code == 200
    assert kitchen.stranger().post("/pair", data={"key": digits}, headers=OURS).status_code == 401


def test_guessing_is_slowed_for_one_address_and_for_all(kitchen: Kitchen) -> None:
    def guess(address: str) -> int:
        asked = kitchen.stranger().post(
            "/pair", data={"key": "000000"}, headers=OURS, environ_base={"REMOTE_ADDR": address}
        )
        return asked.status_code

    assert [guess("192.0.2.1") for _ in range(5)] == [401, 401, 401, 401, 429]
    assert guess("192.0.2.2") == 401
    answers = [guess(f"198.51.100.{n}") for n in range(30)]
    assert answers[0] == 401 and answers[-1] == 429
    # Who has the key itself is not kept waiting by those who have not.
    told = {"data": {"key": KEY}, "headers": OURS, "environ_base": {"REMOTE_ADDR": "192.0.2.1"}}
    assert kitchen.stranger().post("/pair", **told).status_code == 303


def test_waits_double_have_an_end_and_are_forgotten() -> None:
    throttle = Throttle(free=2, first_s=1.0, longest_s=10.0)
    waits = []
    for _ in range(8):
        throttle.failed("a", 0.0)
        waits.append(throttle.wait_s("a", 0.0))
    assert waits == [0.0, 0.0, 1.0, 2.0, 4.0, 8.0, 10.0, 10.0]
    throttle.failed("a", 4000.0)
    assert throttle.wait_s("a", 4000.0) == 0.0
    for number in range(5000):
        throttle.failed(str(number), 9000.0)
    assert len(throttle._by_address) <= 1024


@pytest.mark.parametrize(
    "host",
    ["elsewhere.example", "kitchen.elsewhere.example", "localhost.elsewhere.example", "", "a b", "[::1", "1.2.3.4.5"],
)
@pytest.mark.parametrize("path", ["/", "/healthz", f"/?key={KEY}", "/live?cook=x&since="])
def test_another_sites_name_is_not_answered_to(kitchen: Kitchen, host: str, path: str) -> None:
    phone = kitchen.phone()
    answer = phone.get(path, headers={"Host": host})
    assert answer.status_code == 421 and "Set-Cookie" not in answer.headers


def test_the_short_way_asks_for_the_name_too(kitchen: Kitchen) -> None:
    phone = kitchen.phone()
    live = f"/live?cook={kitchen.maker.path.stem}&since="
    mark = phone.get(live).get_json()["cursor"]
    assert phone.get(live + mark).status_code == 200
    cookie = phone.get_cookie(Doorkeeper(KEY).cookie_name)
    assert cookie is not None
    headers = {"Cookie": f"{cookie.key}={cookie.value}"}
    bare = kitchen.app.test_client(use_cookies=False)
    assert bare.get(live + mark, headers=headers).status_code == 200
    assert bare.get(live + mark, headers={**headers, "Host": "elsewhere.example"}).status_code == 421


@pytest.mark.parametrize(
    "host",
    [
        "soap.example",
        "kitchen",
        "KITCHEN.local:8050",
        "kitchen.home.arpa",
        "192.0.2.1",
        "[2001:db8::1]:8050",
        "localhost:1",
    ],
)
def test_its_own_names_are_answered_to(kitchen: Kitchen, host: str) -> None:
    assert kitchen.stranger().get("/healthz", headers={"Host": host}).status_code == 200


def test_addresses_and_methods_have_bounds(kitchen: Kitchen) -> None:
    stranger = kitchen.stranger()
    assert stranger.get("/" + "x" * 3000).status_code == stranger.get("/?a=" + "x" * 3000).status_code == 414
    assert stranger.open("/", method="DELETE").status_code == 405
    assert kitchen.phone().post("/log", data=b"x" * 20_000, headers=OURS).status_code in (400, 413)


def test_the_list_file_is_plain_and_holds_no_key(kitchen: Kitchen) -> None:
    kitchen.phone()
    assert kitchen.calibration_log.path is not None
    facts = json.loads(kitchen.calibration_log.path.read_text(encoding="utf-8"))
    assert set(facts) == {"guests", "pin", "address"} and KEY not in json.dumps(facts)
