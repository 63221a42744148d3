"""What a phone needs to put the app on its home screen (W3C, Web Application Manifest)."""

import re
import struct
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from dashboard.app import make_app
from dashboard.auth.addresses import PUBLIC_PATHS
from dashboard.components.answers import ASSETS
from dashboard.components.installable import DARK, LIGHT
from monitor.session import CookLibrary

KEY = "a-key-for-tests"
# PNG, section 11.2.2: after the signature and the header's length and name come width and height.
PNG_SIZE = struct.Struct(">8s4x4sII")


@pytest.fixture
def unpaired(tmp_path: Path) -> FlaskClient:
    return make_app(CookLibrary(tmp_path), KEY).test_client()


def test_the_manifest_names_icons_of_the_sizes_it_says_and_is_there_before_pairing(unpaired: FlaskClient) -> None:
    answer = unpaired.get("/manifest.webmanifest")
    told = answer.get_json()
    assert answer.mimetype == "application/manifest+json"
    assert (told["name"], told["start_url"], told["scope"], told["display"]) == ("kettleside", "/", "/", "standalone")
    assert {icon["purpose"] for icon in told["icons"]} == {"any", "maskable"}
    for icon in told["icons"]:
        picture = unpaired.get(icon["src"])
        signature, name, *size = PNG_SIZE.unpack_from(picture.data)
        assert (signature, name) == (b"\x89PNG\r\n\x1a\n", b"IHDR")
        assert "x".join(map(str, size)) == icon["sizes"] and picture.mimetype == icon["type"]
        picture.close()


def test_what_is_open_before_pairing_tells_of_no_cook(unpaired: FlaskClient) -> None:
    for path in PUBLIC_PATHS:
        answer = unpaired.get(path)
        assert answer.status_code == 200 and "Set-Cookie" not in answer.headers, path
        answer.close()
        assert unpaired.post(path, headers={"Sec-Fetch-Site": "same-origin"}).status_code in (401, 405), path
    assert unpaired.get("/assets/icons.css").status_code == 401


def test_the_colours_of_the_app_are_those_of_its_pages(unpaired: FlaskClient) -> None:
    papers = re.findall(r"--paper: (#[0-9a-f]{6});", (ASSETS / "style.css").read_text(encoding="utf-8"))
    assert papers == [LIGHT, DARK]
    page = unpaired.get(f"/?key={KEY}", follow_redirects=True)
    assert re.findall(r'name="theme-color" media="[^"]*(light|dark)\)" content="(#[0-9a-f]{6})"', page.text) == [
        ("light", LIGHT),
        ("dark", DARK),
    ]
    assert "manifest-src 'self'" in page.headers["Content-Security-Policy"]
