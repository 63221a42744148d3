"""A browser that is not paired sees the form for the key and nothing else."""

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from dashboard.app import make_app
from dashboard.auth.access_control import DashboardError, RequestGuard, pairing_key
from monitor.session import CookLibrary
from tests.dashboard.seeded import Maker

KEY = "a-key-for-tests"
OURS = {"Sec-Fetch-Site": "same-origin"}


@pytest.fixture
def maker(tmp_path: Path) -> Iterator[Maker]:
    made = Maker(tmp_path, hours=0.05, title="Secret batch")
    yield made
    made.recorder.close()


@pytest.fixture
def unpaired(maker: Maker) -> FlaskClient:
    return make_app(CookLibrary(maker.path.parent), KEY).test_client()


def test_the_key_is_created_once_and_readable_by_its_owner_only(tmp_path: Path) -> None:
    key = pairing_key(tmp_path)
    assert len(key) >= 32
    assert pairing_key(tmp_path) == key
    assert (tmp_path / ".kettleside").stat().st_mode & 0o777 == 0o700
    assert (tmp_path / ".kettleside" / "pairing-key").stat().st_mode & 0o777 == 0o600


def test_a_key_that_cannot_be_created_is_reported_in_one_sentence(tmp_path: Path) -> None:
    (tmp_path / ".kettleside").write_text("in the way", encoding="ascii")
    with pytest.raises(DashboardError) as caught:
        pairing_key(tmp_path)
    assert os.linesep not in str(caught.value)
    assert "pairing-key" in str(caught.value)


@pytest.mark.parametrize(
    "path",
    ["/", "/cooks", "/cooks/any", "/nowhere", "/assets/style.css", "/assets/50-pages.js", "/_favicon.ico", "/pair"],
)
def test_an_unpaired_browser_sees_only_the_key_form(unpaired: FlaskClient, path: str) -> None:
    answer = unpaired.get(path)
    assert answer.status_code == 401
    assert "needs its key" in answer.text
    assert "Secret batch" not in answer.text and "renderer" not in answer.text


@pytest.mark.parametrize("path", ["/live", "/live?cook=x", "/cooks/x/then?t=5", "/_dash-layout", "/_dash-dependencies"])
def test_an_unpaired_browser_gets_no_data(unpaired: FlaskClient, path: str) -> None:
    assert unpaired.get(path).status_code == 401


@pytest.mark.parametrize("path", ["/log", "/back", "/earlier", "/begin", "/_dash-update-component"])
def test_an_unpaired_browser_cannot_post(unpaired: FlaskClient, path: str) -> None:
    assert unpaired.post(path, json={}, headers=OURS).status_code == 401


def test_the_health_check_says_only_that_the_server_is_alive(unpaired: FlaskClient) -> None:
    assert unpaired.get("/healthz").text == "alive\n"


def test_a_key_in_the_address_pairs_and_is_removed_from_it(unpaired: FlaskClient) -> None:
    answer = unpaired.get(f"/cooks?key={KEY}")
    assert answer.status_code == 303 and answer.headers["Location"] == "/cooks"
    cookie = answer.headers["Set-Cookie"]
    assert "HttpOnly" in cookie and "SameSite=Lax" in cookie and "Max-Age=31536000" in cookie
    assert KEY not in cookie
    assert unpaired.get("/live").status_code == 200


def test_pairing_never_redirects_to_another_host(unpaired: FlaskClient) -> None:
    answer = unpaired.get("/x", query_string={"key": KEY}, environ_overrides={"PATH_INFO": "//elsewhere.example/"})
    assert answer.status_code == 303
    assert not answer.headers["Location"].startswith("//")


@pytest.mark.parametrize("path", ["/%0d%0aX:%20y", "/%00", "/%09/elsewhere.example", "/cooks/a%0ab"])
def test_an_address_with_control_characters_is_refused_with_400(unpaired: FlaskClient, path: str) -> None:
    for address in (f"{path}?key={KEY}", path):
        answer = unpaired.get(address)
        assert answer.status_code == 400 and "Location" not in answer.headers


def test_pairing_redirects_to_a_path_with_any_characters(unpaired: FlaskClient) -> None:
    answer = unpaired.get(f"/cooks/gr%C3%BCn%20%3F%23%25?key={KEY}")
    assert answer.headers["Location"] == "/cooks/gr%C3%BCn%20%3F%23%25"


@pytest.mark.parametrize("key", ["", "wrong", KEY + "x", "ключ", KEY.upper()])
def test_a_wrong_key_is_refused(unpaired: FlaskClient, key: str) -> None:
    answer = unpaired.get("/", query_string={"key": key})
    assert answer.status_code == 401 and "not the key" in answer.text
    assert unpaired.get("/live").status_code == 401


def test_the_key_can_be_typed_into_the_form(unpaired: FlaskClient) -> None:
    assert unpaired.post("/pair", data={"key": "no"}, headers=OURS).status_code == 401
    assert unpaired.post("/pair", data={"key": f" {KEY} "}, headers=OURS).status_code == 303
    assert unpaired.get("/live").status_code == 200


@pytest.mark.parametrize("cookie", ["", "paired", "paired.x.y", "paired.aaaa.AAAAAAAAAAAAAAAAAAAAAAAAAAA"])
def test_a_forged_cookie_is_refused(unpaired: FlaskClient, cookie: str) -> None:
    unpaired.set_cookie(RequestGuard(KEY).cookie_name, cookie)
    assert unpaired.get("/live").status_code == 401


@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"Origin": "http://elsewhere.example"},
        {"Origin": "null"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site", "Origin": "http://localhost"},
        {"Sec-Fetch-Site": "same-origin", "Origin": "http://localhost:81"},
    ],
)
def test_a_cross_site_post_is_refused(unpaired: FlaskClient, maker: Maker, headers: dict[str, str]) -> None:
    unpaired.get(f"/?key={KEY}")
    answer = unpaired.post("/log", json={"cook": maker.path.stem, "kind": "stirred"}, headers=headers)
    assert answer.status_code == 403
    assert answer.text.count(".") == 1


def test_pages_have_their_security_headers(unpaired: FlaskClient) -> None:
    unpaired.get(f"/?key={KEY}")
    headers = unpaired.get("/").headers
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Referrer-Policy"] == "same-origin"
    policy = headers["Content-Security-Policy"]
    assert "frame-ancestors 'none'" in policy and "default-src 'none'" in policy
    script = next(part for part in policy.split(";") if "script-src" in part)
    assert "unsafe" not in script
    assert unpaired.get("/live").headers["X-Content-Type-Options"] == "nosniff"
