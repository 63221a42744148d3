"""The rows before a first cook, each ticked by what is so."""

from pathlib import Path

import pytest
from flask.testing import FlaskClient

from dashboard.app import make_app
from dashboard.auth.access_control import AccessSettings
from dashboard.auth.access_list import AccessList
from dashboard.auth.readiness import ITEMS, Item, items
from dashboard.auth.ticks import tick
from monitor.model import make_event
from monitor.probes import BathPoint, FieldCheck
from monitor.runtime import SystemClock
from monitor.session import CookLibrary
from monitor.storage import CalibrationLog
from tests.dashboard.dash_requests import answer_of
from tests.dashboard.seeded import Maker

KEY = "a-key-for-tests"
ASKED = {("start", "data"): True, ("look-again", "n_intervals"): 1}


def client_of(folder: Path) -> FlaskClient:
    client = make_app(CookLibrary(folder), KEY, AccessSettings(AccessList(folder))).test_client()
    client.get(f"/?key={KEY}")
    return client


def rows_of(folder: Path, name: str) -> dict[str, Item]:
    cook = CookLibrary(folder).cook(name)
    return {item.name: item for item in items(cook, [], {}, hides_owners=False)}


def test_without_a_cook_only_what_needs_none_is_ticked_and_each_row_leads_on(tmp_path: Path) -> None:
    grants = AccessList(None)
    grants.add("Phone", 0.0)
    rows = items(None, grants.grants(), {"sound": 5.0}, hides_owners=False)
    assert [row.name for row in rows] == list(ITEMS)
    assert [row.name for row in rows if row.done] == ["paired", "sound"]
    assert all(row.to for row in rows)


def test_a_probe_that_speaks_is_told_with_its_value_and_one_that_fell_silent_is_not(tmp_path: Path) -> None:
    maker = Maker(tmp_path, SystemClock(), hours=0.5)
    row = rows_of(tmp_path, maker.path.stem)["heard"]
    assert row.done and row.found.startswith("paste: ") and row.found.endswith(" °C")
    maker.recorder.close()
    silent = Maker(tmp_path / "silent", SystemClock(), hours=0.0, rig="silent")
    row = rows_of(tmp_path / "silent", silent.path.stem)["heard"]
    assert not row.done and "look at plug and cable" in row.found
    silent.recorder.close()


def test_a_check_a_sheet_and_a_seen_notice_tick_their_rows(tmp_path: Path) -> None:
    maker = Maker(tmp_path, SystemClock(), hours=0.5)
    before = rows_of(tmp_path, maker.path.stem)
    assert (before["checked"].done, before["notice"].done, before["sheet"].done) == (False, False, True)
    assert before["checked"].to == f"/probes/{maker.path.stem}/baths" and before["sheet"].found == "Kitchen batch"
    known = maker.started + 60.0
    CalibrationLog(tmp_path).add(FieldCheck("a-check", "cooker", "paste", known, (BathPoint("ice water", 0.2),)))
    maker.recorder.add_event(make_event("seen", "acknowledged", known, known, {"condition": "stir due"}))
    maker.recorder.commit()
    after = rows_of(tmp_path, maker.path.stem)
    assert after["checked"].done and after["notice"].done
    maker.recorder.close()


def test_the_page_ticks_itself_and_a_view_only_phone_learns_of_no_other(tmp_path: Path) -> None:
    maker = Maker(tmp_path, SystemClock(), hours=0.5)
    maker.recorder.close()
    owner = client_of(tmp_path)
    assert "Looking…" in owner.get("/set-up").text
    tick(tmp_path, "notice", 5.0)
    ready = answer_of(owner, ("ready", "children"), ASKED)
    assert "1 may look and log." in ready and "Somebody said that it came." in ready and "/set-up/push" in ready
    link = owner.post("/phones/link", json={"hours": 4}, headers={"Sec-Fetch-Site": "same-origin"}).get_json()["link"]
    viewer = owner.application.test_client()
    viewer.get(link.removeprefix("http://localhost"))
    ready = answer_of(viewer, ("ready", "children"), ASKED)
    assert "may look and log" not in ready and "/set-up/push" not in ready and "/phones" not in ready
    page = viewer.get("/set-up").text
    assert 'href="/phones"' not in page and "/set-up/push" not in page and "/set-up/tls" not in page


@pytest.mark.parametrize("title", ["<script>alert(1)</script>", "a" * 200])
def test_a_hostile_title_is_text(tmp_path: Path, title: str) -> None:
    maker = Maker(tmp_path, SystemClock(), hours=0.2, title=title)
    maker.recorder.close()
    owner = client_of(tmp_path)
    assert "<script>alert" not in owner.get("/set-up").text
    assert "Batch sheet there" in answer_of(owner, ("ready", "children"), ASKED)
