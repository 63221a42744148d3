"""The pages while the folder of recordings is away: the cook as last known, and paired phones stay paired."""

from pathlib import Path

import pytest

from dashboard.app import make_app
from dashboard.auth.access_control import AccessSettings
from dashboard.auth.access_list import AccessList
from monitor.runtime.clock import JumpClock
from monitor.session import CookLibrary
from tests.dashboard.seeded import Maker

KEY = "a-key-for-tests"
OURS = {"Sec-Fetch-Site": "same-origin"}


@pytest.mark.parametrize("stand_in", [False, True])
def test_the_cook_is_shown_as_last_known_and_an_entry_must_be_sent_again(tmp_path: Path, stand_in: bool) -> None:
    folder, elsewhere, clock = tmp_path / "cooks", tmp_path / "elsewhere", JumpClock()
    maker = Maker(folder, clock, hours=1.0)
    maker.recorder.close()
    name = maker.path.stem
    (folder / ".kettleside").mkdir(mode=0o700)
    phone = make_app(
        CookLibrary(folder, lambda _tie: clock, keeps_open=True), KEY, AccessSettings(AccessList(folder))
    ).test_client()
    assert name in phone.get(f"/?key={KEY}", follow_redirects=True).text
    assert phone.get(f"/live?cook={name}").status_code == 200

    folder.rename(elsewhere)
    if stand_in:
        folder.mkdir()
    clock.moment += 5.0
    assert phone.get(f"/live?cook={name}").status_code == 200
    clock.moment += 60.0
    look = phone.get(f"/live?cook={name}").get_json()
    words = [row[0] for row in look["alarms"]]
    assert any("The recordings folder cooks is away; put its disk or share back." in each for each in words)
    assert look["paste_tenths_c"] is not None and not any("No data" in each for each in words)
    assert "No cook is running" not in phone.get("/").text
    assert phone.get("/live").get_json() == {"idle": False}
    refused = phone.post("/log", json={"cook": name, "kind": "stirred"}, headers=OURS)
    assert refused.status_code == 503 and "is away" in refused.text
    assert "is away" in phone.get("/cooks").text
    assert stand_in or not folder.exists()

    if stand_in:
        assert list(folder.iterdir()) == []
        folder.rmdir()
    elsewhere.rename(folder)
    clock.moment += 5.0
    assert phone.post("/log", json={"cook": name, "kind": "stirred"}, headers=OURS).status_code == 200
    clock.moment += 5.0
    back = phone.get(f"/live?cook={name}").get_json()
    assert not any("is away" in row[0] for row in back["alarms"])
    assert [line[1] for line in back["events"]].count("stirred") >= 1
