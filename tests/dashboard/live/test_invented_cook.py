"""The invented cook that is played inside the app."""

import os
import signal
from collections.abc import Iterator
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from dashboard.app import make_app
from dashboard.auth.access_control import AccessSettings
from dashboard.auth.access_list import AccessList
from dashboard.live.invented_cook import INVENTED_COOK, RIG, InventedCook
from monitor.runtime import SystemClock
from monitor.session import CookLibrary
from monitor.simulator import BEGAN, INVENTED
from monitor.storage import load, recordings, summary
from tests.cli.processes import until
from tests.dashboard.seeded import Maker

KEY = "a-key-for-tests"
OURS = {"Sec-Fetch-Site": "same-origin"}


@pytest.fixture
def owner(tmp_path: Path) -> Iterator[FlaskClient]:
    app = make_app(CookLibrary(tmp_path), KEY, AccessSettings(AccessList(tmp_path)))
    client = app.test_client()
    client.get(f"/?key={KEY}")
    yield client
    invented_of(client).end()


def invented_of(client: FlaskClient) -> InventedCook:
    found: InventedCook = client.application.extensions[INVENTED_COOK]
    return found


def begin(client: FlaskClient) -> str:
    answer = client.post("/set-up-invented-begin", json={}, headers=OURS)
    assert answer.status_code == 200, answer.text
    return str(answer.get_json()["to"]).removeprefix("/?cook=")


@pytest.mark.long
def test_it_plays_marked_as_invented_and_ends_in_the_trash(owner: FlaskClient, tmp_path: Path) -> None:
    assert "Watch an invented cook" in owner.get("/set-up").text
    name = begin(owner)
    # A second tap, or one whose answer was lost, begins no other.
    assert begin(owner) == name and len(recordings(tmp_path)) == 1
    path = tmp_path / f"{name}.cook"
    assert (summary(path).about.source, summary(path).about.rig) == (INVENTED, RIG)
    until(lambda: bool(load(path).series) and bool(load(path).events_of("lye in")))
    assert load(path).series["paste"].measured[0] >= BEGAN
    assert "End it and put it away" in owner.get("/set-up").text
    player = invented_of(owner)._player
    assert player is not None
    assert owner.post("/set-up-invented-end", json={}, headers=OURS).get_json() == {"to": "/set-up"}
    assert player.returncode is not None and recordings(tmp_path) == []
    assert [gone.name for gone in CookLibrary(tmp_path).removed(SystemClock().now())] == [name]
    # To end it twice is to end it once.
    assert owner.post("/set-up-invented-end", json={}, headers=OURS).status_code == 200


@pytest.mark.long
def test_one_whose_server_was_killed_is_put_away_at_the_next_start(owner: FlaskClient, tmp_path: Path) -> None:
    begin(owner)
    player = invented_of(owner)._player
    assert player is not None
    os.kill(player.pid, signal.SIGKILL)
    player.wait()
    fresh = make_app(CookLibrary(tmp_path), KEY)
    later: InventedCook = fresh.extensions[INVENTED_COOK]

    def is_put_away() -> bool:
        # Its logger ends by itself once its player is gone.
        later.clear_up()
        return recordings(tmp_path) == []

    until(is_put_away)


def test_none_plays_beside_a_real_cook_and_a_view_only_phone_begins_none(owner: FlaskClient, tmp_path: Path) -> None:
    link = owner.post("/phones/link", json={"hours": 4}, headers=OURS).get_json()["link"]
    viewer = owner.application.test_client()
    viewer.get(link.removeprefix("http://localhost"))
    for word in ("begin", "end"):
        assert viewer.post(f"/set-up-invented-{word}", json={}, headers=OURS).status_code == 403
    assert "Watch an invented cook" not in viewer.get("/set-up").text
    maker = Maker(tmp_path, SystemClock(), hours=0.1)
    refused = owner.post("/set-up-invented-begin", json={}, headers=OURS)
    assert refused.status_code == 400 and "A cook is running" in refused.text
    assert "Watch an invented cook" not in owner.get("/set-up").text
    maker.recorder.close()
    invented_of(owner).end()
    assert recordings(tmp_path) == [maker.path]


def test_a_folder_that_cannot_be_written_is_told_of_and_nothing_is_started(owner: FlaskClient, tmp_path: Path) -> None:
    invented_of(owner)._state.library.folder = tmp_path / "no" / "file"
    (tmp_path / "no").write_text("in the way", encoding="ascii")
    refused = owner.post("/set-up-invented-begin", json={}, headers=OURS)
    assert refused.status_code in (400, 503) and invented_of(owner)._player is None


def test_a_new_cook_is_never_begun_on_what_was_invented(owner: FlaskClient, tmp_path: Path) -> None:
    sample = CookLibrary(tmp_path).begin(RIG, INVENTED, None, SystemClock())
    sample.log_event("finished")
    begun = owner.post("/begin", json={}, headers=OURS)
    assert begun.status_code == 200
    (fresh,) = [found for found in map(summary, recordings(tmp_path)) if found.finished is None]
    assert (fresh.about.rig, fresh.about.source) == ("cooker", "")
