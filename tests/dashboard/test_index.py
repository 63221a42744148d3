"""The first answer: a whole page with its data, before any of Dash's scripts."""

import gzip
import json
import re
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from dashboard.app import ASSETS, make_app
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
    assert start["page"] == "now" and start["look"]["title"] == HOSTILE and start["look"]["paste_tenths_c"] > 500


def test_markup_in_a_title_is_escaped(client: FlaskClient) -> None:
    for path in ("/", "/cooks"):
        assert HOSTILE not in client.get(path).text
    assert "&lt;/script&gt;&lt;img" in client.get("/cooks").text


def test_own_scripts_come_first_and_plotly_is_only_named(client: FlaskClient) -> None:
    page = client.get("/").text
    head, _, body = page.partition("<body")
    at_once = re.findall(r'<script src="(/assets/[^"?]+)', page)
    # In the order of their numbers; the one that fills the page in stands behind it.
    assert at_once == sorted(at_once) and at_once[-1] == "/assets/50-pages.js"
    assert at_once[0] in head and at_once[-1] not in head and body.index("</main>") < body.index(at_once[-1])
    assert body.index(at_once[-1]) < body.index('id="taken-over"')
    deferred = re.findall(r'<script defer src="([^"]+)"', page)
    assert [src for src in deferred if "dash_renderer" in src]
    assert "/dash_table/" not in page and "polyfill" not in page
    assert "plotly-lean" not in "".join(at_once + deferred)
    assert re.search(r'<body data-plotly-src="/assets/60-plotly-lean[^"]+" data-scheme-pairs="', page)


def test_a_page_without_a_curve_does_not_name_plotly(tmp_path: Path) -> None:
    client = make_app(CookLibrary(tmp_path), "key").test_client()
    client.get("/?key=key")
    assert "plotly-lean" not in client.get("/").text


def test_scripts_ask_to_be_compiled_while_they_arrive(client: FlaskClient) -> None:
    page = client.get("/").text
    for src in re.findall(r'src="(/[^"]+)"', page):
        plain = client.get(src, buffered=True).data
        assert plain.startswith(b"//# allFunctionsCalledOnLoad\n"), src
        assert gzip.decompress(client.get(src, headers={"Accept-Encoding": "gzip"}).data) == plain, src
    plotly = (ASSETS / "60-plotly-lean.min.js").read_bytes()
    address = re.search(r'data-plotly-src="([^"]+)"', page)
    assert address is not None
    assert client.get(address[1], buffered=True).data.partition(b"\n")[2] == plotly


def test_an_unknown_address_says_that_there_is_no_page(client: FlaskClient) -> None:
    assert "There is no such page." in client.get("/no/such/page").text
