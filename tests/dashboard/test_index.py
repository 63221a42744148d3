"""The first answer: a whole page with its data, before any of Dash's scripts."""

import json
import re
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from dashboard.app import make_app
from monitor.runtime import SystemClock
from monitor.session import CookLibrary
from tests.dashboard.seeded import Maker

HOSTILE = "</script><img src=x onerror=alert(1)>"


@pytest.fixture
def client(tmp_path: Path) -> FlaskClient:
    maker = Maker(tmp_path, SystemClock(), hours=1.0, title=HOSTILE)
    maker.recorder.close()
    client = make_app(CookLibrary(tmp_path), "key").test_client()
    client.get("/?key=key")
    return client


def test_the_first_answer_contains_its_text_and_data(client: FlaskClient) -> None:
    page = client.get("/").text
    assert 'id="due"' in page and ">Stirred</button>" in page
    block = re.search(r'<script type="application/json" id="first-look">(.*?)</script>', page)
    assert block is not None
    start = json.loads(block[1])
    assert start["page"] == "now" and start["look"]["title"] == HOSTILE and len(start["look"]["points"]) > 100


def test_markup_in_a_title_is_escaped(client: FlaskClient) -> None:
    for path in ("/", "/cooks"):
        assert HOSTILE not in client.get(path).text
    assert "&lt;/script&gt;&lt;img" in client.get("/cooks").text


def test_own_scripts_come_first_and_plotly_only_with_a_curve(client: FlaskClient) -> None:
    files = re.findall(r'<script defer src="([^"]+)"', client.get("/").text)
    own = [src for src in files if src.startswith("/assets/")]
    assert files[: len(own)] == own and [src for src in own if "plotly" in src]
    assert "/dash_table/" not in "".join(files) and "polyfill" not in "".join(files)
    assert "plotly-basic" not in client.get("/cooks").text.partition("<footer>")[0]


def test_an_unknown_address_says_that_there_is_no_page(client: FlaskClient) -> None:
    assert "There is no such page." in client.get("/no/such/page").text
