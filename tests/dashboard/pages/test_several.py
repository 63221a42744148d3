"""Several cookers at once: their list, a page for each, and a new cook on the right one."""

import gc
import weakref
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from dashboard.app import make_app
from dashboard.live.app_state import APP_STATE, AppState
from monitor.runtime.clock import JumpClock
from monitor.session import Cook, CookLibrary
from monitor.session.library import MOST_OPEN
from monitor.storage import read_header
from tests.dashboard.seeded import Maker

KEY = "a-key-for-tests"
OURS = {"Sec-Fetch-Site": "same-origin"}


@pytest.fixture
def makers(tmp_path: Path) -> Iterator[dict[str, Maker]]:
    clock = JumpClock()
    made = {
        "right": Maker(tmp_path, clock, hours=1.5, title="Kitchen batch", rig="right"),
        "left": Maker(tmp_path, clock, hours=0.2, title="Second pot", rig="left"),
    }
    yield made
    for maker in made.values():
        maker.recorder.abandon()


@pytest.fixture
def app(tmp_path: Path, makers: dict[str, Maker]) -> Flask:
    clock = JumpClock()
    return make_app(CookLibrary(tmp_path, lambda _tie: clock), KEY)


@pytest.fixture
def phone(app: Flask) -> FlaskClient:
    client = app.test_client()
    client.get(f"/?key={KEY}")
    return client


def begin(phone: FlaskClient, **asked: Any) -> Any:
    return phone.post("/begin", json=asked, headers=OURS)


def test_the_first_page_lists_the_running_cooks(phone: FlaskClient, makers: dict[str, Maker]) -> None:
    text = phone.get("/").text
    assert "2 cooks are running." in text
    assert text.index("left: Second pot") < text.index("right: Kitchen batch")
    for maker in makers.values():
        assert f'href="/?cook={maker.path.stem}"' in text


def test_a_cook_in_danger_is_listed_first(tmp_path: Path, phone: FlaskClient, makers: dict[str, Maker]) -> None:
    cold = Maker(tmp_path, JumpClock(), hours=3.0, title="Cold pot", rig="upper", power_cut_s=3 * 3600 - 2200)
    looks: Any = phone.get("/live-all").json
    assert [(look["rig"], look["headline"] and look["headline"][0]) for look in looks["cooks"]] == [
        ("upper", "Paste cold"),
        ("left", None),
        ("right", None),
    ]
    text = phone.get("/").text
    assert text.index("upper: Cold pot") < text.index("left: Second pot")
    cold.recorder.abandon()


def test_each_cook_has_a_page_that_names_its_cooker(phone: FlaskClient, makers: dict[str, Maker]) -> None:
    for rig, maker in makers.items():
        for address in (f"/?cook={maker.path.stem}", f"/?rig={rig}"):
            text = phone.get(address).text
            assert f"On the cooker {rig}" in text and "All cookers" in text and maker.path.stem in text
    assert "No cook is running on cellar." in phone.get("/?rig=cellar").text


def test_a_single_running_cook_is_the_first_page(phone: FlaskClient, makers: dict[str, Maker]) -> None:
    makers["left"].finish()
    text = phone.get("/").text
    assert "On the cooker" not in text and makers["right"].path.stem in text


def test_the_list_is_polled_at_an_address_that_needs_the_key(phone: FlaskClient, makers: dict[str, Maker]) -> None:
    looks: Any = phone.get("/live-all").json
    left, right = looks["cooks"]
    assert (left["rig"], left["next_due"], left["converted"]) == ("left", None, None)
    assert (
        right["next_due"][0] in ("stir", "check")
        and 0 < right["converted"] < 1000
        and 880 < right["paste_tenths_c"] < 960
    )
    assert app_wants_the_key(phone)


def app_wants_the_key(phone: FlaskClient) -> bool:
    return phone.application.test_client().get("/live-all").status_code == 401


def test_an_idle_cooker_is_reported_for_its_own_page(phone: FlaskClient, makers: dict[str, Maker]) -> None:
    assert [phone.get(f"/live?rig={rig}").json for rig in ("left", "cellar")] == [{"idle": False}, {"idle": True}]


def test_a_new_cook_begins_on_the_cooker_of_the_page(phone: FlaskClient, makers: dict[str, Maker]) -> None:
    refused = begin(phone, cook=makers["left"].path.stem)
    assert (refused.status_code, refused.text) == (400, "A cook is running already on left; finish it first.")
    makers["left"].finish()
    begun = begin(phone, cook=makers["left"].path.stem)
    path = makers["left"].path.with_name(f"{begun.json['cook']}.cook")
    assert read_header(path).rig == "left"
    # The other cooker's cook goes on as if nothing had happened.
    assert [look["rig"] for look in phone.get("/live-all").json["cooks"]] == ["left", "right"]  # type: ignore[index]


def test_ten_running_cooks_stay_in_memory_and_an_unused_one_is_dropped(tmp_path: Path) -> None:
    clock = JumpClock()
    for number in range(MOST_OPEN + 1):
        Maker(tmp_path, clock, hours=0.01, rig=f"rig {number}", events=False).recorder.close()
    app = make_app(CookLibrary(tmp_path, lambda _tie: clock), KEY)
    state: AppState = app.extensions[APP_STATE]
    names = [found.path.stem for found in state.running()]
    boards = {name: state.delta(name) for name in names[:MOST_OPEN]}
    assert all(state.delta(name) is board for name, board in boards.items())
    gone: weakref.ref[Cook] = weakref.ref(boards.pop(names[0]).cook)
    state.delta(names[-1])
    gc.collect()
    assert gone() is None
    assert all(state.delta(name) is board for name, board in boards.items())


def test_two_finished_cooks_stay_in_memory(tmp_path: Path) -> None:
    clock = JumpClock()
    for number in range(4):
        Maker(tmp_path, clock, hours=0.01, rig=f"rig {number}", events=False).finish()
    running = Maker(tmp_path, clock, hours=0.01, rig="rig 9", events=False)
    library = CookLibrary(tmp_path, lambda _tie: clock)
    on = library.cook(running.path.stem)
    over = [library.cook(path.stem) for path in sorted(tmp_path.glob("*.cook")) if path != running.path]
    assert [library.is_open(cook) for cook in over] == [False, False, True, True] and library.is_open(on)
    running.recorder.close()


def test_a_cook_that_ends_without_viewers_is_dropped(tmp_path: Path) -> None:
    clock = JumpClock()
    library = CookLibrary(tmp_path, lambda _tie: clock)
    cooks = []
    for number in range(5):
        maker = Maker(tmp_path, clock, hours=0.01, title=f"Batch {number}", events=False)
        cooks.append(library.cook(maker.path.stem))
        maker.finish()
        clock.moment += 60.0
    assert [library.is_open(cook) for cook in cooks] == [False, False, False, True, True]


def test_a_cook_whose_file_was_removed_is_dropped(tmp_path: Path) -> None:
    clock = JumpClock()
    library = CookLibrary(tmp_path, lambda _tie: clock)
    cooks = []
    for number in range(4):
        maker = Maker(tmp_path, clock, hours=0.01, title=f"Batch {number}", events=False)
        cooks.append(library.cook(maker.path.stem))
        maker.finish()
        maker.path.unlink()
        clock.moment += 60.0
    assert [library.is_open(cook) for cook in cooks] == [False, False, True, True]
