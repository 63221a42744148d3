"""The bar of places and the one line of what is due, on every page."""

import re
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from dashboard.app import make_app
from dashboard.routes.alert_line import first_of
from monitor.runtime import SystemClock
from monitor.session import CookLibrary
from tests.dashboard.seeded import Maker

# Address -> the place that is marked there; NAME stands for the running cook.
PLACES = {
    "/": "Now",
    "/no/such/page": "Now",
    "/wall": "Now",
    "/bench": "Bench",
    "/bench/charge": "Bench",
    "/cooks": "Cooks",
    "/cooks/NAME": "Cooks",
    "/record/NAME": "Cooks",
    "/compare": "Cooks",
    "/kitchen": "Cooks",
    "/set-up": "Set-up",
    "/phones": "Set-up",
    "/set-up/push": "Set-up",
    "/set-up/tls": "Set-up",
    "/probes/NAME": "Set-up",
    "/manual": "Set-up",
    "/manual/alarms": "Set-up",
}
LONGEST_ANSWER_BYTES = 300


def client_of(maker: Maker) -> FlaskClient:
    maker.recorder.close()
    client = make_app(CookLibrary(maker.path.parent), "key").test_client()
    client.get("/?key=key")
    return client


@pytest.mark.parametrize(("path", "place"), PLACES.items())
def test_every_page_has_the_bar_with_its_place_marked_and_one_line(tmp_path: Path, path: str, place: str) -> None:
    maker = Maker(tmp_path, SystemClock(), hours=0.5)
    page = client_of(maker).get(path.replace("NAME", maker.path.stem)).text
    (bar,) = re.findall(r'<nav class="shell".*?</nav>', page, re.DOTALL)
    assert re.findall(r'href="(/[^"]*)"', bar)[-4:] == ["/", "/bench", "/cooks", "/set-up"]
    marked = re.findall(r'<a[^>]*aria-current="page"[^>]*>.*?<span>([^<]+)</span></a>', bar)
    assert marked == [place]
    assert page.count('id="alert-line"') == 1


def test_the_line_of_a_page_costs_few_bytes_and_names_the_cook(tmp_path: Path) -> None:
    maker = Maker(tmp_path, SystemClock(), hours=3.0, power_cut_s=3 * 3600 - 2200)
    answer = client_of(maker).get("/due")
    assert len(answer.data) <= LONGEST_ANSWER_BYTES
    assert answer.json is not None
    assert answer.json["cook"] == maker.path.stem and answer.json["headline"][0] == "Paste cold"


def test_without_a_cook_there_is_nothing_to_tell(tmp_path: Path) -> None:
    client = make_app(CookLibrary(tmp_path), "key").test_client()
    assert client.get("/due").status_code == 401
    client.get("/?key=key")
    assert client.get("/due").json == {}


def test_a_danger_goes_before_what_is_due_and_that_before_what_is_only_wrong() -> None:
    quiet = {"cook": "quiet", "time": 0.0, "headline": None, "next_due": ["stir", 900.0], "alarm": None}
    wrong = quiet | {"cook": "wrong", "alarm": "wall probe open"}
    due = quiet | {"cook": "due", "next_due": ["stir", 60.0]}
    late = quiet | {"cook": "late", "next_due": ["check", -60.0]}
    danger = quiet | {"cook": "danger", "headline": ["Paste cold", 0.0], "next_due": None}
    order = [danger, late, due, wrong, quiet]
    for first in range(len(order)):
        found = first_of(reversed(order[first:]))
        assert found is not None and found["cook"] == order[first]["cook"]
    assert first_of([]) is None
