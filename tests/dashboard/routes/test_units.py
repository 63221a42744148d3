"""The units of a kitchen, chosen on a page and read by the bench and the commands."""

from pathlib import Path

import pytest
from flask.testing import FlaskClient

from dashboard.app import make_app
from monitor.cli import main
from monitor.formulation import METRIC, UnitChoice
from monitor.session import CookLibrary, believed_kitchen_units, set_kitchen_costs
from tests.dashboard.routes.test_listening import viewer_of

KEY = "a-key-for-tests"
OURS = {"Sec-Fetch-Site": "same-origin"}


@pytest.fixture
def owner(tmp_path: Path) -> FlaskClient:
    client = make_app(CookLibrary(tmp_path), KEY).test_client()
    client.get(f"/?key={KEY}")
    return client


def choose(client: FlaskClient, what: object, unit: object, status: int = 200) -> str:
    answer = client.post("/set-up-units", json={"what": what, "unit": unit}, headers=OURS)
    assert answer.status_code == status
    return answer.text


def test_units_are_chosen_one_by_one_and_leave_the_costs(
    owner: FlaskClient, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    set_kitchen_costs(tmp_path, {"check_min": 9})
    page = owner.get("/set-up/units").text
    assert [page.count(f'aria-pressed="{state}"') for state in ("true", "false")] == [3, 4]
    assert choose(owner, "mass", "oz") == '{"to":"/set-up/units"}'
    choose(owner, "volume", "UK fl oz")
    choose(owner, "temperature", "degF")
    assert believed_kitchen_units(tmp_path) == UnitChoice("oz", "UK fl oz", "degF")
    assert "check_min = 9" in (tmp_path / "kitchen.toml").read_text(encoding="utf-8")
    assert 'aria-pressed="true">°F<' in owner.get("/set-up/units").text
    assert main(["kitchen", "--recordings", str(tmp_path)]) == 0
    assert "°F" in capsys.readouterr().out
    choose(owner, "mass", "g")
    choose(owner, "volume", "mL")
    choose(owner, "temperature", "degC")
    assert believed_kitchen_units(tmp_path) == METRIC


def test_the_bench_types_and_tells_weights_in_the_unit_of_the_kitchen(owner: FlaskClient) -> None:
    assert 'class="unit">g<' in owner.get("/bench/charge").text
    choose(owner, "mass", "oz")
    page = owner.get("/bench/charge").text
    assert 'class="unit">oz<' in page and 'class="unit">g<' not in page


@pytest.mark.parametrize(("what", "unit"), [("mass", "stone"), ("length", "inch"), ("", ""), ("mass", "")])
def test_what_is_no_unit_is_refused_in_a_sentence(owner: FlaskClient, tmp_path: Path, what: str, unit: str) -> None:
    assert choose(owner, what, unit, 400).endswith(".")
    assert not (tmp_path / "kitchen.toml").exists()
    choose(owner, 5, "g", 400)


def test_a_file_that_cannot_be_used_is_told_and_left_alone(owner: FlaskClient, tmp_path: Path) -> None:
    (tmp_path / "kitchen.toml").write_text("[units]\nmass = 7\n", encoding="utf-8")
    assert "kitchen.toml, " in owner.get("/set-up/units").text.lower()
    choose(owner, "mass", "oz", 400)
    assert (tmp_path / "kitchen.toml").read_text(encoding="utf-8") == "[units]\nmass = 7\n"
    assert owner.get("/bench/charge").status_code == 200


def test_a_view_only_link_cannot_choose(owner: FlaskClient, tmp_path: Path) -> None:
    viewer = viewer_of(owner)
    choose(viewer, "mass", "oz", 403)
    assert viewer.get("/set-up/units").status_code == 403
    assert believed_kitchen_units(tmp_path) == METRIC
