"""A batch planned on the bench: what follows from what is typed, each refusal at its field, and the sheet that is kept."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient

from dashboard.auth.access_control import RequestGuard
from dashboard.bench.form import FieldError, Form
from dashboard.bench.plan import EMPTY_SHELF, answer
from dashboard.bench_pages.plan import PLAN, planning_facts
from dashboard.components.markup import markup
from dashboard.live.app_state import APP_STATE, AppState
from dashboard.pages import bench_sums, kept_sheet, kept_sheets, now
from dashboard.routes.sheets import add_sheet_routes
from monitor.cli import main
from monitor.formulation import charge_of, read_sheet
from monitor.model import Batch
from monitor.runtime import MonitorError, SystemClock
from monitor.session import CookLibrary
from monitor.storage import keep_sheet, load, read_kept_sheet
from monitor.storage import kept_sheets as sheets_of
from tests.dashboard.seeded import Maker

KEY = "a-key-for-tests"
OURS = {"Sec-Fetch-Site": "same-origin"}
TYPED: dict[str, object] = {
    "oils": [{"name": "olive", "amount": "70"}, {"name": "coconut", "amount": ""}],
    "oil_g": "1000",
    "title": "Hand soap",
}
SHEET = 'title = "Brush soap"\n[[oil]]\nname = "rapeseed"\ngrams = 600\n[[oil]]\nname = "coconut"\ngrams = 200\n[water]\ngrams = 541'


@pytest.fixture
def state(tmp_path: Path) -> AppState:
    return AppState(CookLibrary(tmp_path))


@pytest.fixture
def server(state: AppState) -> Flask:
    made = Flask("dashboard", static_folder=None)
    RequestGuard(KEY).install(made)
    made.extensions[APP_STATE] = state
    add_sheet_routes(made, state)
    return made


@pytest.fixture
def client(server: Flask) -> FlaskClient:
    made = server.test_client()
    made.get(f"/?key={KEY}")
    return made


def form(**changed: object) -> Form:
    return Form(TYPED | changed)


def brush() -> Batch:
    return read_sheet(SHEET)


def test_alkali_acids_iodine_strength_and_bottles_follow_from_the_oils(tmp_path: Path) -> None:
    said = answer(form(), None, tmp_path)
    assert said.rows["oils"] == [("olive, 70.0 %", "700 g"), ("coconut, 30.0 %", "300 g")]
    made = charge_of(
        read_sheet('[[oil]]\nname="olive"\ngrams=700\n[[oil]]\nname="coconut"\ngrams=300\n[water]\ngrams=600')
    )
    assert said.out["koh"] == f"{made.koh_g:.0f} g"
    assert sum(float(share.rstrip("%")) for _, share in said.rows["groups"]) == pytest.approx(100.0, abs=2.0)
    # Codex CXS 33 and CXS 210 give olive oil 75 to 94 and coconut oil 6 to 11 g of iodine to 100 g.
    assert 0.7 * 75 + 0.3 * 6 <= float(said.out["iodine"].split()[0]) <= 0.7 * 94 + 0.3 * 11
    assert "common practice" in said.say["sources"][-1]
    assert said.out["bottles"].endswith("of 250 mL")
    assert said.say["cost"] == [EMPTY_SHELF]


def test_prices_on_the_shelf_tell_the_cost_and_what_is_short(tmp_path: Path) -> None:
    for item in (
        ("oil", "olive", "2000", "24.50 EUR"),
        ("oil", "coconut", "200", "2 EUR"),
        ("alkali", "KOH", "1000", "12 EUR"),
    ):
        assert main(["stock", "add", *item[:3], "--price", item[3], "--recordings", str(tmp_path)]) == 0
    cost = answer(form(), None, tmp_path).say["cost"]
    # 700 of 2000 g at 24.50, 300 g at 0.01 each (100 of them not there) and 241.2 g of flakes at 0.012.
    assert any("14.47 EUR" in sentence for sentence in cost)
    assert cost[0] == "Short of coconut: 300 g wanted, 200 g on the shelf."


def test_nothing_typed_is_no_mistake(tmp_path: Path) -> None:
    said = answer(Form({"oils": [{"name": "", "amount": ""}]}), None, tmp_path)
    assert not said.show.get("plan") and said.say["first"]


@pytest.mark.parametrize(
    ("changed", "field", "words"),
    [
        ({"oils": [{"name": "olive", "amount": "70"}, {"name": "coconut", "amount": "20"}]}, "oils", "10 % is missing"),
        ({"oils": [{"name": "olive", "amount": "80"}, {"name": "coconut", "amount": "30"}]}, "oils", "too much"),
        ({"oils": [{"name": "oliv oyl", "amount": "100"}]}, "oils.0.name", "nearest"),
        ({"oils": [{"name": "", "amount": "100"}]}, "oils.0.name", "no name"),
        ({"oils": [{"name": "olive", "amount": "x"}]}, "oils.0.amount", "must be a number"),
        ({"pot": "1"}, "pot", "holds 1 L to the rim"),
        ({"size": "pot"}, "pot", "is empty"),
        ({"size": "bottles", "count": "0"}, "count", "from 1 to"),
        ({"oil_g": "20", "bottle_ml": "500"}, "bottle_ml", "does not fill one bottle"),
        ({"bottle_ml": "0"}, "bottle_ml", "from 5 to"),
        ({"size": "oil", "at_hand": "palm", "at_hand_g": "500"}, "at_hand", "there are: olive, coconut"),
        ({"size": "oil", "at_hand": "olive", "at_hand_g": ""}, "at_hand_g", "is empty"),
        ({"strength": "59"}, "strength", "strength"),
        ({"ratio": "40"}, "ratio", "from 0.5 to 20"),
    ],
)
def test_a_refusal_is_one_sentence_at_its_field(
    tmp_path: Path, changed: dict[str, object], field: str, words: str
) -> None:
    with pytest.raises(FieldError) as refused:
        answer(form(**changed), None, tmp_path)
    assert refused.value.field == field
    assert words in refused.value.why and refused.value.why.count(". ") == 0


@pytest.mark.parametrize(
    "size", [{"size": "pot", "pot": "3"}, {"size": "bottles", "count": "8"}, {"size": "oil", "at_hand_g": "455"}]
)
def test_a_size_is_met(tmp_path: Path, size: dict[str, object]) -> None:
    said = answer(form(**size), None, tmp_path)
    if size["size"] == "pot":
        assert 0.6 < float(said.out["filled"].partition("%")[0]) / 100 <= 0.67
    elif size["size"] == "bottles":
        assert said.out["bottles"] == "8 of 250 mL"
    else:
        assert said.rows["oils"][0] == ("olive, 70.0 %", "455 g")


def test_a_plan_from_a_kept_sheet_begins_as_it_is_and_tells_what_was_changed(state: AppState, server: Flask) -> None:
    keep_sheet(state.library.folder, brush())
    facts = planning_facts(state, "sheet brush-soap")
    first = PLAN.first(facts)
    assert answer(Form(first), facts.batch, state.library.folder).say["changes"] == ["Nothing is otherwise."]
    changed = first | {"excess": "5"}
    told = answer(Form(changed), facts.batch, state.library.folder).say["changes"]
    # Water goes with the flakes.
    assert told == ["Excess +5 % instead of +3 %.", "Water to a gram of oil 0.69 g instead of 0.68 g."]
    with server.test_request_context():
        assert PLAN.acts["from"](TYPED, False, "sheet brush-soap")["oils"] == first["oils"]
        in_ounces = PLAN.acts["from"](TYPED, True, "sheet brush-soap")["oils"]
        with pytest.raises(FieldError, match="none of that name"):
            PLAN.acts["from"](TYPED, False, "sheet gone")
    assert isinstance(in_ounces, list) and float(in_ounces[0]["amount"]) == pytest.approx(600 / 28.349523125, rel=1e-5)


@pytest.mark.parametrize("ounces", [False, True])
def test_the_same_oils_are_told_in_weights_and_back(state: AppState, server: Flask, ounces: bool) -> None:
    with server.test_request_context():
        by_weight = PLAN.acts["choose"](TYPED, ounces, "by=grams")
        back = PLAN.acts["choose"](by_weight, ounces, "by=shares")
    amounts = [float(row["amount"]) for row in by_weight["oils"]]  # type: ignore[attr-defined]
    assert amounts == pytest.approx([700.0, 300.0])
    assert [float(row["amount"]) for row in back["oils"]] == pytest.approx([70.0, 30.0])  # type: ignore[attr-defined]
    assert float(str(back["oil_g"])) == pytest.approx(1000.0)


def keep(client: FlaskClient, typed: dict[str, object], uid: str = "one") -> tuple[int, dict[str, str]]:
    answered = client.post("/bench/sheets/keep", json={"sum": "plan", "form": typed, "id": uid}, headers=OURS)
    return answered.status_code, answered.get_json()


def test_a_plan_is_kept_once_however_often_the_tap_arrives(client: FlaskClient, state: AppState) -> None:
    for _ in range(2):
        assert keep(client, TYPED) == (200, {"kept": "Hand soap", "to": "/bench/sheets/hand-soap"})
    (kept,) = sheets_of(state.library.folder)
    assert kept.batch is not None and [oil.grams for oil in kept.batch.oils] == [700.0, 300.0]
    status, refused = keep(client, TYPED | {"oil_g": "500"}, "two")
    assert status == 400 and "one of that name is kept already" in refused["error"]
    assert keep(client, TYPED | {"oil_g": "500", "replace": "yes"}, "three")[0] == 200
    batch = read_kept_sheet(state.library.folder, "hand-soap")
    assert [oil.grams for oil in batch.oils] == [350.0, 150.0]
    assert keep(client, TYPED | {"title": ""}, "four")[1]["field"] == "title"


def test_a_cook_is_begun_with_a_kept_sheet_or_takes_it(client: FlaskClient, state: AppState, server: Flask) -> None:
    folder = state.library.folder
    keep_sheet(folder, brush())
    with server.test_request_context():
        assert "Begin a cook with this sheet" in markup(kept_sheet.layout("brush-soap").main)
        assert "/bench/sheets/brush-soap" in markup(kept_sheets.layout().main)
    begun = client.post("/bench/sheets/begin", json={"sheet": "brush-soap", "id": "one"}, headers=OURS).get_json()
    again = client.post("/bench/sheets/begin", json={"sheet": "brush-soap", "id": "one"}, headers=OURS).get_json()
    assert again == begun and begun["to"] == f"/?cook={begun['cook']}"
    batch = load(folder / f"{begun['cook']}.cook").batch
    assert batch is not None and batch.title == "Brush soap" and batch.oils == brush().oils
    refused = client.post("/bench/sheets/begin", json={"sheet": "brush-soap", "id": "two"}, headers=OURS)
    assert refused.status_code == 400 and "running already" in refused.get_json()["error"]


def test_the_page_of_an_idle_cooker_begins_with_a_kept_sheet(state: AppState, server: Flask) -> None:
    with server.test_request_context():
        assert "With a kept sheet" not in markup(now.layout().main)
        keep_sheet(state.library.folder, brush())
        assert "Begin a cook with Brush soap" in markup(now.layout().main)


@pytest.fixture
def maker(tmp_path: Path) -> Iterator[Maker]:
    made = Maker(tmp_path, SystemClock(), hours=0.1, events=False)
    yield made
    made.recorder.close()


def test_a_cook_under_way_takes_a_kept_sheet(client: FlaskClient, state: AppState, server: Flask, maker: Maker) -> None:
    keep_sheet(state.library.folder, brush())
    with server.test_request_context():
        assert "Take it for Kitchen batch" in markup(kept_sheet.layout("brush-soap").main)
    sent = {"sheet": "brush-soap", "cook": maker.path.stem, "id": "one"}
    assert client.post("/bench/sheets/take", json=sent, headers=OURS).status_code == 200
    assert state.cook(maker.path.stem).title() == "Brush soap"


def test_a_cook_without_a_sheet_leads_to_one_before_the_lid(state: AppState, server: Flask) -> None:
    cook = state.begin()
    with server.test_request_context():
        assert "No batch sheet yet" in markup(now.layout().main)
        cook.put_sheet(SHEET)
        assert "No batch sheet yet" not in markup(now.layout().main)


def test_a_kept_sheet_is_removed_and_none_is_found_by_a_path(client: FlaskClient, state: AppState) -> None:
    keep_sheet(state.library.folder, brush())
    for name in ("../brush-soap", "gone", ""):
        refused = client.post("/bench/sheets/remove", json={"sheet": name, "id": f"x{name}"}, headers=OURS)
        assert refused.status_code == 400
    client.post("/bench/sheets/remove", json={"sheet": "brush-soap", "id": "one"}, headers=OURS)
    assert sheets_of(state.library.folder) == []


def test_the_first_paint_of_a_plan_has_its_fields_and_what_follows(state: AppState, server: Flask) -> None:
    keep_sheet(state.library.folder, brush())
    with server.test_request_context():
        empty = markup(bench_sums.layout("plan").main)
        begun = markup(bench_sums.layout("plan", sheet="brush-soap").main)
        with pytest.raises(MonitorError, match="none of that name"):
            bench_sums.layout("plan", sheet="gone")
    assert "Part of all oils" in empty and "Begins from: an empty sheet" in empty
    assert "Begins from: Brush soap" in begun and "Nothing is otherwise." in begun
