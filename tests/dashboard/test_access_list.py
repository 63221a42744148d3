"""The list of phones: kept safely, changed by several processes, and what a phone or a link may do."""

import json
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient
from itsdangerous import TimestampSigner

from dashboard.access_control import PAIRING_LINK_VALID_S, Door, Doorkeeper
from dashboard.access_list import MOST_GUESTS, Book, BookError, tidy_name
from dashboard.app import make_app
from dashboard.hosts import Hosts
from monitor.runtime import SystemClock
from monitor.session import CookLibrary
from tests.dashboard.seeded import Maker

KEY = "a-key-for-tests"
OURS = {"Sec-Fetch-Site": "same-origin"}
NOW = 1_773_480_000.0


class Kitchen:
    """An application with its book in a folder."""

    def __init__(self, folder: Path) -> None:
        self.maker = Maker(folder, hours=0.05)
        self.book = Book(folder)
        self.complaints: list[str] = []
        door = Door(self.book, Hosts(["soap.example"], machine="kitchen"), self.complaints.append)
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
    adds = "import sys; from pathlib import Path; from dashboard.access_list import Book; b = Book(Path(sys.argv[1])); "
    adds += "[b.add(f'{sys.argv[2]} {n}', n) for n in range(12)]"
    root = Path(__file__).parents[2]
    writers = [subprocess.Popen([sys.executable, "-c", adds, str(tmp_path), str(n)], cwd=root) for n in range(4)]
    assert [writer.wait(60) for writer in writers] == [0] * 4
    assert {guest.name for guest in Book(tmp_path).guests()} == {f"{a} {b}" for a in range(4) for b in range(12)}


def test_a_damaged_list_lets_nobody_in_and_is_left_as_it_is(kitchen: Kitchen) -> None:
    phone = kitchen.phone()
    assert kitchen.book.path is not None
    for damaged in ("{", "[]", '{"guests": [{"id": 1}], "pin": null, "address": ""}', "[" * 100_000, "\ud800"):
        content = damaged.encode("utf-8", "surrogatepass")
        kitchen.book.path.write_bytes(content)
        for path in ("/", "/live?cook=x&since=", f"/?key={KEY}"):
            answer = phone.get(path)
            assert answer.status_code == 503 and answer.text.count(".") == 1
        assert kitchen.book.path.read_bytes() == content
        with pytest.raises(BookError, match="it is damaged"):
            kitchen.book.guests()
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
    first, second = kitchen.book.guests()
    assert (first.name, second.name) == ("Phone", "Tablet") and first.id != second.id
    # From another process's hand: another Book on the same file.
    assert Book(kitchen.maker.path.parent).forget(first.id)
    assert one.get(live + mark).status_code == one.get("/").status_code == 401
    assert other.get(live + mark).status_code == 200


def test_the_page_names_phones_and_shuts_them_out(kitchen: Kitchen) -> None:
    one, other = kitchen.phone(), kitchen.phone("iPad")
    first, second = kitchen.book.guests()
    assert "Tablet" in one.get("/phones").text and "(this one)" in one.get("/phones").text
    named = one.post("/phones/name", data={"id": second.id, "name": "<b>Hall"}, headers=OURS)
    assert named.status_code == 303 and "&lt;b&gt;Hall" in one.get("/phones").text
    assert one.post("/phones/forget", data={"id": second.id}, headers=OURS).status_code == 303
    assert other.get("/phones").status_code == 401
    assert kitchen.book.guests() == [first]
    assert (
        one.post("/phones/forget", data={"id": first.id}, headers={"Origin": "http://elsewhere.example"}).status_code
        == 403
    )


def test_one_phone_pairs_once(kitchen: Kitchen) -> None:
    phone = kitchen.phone()
    assert phone.get(f"/cooks?key={KEY}").headers["Location"] == "/cooks"
    assert len(kitchen.book.guests()) == 1


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
    for path in ("/log", "/back", "/earlier", "/begin", "/bench/keep", "/phones/pair", "/phones/link", "/nowhere"):
        assert guest.post(path, json={"cook": cook, "kind": "stirred"}, headers=OURS).status_code == 403, path
    assert guest.get("/phones").status_code == 403
    assert guest.post("/bench/work", json={}, headers=OURS).status_code == 400
    assert CookLibrary(kitchen.maker.path.parent).cook(cook).history().events == events
    (looker,) = (each for each in kitchen.book.guests() if each.looks_only)
    kitchen.book.forget(looker.id)
    assert guest.get("/").status_code == kitchen.stranger().get(link).status_code == 401


def test_a_link_ends_by_itself(kitchen: Kitchen, monkeypatch: pytest.MonkeyPatch) -> None:
    made = kitchen.phone().post("/phones/link", data={"hours": "4"}, headers=OURS)
    at = made.text.index("/look?with=")
    link = made.text[at : made.text.index('"', at)]
    guest = kitchen.stranger()
    guest.get(link)
    assert guest.get("/cooks").status_code == 200
    (looker,) = (each for each in kitchen.book.guests() if each.looks_only)
    assert looker.expires is not None and looker.expires - looker.made == 4 * 3600
    assert kitchen.book.guest(looker.id, looker.expires - 1) is not None
    assert kitchen.book.guest(looker.id, looker.expires) is None
    monkeypatch.setattr("dashboard.access_control.SystemClock.now", lambda self: looker.expires)
    assert guest.get("/cooks").status_code == kitchen.stranger().get(link).status_code == 401


@pytest.mark.parametrize(
    "link", ["/look", "/look?with=", "/look?with=paired", "/look?with=00000000.AAAA", "/look?with=%FF"]
)
def test_a_made_up_link_is_refused(kitchen: Kitchen, link: str) -> None:
    assert kitchen.stranger().get(link).status_code == 401


def test_a_phones_cookie_is_no_link(kitchen: Kitchen) -> None:
    kitchen.phone()
    (phone,) = kitchen.book.guests()
    assert kitchen.stranger().get(f"/look?with={phone.id}").status_code == 401


def test_a_paired_phone_shows_a_link_that_pairs_another_for_five_minutes(
    kitchen: Kitchen, monkeypatch: pytest.MonkeyPatch
) -> None:
    shown = kitchen.phone().post("/phones/pair", headers=OURS).text
    found = re.search(r'href="http://[^/]+(/pair\?with=[^"]+)"', shown)
    assert found is not None and KEY not in shown
    link = found[1]
    stranger = kitchen.stranger()
    assert stranger.get(link).status_code == 303 and stranger.get("/cooks").status_code == 200
    assert [guest.looks_only for guest in kitchen.book.guests()] == [False, False]
    for wrong in (link[:-1], link + "x", "/pair?with=", "/pair", "/pair?with=" + "\u00e9"):
        assert kitchen.stranger().get(wrong).status_code == 401
    told = TimestampSigner.get_timestamp
    for age_s, status in ((PAIRING_LINK_VALID_S - 10, 303), (PAIRING_LINK_VALID_S + 2, 401)):
        monkeypatch.setattr(TimestampSigner, "get_timestamp", lambda self, age_s=age_s: told(self) + age_s)
        assert kitchen.stranger().get(link).status_code == status, age_s


def test_a_link_to_look_pairs_nobody_and_one_to_pair_is_no_link_to_look(kitchen: Kitchen) -> None:
    keeper = Doorkeeper(KEY)
    looker = kitchen.book.add("Aunt", SystemClock().now(), valid_s=3600.0)
    look = keeper.link_to_look(looker).partition("=")[2]
    assert kitchen.stranger().get(f"/pair?with={look}").status_code == 401
    pair = keeper.link_to_pair().partition("=")[2]
    assert kitchen.stranger().get(f"/look?with={pair}").status_code == 401


def test_a_wrong_key_lets_nobody_in(kitchen: Kitchen) -> None:
    for wrong in ("", "000000", KEY[:-1], "\ud800"):
        answer = kitchen.stranger().post("/pair", data={"key": wrong.encode("utf-8", "surrogatepass")}, headers=OURS)
        assert answer.status_code == 401
    assert kitchen.stranger().post("/pair", data={"key": f" {KEY} "}, headers=OURS).status_code == 303


def test_a_list_of_before_with_a_pin_still_opens(tmp_path: Path) -> None:
    book = Book(tmp_path)
    phone = book.add("Big tablet", NOW)
    assert book.path is not None
    facts = json.loads(book.path.read_text(encoding="utf-8"))
    facts["pin"] = {"digits": "123456", "expires": NOW, "tries_left": 5}
    book.path.write_text(json.dumps(facts), encoding="utf-8")
    assert Book(tmp_path).guests() == [phone]


@pytest.mark.parametrize(
    "host",
    ["elsewhere.example", "kitchen.elsewhere.example", "localhost.elsewhere.example", "", "a b", "[::1", "1.2.3.4.5"],
)
@pytest.mark.parametrize("path", ["/", "/healthz", f"/?key={KEY}", "/live?cook=x&since="])
def test_another_sites_name_is_not_answered_to(kitchen: Kitchen, host: str, path: str) -> None:
    phone = kitchen.phone()
    answer = phone.get(path, headers={"Host": host})
    assert answer.status_code == 421 and "Set-Cookie" not in answer.headers


def test_a_poll_asks_for_the_name_too(kitchen: Kitchen) -> None:
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
    assert kitchen.book.path is not None
    facts = json.loads(kitchen.book.path.read_text(encoding="utf-8"))
    assert set(facts) == {"guests", "address"} and KEY not in json.dumps(facts)
