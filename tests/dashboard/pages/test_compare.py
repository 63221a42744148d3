"""Cooks compared: on one axis, with what differed between them, and what cannot be drawn named with its reason."""

import json
import shutil
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient

from dashboard.app import make_app
from monitor.runtime.clock import JumpClock
from monitor.session import CookLibrary
from tests.dashboard.dash_requests import Part, answers_of, page_of
from tests.dashboard.seeded import Maker

INVENTED = Path(__file__).resolve().parents[3] / "recordings"
CHART = {"chart": "compared", "part": "data"}
OUTPUTS: list[tuple[Part, str]] = [(CHART, "data"), ("compared-cooks", "children"), ("differences", "children")]


@pytest.fixture
def phone(tmp_path: Path) -> FlaskClient:
    for path in INVENTED.glob("*.cook"):
        shutil.copy(path, tmp_path)
    return client_of(tmp_path)


def client_of(folder: Path) -> FlaskClient:
    client = make_app(CookLibrary(folder), "key").test_client()
    client.get("/?key=key")
    return client


def names(folder: Path) -> list[str]:
    return sorted(path.stem for path in folder.glob("*.cook"))


def compared(client: FlaskClient, cooks: list[str], by: str = "lid on") -> tuple[dict[str, Any], str, str]:
    """The chart's data; then the list of cooks and the tables, as JSON."""
    found = answers_of(client, OUTPUTS, {("asked", "data"): {"cooks": cooks, "by": by}})
    chart = found[json.dumps(CHART, separators=(",", ":"))]["data"]
    told = (json.dumps(found[name]["children"], ensure_ascii=False) for name in ("compared-cooks", "differences"))
    return chart, *told


@pytest.mark.parametrize("by", ["lid on", "thick trace", "equivalent time"])
def test_cooks_are_drawn_on_one_axis(phone: FlaskClient, tmp_path: Path, by: str) -> None:
    chart, listed, _ = compared(phone, names(tmp_path), by)
    lines = [trace["name"] for trace in chart["figure"]["data"] if trace["mode"] == "lines"]
    assert lines == ["A", "B", "C"]
    assert [row[0] for row in chart["rows"]] == lines and all(row[1].endswith(" h") for row in chart["rows"])
    assert all(f"/cooks/{name}" in listed for name in names(tmp_path))


def test_what_differed_is_told_and_what_did_not_is_only_counted(phone: FlaskClient, tmp_path: Path) -> None:
    smooth, cut, _ = names(tmp_path)
    told = compared(phone, [smooth, cut])[2]
    assert "Heat lost" in told and "+98 min" in told and "Longest without a stir" in told
    assert "Clear after" in told and "5 h 45 min" in told
    # One oil and one alkali, by the same sheet.
    assert "Coconut" not in told and "No difference." in told
    assert "Last check" not in told and "Alike in 1 more." in told


def test_one_cook_has_a_curve_and_no_tables(phone: FlaskClient, tmp_path: Path) -> None:
    chart, listed, told = compared(phone, names(tmp_path)[:1])
    assert len(chart["rows"]) == 1 and "Invented: a smooth cook" in listed and told == "[]"


def test_a_cook_that_cannot_be_aligned_so_is_named_with_the_reason(phone: FlaskClient, tmp_path: Path) -> None:
    smooth = names(tmp_path)[0]
    maker = Maker(tmp_path, JumpClock(), hours=1.0, title="No lid yet", events=False)
    maker.recorder.close()
    chart, listed, told = compared(phone, [smooth, maker.path.stem], "thick trace")
    assert len(chart["rows"]) == 1
    assert "No lid yet" in listed and "Not in the figure: it has no temperatures after such a beginning." in listed
    assert "Outcome" in told


def test_what_cannot_be_read_and_what_is_too_many_is_said(phone: FlaskClient, tmp_path: Path) -> None:
    (tmp_path / "wreck.cook").write_bytes(b"no recording at all")
    listed = compared(phone, ["wreck", "../up", *names(tmp_path)[:1] * 4, "seventh"])[1]
    assert "it is not a recording" in listed and "There is no such cook." in listed
    assert "Six cooks at the most; seventh is left out." in listed


def test_the_list_ticks_what_the_address_names_or_the_latest_two(phone: FlaskClient, tmp_path: Path) -> None:
    smooth, cut, loose = names(tmp_path)
    page = phone.get("/compare", query_string={"cook": [smooth, cut], "by": "thick trace"}).text

    def ticked(text: str) -> list[bool]:
        return [
            f'{{&quot;laid&quot;:&quot;{name}&quot;}}" role="checkbox" type="button" aria-checked="true"' in text
            for name in (smooth, cut, loose)
        ]

    assert ticked(page) == [True, True, False]
    assert page.count('aria-pressed="true"') == 1 and 'aria-pressed="true">thick trace' in page
    assert ticked(phone.get("/compare").text) == [False, True, True]
    # From a cook's own page the list is open, for the others to be ticked.
    assert '<details class="choose" open>' in phone.get(f"/compare?cook={smooth}").text
    assert smooth in page_of(phone, "/compare", f"?cook={smooth}&cook={cut}")


def test_an_unknown_alignment_is_reported_in_one_sentence(phone: FlaskClient) -> None:
    answer = phone.get("/compare?by=moon")
    assert answer.status_code == 400 and "laid over each other by lid on" in answer.text


def test_without_a_cook_the_page_says_what_will_stand_here(tmp_path: Path) -> None:
    assert "As soon as two are over" in client_of(tmp_path).get("/compare").text
