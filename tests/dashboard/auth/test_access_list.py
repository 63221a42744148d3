"""The access list: stored safely, changed by several processes, and what a phone or a link may do."""

import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient
from itsdangerous import TimestampSigner

from dashboard.app import make_app
from dashboard.auth.access_control import PAIRING_LINK_VALID_S, AccessSettings, RequestGuard
from dashboard.auth.access_list import MAX_GRANTS, AccessList, AccessListError, tidy_name
from dashboard.auth.hosts import AllowedHosts
from monitor.runtime import SystemClock
from monitor.session import CookLibrary
from tests.dashboard.dash_requests import answer_of, page_of, written
from tests.dashboard.seeded import Maker

KEY = "a-key-for-tests"
OURS = {"Sec-Fetch-Site": "same-origin"}
NOW = 1_773_480_000.0


class Kitchen:
    """An application with its access list in a folder."""

    def __init__(self, folder: Path) -> None:
        self.maker = Maker(folder, hours=0.05)
        self.access_list = AccessList(folder)
        self.complaints: list[str] = []
        settings = AccessSettings(
            self.access_list, AllowedHosts(["soap.example"], machine="kitchen"), self.complaints.append
        )
        self.app: Flask = make_app(CookLibrary(folder), KEY, settings)

    def unpaired(self) -> FlaskClient:
        return self.app.test_client()

    def phone(self, agent: str = "Android") -> FlaskClient:
        client = self.unpaired()
        assert client.get(f"/?key={KEY}", headers={"User-Agent": agent}).status_code == 303
        return client


def view_link(owner: FlaskClient, hours: int = 24) -> str:
    """The path of a new view-only link."""
    made = owner.post("/phones/link", json={"hours": hours, "name": "Aunt"}, headers=OURS)
    return str(made.get_json()["link"]).removeprefix("http://localhost")


@pytest.fixture
def kitchen(tmp_path: Path) -> Iterator[Kitchen]:
    made = Kitchen(tmp_path)
    yield made
    made.maker.recorder.close()


def test_the_list_is_private_to_its_owner_and_persistent(tmp_path: Path) -> None:
    access_list = AccessList(tmp_path)
    phone = access_list.add("Big tablet", NOW)
    assert access_list.path is not None
    assert access_list.path.stat().st_mode & 0o777 == 0o600
    assert access_list.path.parent.stat().st_mode & 0o777 == 0o700
    assert AccessList(tmp_path).grants() == [phone]
    assert sorted(path.name for path in access_list.path.parent.iterdir()) == ["phones.json", "phones.lock"]


def test_several_processes_can_write_at_once_without_a_loss(tmp_path: Path) -> None:
    adds = "import sys; from pathlib import Path; from dashboard.auth.access_list import AccessList; b = AccessList(Path(sys.argv[1])); "
    adds += "[b.add(f'{sys.argv[2]} {n}', n) for n in range(12)]"
    root = Path(__file__).parents[3]
    writers = [subprocess.Popen([sys.executable, "-c", adds, str(tmp_path), str(n)], cwd=root) for n in range(4)]
    assert [writer.wait(60) for writer in writers] == [0] * 4
    assert {grant.name for grant in AccessList(tmp_path).grants()} == {f"{a} {b}" for a in range(4) for b in range(12)}


def test_a_damaged_list_admits_nobody_and_is_not_overwritten(kitchen: Kitchen) -> None:
    phone = kitchen.phone()
    assert kitchen.access_list.path is not None
    for damaged in ("{", "[]", '{"guests": [{"id": 1}], "pin": null, "address": ""}', "[" * 100_000, "\ud800"):
        content = damaged.encode("utf-8", "surrogatepass")
        kitchen.access_list.path.write_bytes(content)
        for path in ("/", "/live?cook=x&since=", f"/?key={KEY}"):
            answer = phone.get(path)
            assert answer.status_code == 503 and answer.text.count(".") == 1
        assert kitchen.access_list.path.read_bytes() == content
        with pytest.raises(AccessListError, match="it is damaged"):
            kitchen.access_list.grants()
    assert all("damaged" in words for words in kitchen.complaints)


def test_the_list_is_bounded(tmp_path: Path) -> None:
    access_list = AccessList(None)
    for second in range(MAX_GRANTS + 3):
        access_list.add(str(second), NOW + second)
    assert [grant.name for grant in access_list.grants()] == [str(n) for n in range(3, MAX_GRANTS + 3)]
    assert len(tidy_name("x" * 5000)) == 60


def test_a_revoked_phone_is_refused_at_once(kitchen: Kitchen) -> None:
    one, other = kitchen.phone(), kitchen.phone("iPad")
    live = f"/live?cook={kitchen.maker.path.stem}&since="
    mark = one.get(live).get_json()["cursor"]
    assert one.get(live + mark).status_code == other.get(live + mark).status_code == 200
    first, second = kitchen.access_list.grants()
    assert (first.name, second.name) == ("Phone", "Tablet") and first.id != second.id
    # Another AccessList on the same file, as another process has it.
    assert AccessList(kitchen.maker.path.parent).revoke(first.id)
    assert one.get(live + mark).status_code == one.get("/").status_code == 401
    assert other.get(live + mark).status_code == 200


def test_the_page_renames_and_revokes_phones(kitchen: Kitchen) -> None:
    one, other = kitchen.phone(), kitchen.phone("iPad")
    first, second = kitchen.access_list.grants()
    assert "Tablet" in one.get("/phones").text and "(this one)" in one.get("/phones").text
    named = one.post("/phones/name", json={"grant": second.id, "name": "<b>Hall"}, headers=OURS)
    assert named.get_json() == {"to": "/phones"}
    assert "&lt;b&gt;Hall" in one.get("/phones").text and "<b>Hall" not in one.get("/phones").text
    assert one.post("/phones/forget", json={"grant": second.id}, headers=OURS).status_code == 200
    assert other.get("/phones").status_code == 401
    assert kitchen.access_list.grants() == [first]
    elsewhere = {"Origin": "http://elsewhere.example"}
    assert one.post("/phones/forget", json={"grant": first.id}, headers=elsewhere).status_code == 403
    wrongs: list[object] = [{"grant": 1}, {"grant": first.id, "name": None}, []]
    for wrong in wrongs:
        assert one.post("/phones/name", json=wrong, headers=OURS).status_code == 400


def test_a_view_only_phone_learns_nothing_of_others_through_a_callback(kitchen: Kitchen) -> None:
    owner, viewer = kitchen.phone("iPad"), kitchen.unpaired()
    link = view_link(owner)
    viewer.get(link)
    for path in ("/phones", "//phones", "/phones/", "/phones?", "/set-up/push", "/set-up/tls"):
        answer = page_of(viewer, path)
        assert "Tablet" not in answer and "shut out" not in answer.lower(), path
    assert "lets look, not change" in page_of(viewer, "/phones") and "Tablet" in page_of(owner, "/phones")
    made = {"ok": True, "answer": {"link": "http://localhost/pair?with=x"}}
    sent = {(written({"send": "pair", "part": "sent"}), "data"): made}
    # Dash sends ids that are mappings as text.
    assert "pair?with" in answer_of(owner, ("pairing-link", "children"), sent)
    assert "pair?with" not in answer_of(viewer, ("pairing-link", "children"), sent)


def test_a_paired_phone_is_not_paired_again(kitchen: Kitchen) -> None:
    phone = kitchen.phone()
    assert phone.get(f"/cooks?key={KEY}").headers["Location"] == "/cooks"
    assert len(kitchen.access_list.grants()) == 1


def test_a_view_only_link_allows_reading_and_no_logging(kitchen: Kitchen) -> None:
    link = view_link(kitchen.phone())
    viewer = kitchen.unpaired()
    arrived = viewer.get(link)
    assert arrived.status_code == 303 and arrived.headers["Location"] == "/"
    assert "HttpOnly" in arrived.headers["Set-Cookie"] and "Max-Age=86" in arrived.headers["Set-Cookie"]
    cook = kitchen.maker.path.stem
    for path in (
        "/",
        "/cooks",
        f"/cooks/{cook}",
        f"/cooks/{cook}/then?t=5",
        f"/live?cook={cook}",
        "/bench",
        f"/record/{cook}",
    ):
        assert viewer.get(path).status_code == 200, path
    assert 'data-may="look"' in viewer.get("/").text and 'data-may="look"' in viewer.get("/bench").text
    owner = kitchen.phone()
    for path, offer in (("/set-up", 'href="/phones"'), (f"/cooks/{cook}", 'id="note"')):
        assert offer in owner.get(path).text and offer not in viewer.get(path).text, path
    events = CookLibrary(kitchen.maker.path.parent).cook(cook).history().events
    for path in ("/log", "/back", "/earlier", "/begin", "/bench/keep", "/phones/pair", "/phones/link", "/nowhere"):
        assert viewer.post(path, json={"cook": cook, "kind": "stirred"}, headers=OURS).status_code == 403, path
    assert viewer.get("/phones").status_code == 403
    assert viewer.post("/_dash-update-component", json={}, headers=OURS).status_code == 400
    assert CookLibrary(kitchen.maker.path.parent).cook(cook).history().events == events
    (link_grant,) = (each for each in kitchen.access_list.grants() if each.view_only)
    kitchen.access_list.revoke(link_grant.id)
    assert viewer.get("/").status_code == kitchen.unpaired().get(link).status_code == 401


def test_a_view_only_link_expires(kitchen: Kitchen, monkeypatch: pytest.MonkeyPatch) -> None:
    link = view_link(kitchen.phone(), 4)
    viewer = kitchen.unpaired()
    viewer.get(link)
    assert viewer.get("/cooks").status_code == 200
    (link_grant,) = (each for each in kitchen.access_list.grants() if each.view_only)
    assert link_grant.expires is not None and link_grant.expires - link_grant.created == 4 * 3600
    assert kitchen.access_list.grant(link_grant.id, link_grant.expires - 1) is not None
    assert kitchen.access_list.grant(link_grant.id, link_grant.expires) is None
    monkeypatch.setattr("dashboard.auth.access_control.SystemClock.now", lambda self: link_grant.expires)
    assert viewer.get("/cooks").status_code == kitchen.unpaired().get(link).status_code == 401


def test_a_link_whose_answer_was_lost_is_made_once(kitchen: Kitchen) -> None:
    owner = kitchen.phone()
    asked = {"hours": 24, "name": "Aunt", "id": "an-id-of-the-tap"}
    first, again = (owner.post("/phones/link", json=asked, headers=OURS).get_json() for _ in range(2))
    assert first == again
    other = owner.post("/phones/link", json={**asked, "id": "another"}, headers=OURS).get_json()
    assert other != first and len([grant for grant in kitchen.access_list.grants() if grant.view_only]) == 2
    for hours in (0, 23, "24", None, True, 1e9):
        assert owner.post("/phones/link", json={"hours": hours}, headers=OURS).status_code == 400


@pytest.mark.parametrize(
    "link", ["/look", "/look?with=", "/look?with=paired", "/look?with=00000000.AAAA", "/look?with=%FF"]
)
def test_a_forged_link_is_refused(kitchen: Kitchen, link: str) -> None:
    assert kitchen.unpaired().get(link).status_code == 401


def test_a_phones_id_is_not_a_link(kitchen: Kitchen) -> None:
    kitchen.phone()
    (phone,) = kitchen.access_list.grants()
    assert kitchen.unpaired().get(f"/look?with={phone.id}").status_code == 401


def test_a_pairing_link_is_valid_for_five_minutes(kitchen: Kitchen, monkeypatch: pytest.MonkeyPatch) -> None:
    shown = kitchen.phone().post("/phones/pair", json={}, headers=OURS).get_json()["link"]
    assert shown.startswith("http://localhost/pair?with=") and KEY not in shown
    link = shown.removeprefix("http://localhost")
    unpaired = kitchen.unpaired()
    assert unpaired.get(link).status_code == 303 and unpaired.get("/cooks").status_code == 200
    assert [grant.view_only for grant in kitchen.access_list.grants()] == [False, False]
    for wrong in (link[:-1], link + "x", "/pair?with=", "/pair", "/pair?with=" + "\u00e9"):
        assert kitchen.unpaired().get(wrong).status_code == 401
    told = TimestampSigner.get_timestamp
    for age_s, status in ((PAIRING_LINK_VALID_S - 10, 303), (PAIRING_LINK_VALID_S + 2, 401)):
        monkeypatch.setattr(TimestampSigner, "get_timestamp", lambda self, age_s=age_s: told(self) + age_s)
        assert kitchen.unpaired().get(link).status_code == status, age_s


def test_view_only_links_and_pairing_links_are_not_interchangeable(kitchen: Kitchen) -> None:
    guard = RequestGuard(KEY)
    link_grant = kitchen.access_list.add("Aunt", SystemClock().now(), valid_s=3600.0)
    look = guard.view_link(link_grant).partition("=")[2]
    assert kitchen.unpaired().get(f"/pair?with={look}").status_code == 401
    pair = guard.pairing_link().partition("=")[2]
    assert kitchen.unpaired().get(f"/look?with={pair}").status_code == 401


def test_a_wrong_key_pairs_nobody(kitchen: Kitchen) -> None:
    for wrong in ("", "000000", KEY[:-1], "\ud800"):
        answer = kitchen.unpaired().post("/pair", data={"key": wrong.encode("utf-8", "surrogatepass")}, headers=OURS)
        assert answer.status_code == 401
    assert kitchen.unpaired().post("/pair", data={"key": f" {KEY} "}, headers=OURS).status_code == 303


def test_a_list_of_an_earlier_version_with_a_pin_is_read(tmp_path: Path) -> None:
    access_list = AccessList(tmp_path)
    phone = access_list.add("Big tablet", NOW)
    assert access_list.path is not None
    facts = json.loads(access_list.path.read_text(encoding="utf-8"))
    facts["pin"] = {"digits": "123456", "expires": NOW, "tries_left": 5}
    access_list.path.write_text(json.dumps(facts), encoding="utf-8")
    assert AccessList(tmp_path).grants() == [phone]


@pytest.mark.parametrize(
    "host",
    ["elsewhere.example", "kitchen.elsewhere.example", "localhost.elsewhere.example", "", "a b", "[::1", "1.2.3.4.5"],
)
@pytest.mark.parametrize("path", ["/", "/healthz", f"/?key={KEY}", "/live?cook=x&since="])
def test_an_unknown_host_is_refused(kitchen: Kitchen, host: str, path: str) -> None:
    phone = kitchen.phone()
    answer = phone.get(path, headers={"Host": host})
    assert answer.status_code == 421 and "Set-Cookie" not in answer.headers


def test_a_poll_with_an_unknown_host_is_refused(kitchen: Kitchen) -> None:
    phone = kitchen.phone()
    live = f"/live?cook={kitchen.maker.path.stem}&since="
    mark = phone.get(live).get_json()["cursor"]
    assert phone.get(live + mark).status_code == 200
    cookie = phone.get_cookie(RequestGuard(KEY).cookie_name)
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
def test_the_machines_own_host_names_are_accepted(kitchen: Kitchen, host: str) -> None:
    assert kitchen.unpaired().get("/healthz", headers={"Host": host}).status_code == 200


def test_long_addresses_and_other_methods_are_refused(kitchen: Kitchen) -> None:
    unpaired = kitchen.unpaired()
    assert unpaired.get("/" + "x" * 3000).status_code == unpaired.get("/?a=" + "x" * 3000).status_code == 414
    assert unpaired.open("/", method="DELETE").status_code == 405
    assert kitchen.phone().post("/log", data=b"x" * 20_000, headers=OURS).status_code in (400, 413)


def test_the_list_is_plain_json_without_the_key(kitchen: Kitchen) -> None:
    kitchen.phone()
    assert kitchen.access_list.path is not None
    facts = json.loads(kitchen.access_list.path.read_text(encoding="utf-8"))
    assert set(facts) == {"guests", "address"} and KEY not in json.dumps(facts)
