"""What the kitchen has learned, as pictures, each with what it means for the next cook."""

import json
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient

from dashboard.app import make_app
from monitor.session import CookLibrary, kitchen_model, kitchen_models
from monitor.storage import load
from tests.dashboard.dash_requests import Part, answer_of, answers_of, chart_of

INVENTED = Path(__file__).resolve().parents[3] / "recordings"
STARTED = {("start", "data"): True}
# The acid of a sample as such a paste takes it (mL of 0.1 mol/L for 1 g).
SAMPLE = {"acid_ml": 3.2, "acid_mol_l": 0.1, "sample_g": 1.0}


@pytest.fixture
def samples(tmp_path: Path) -> Path:
    """The three invented cooks, which teach nothing."""
    for path in INVENTED.glob("*.cook"):
        shutil.copy(path, tmp_path)
    return tmp_path


@pytest.fixture
def taught(samples: Path) -> Path:
    """The same cooks as a rig would have sent them."""
    for path in samples.glob("*.cook"):
        with closing(sqlite3.connect(path)) as connection, connection:
            connection.execute("UPDATE about SET value = 'rig:' WHERE key = 'source'")
    return samples


def titrate(path: Path) -> None:
    at = load(path).started + 3 * 3600.0
    with closing(sqlite3.connect(path)) as connection, connection:
        row = ("titrated-here", "titrated", at, at, json.dumps(SAMPLE))
        connection.execute("INSERT INTO event (uid, kind, measured, known, fields) VALUES (?, ?, ?, ?, ?)", row)


def client_of(folder: Path) -> FlaskClient:
    client = make_app(CookLibrary(folder), "key").test_client()
    client.get("/?key=key")
    return client


def kitchen_chart(client: FlaskClient, name: str) -> dict[str, Any]:
    """A chart of the page with its sentence for the next cook as ``means``."""
    part = {"chart": name, "part": "data"}
    outputs: list[tuple[Part, str]] = [(part, "data"), (f"{name}-means", "children")]
    if name == "need-by-cook":
        outputs.append(("learned", "children"))
    found = answers_of(client, outputs, STARTED)
    data: dict[str, Any] = found[json.dumps(part, separators=(",", ":"))]["data"]
    return {**data, "means": found[f"{name}-means"]["children"]}


def test_the_need_narrows_and_the_next_cook_is_told_what_to_expect(taught: Path) -> None:
    client = client_of(taught)
    need = kitchen_chart(client, "need-by-cook")
    assert [row[0] for row in need["rows"]] == ["0", "1", "2", "3"]
    middle = need["rows"][-1][1].removesuffix(" min")
    assert f"For the next cook: about {middle} min at 95 °C" in need["means"]
    page = client.get("/kitchen").text
    assert "No cook has told of it yet. Titrate a sample" in page and "true-excess" not in page


def test_the_last_model_of_a_kitchen_is_that_of_today(taught: Path) -> None:
    models = kitchen_models(taught)
    assert [model.cooks for model in models] == [0, 1, 2, 3]
    assert (models[-1].weight == kitchen_model(taught).weight).all()


def test_the_warm_up_is_drawn_with_the_plateau(taught: Path) -> None:
    warm = kitchen_chart(client_of(taught), "warm-up")
    assert [row[0] for row in warm["rows"]] == sorted((path.stem for path in taught.glob("*.cook")), reverse=True)
    assert f"expect the paste at about {kitchen_model(taught).plateau_c:.0f} °C" in warm["means"]


def test_a_titrated_sample_teaches_the_true_excess(taught: Path) -> None:
    titrate(sorted(taught.glob("*.cook"))[1])
    client = client_of(taught)
    assert "Of Invented: a power cut and late stirs, the latest batch" in client.get("/kitchen").text
    excess = kitchen_chart(client, "true-excess")
    before, after = excess["rows"]
    assert (before[0], after[0]) == ("before the sample", "after the cook")
    assert f"about {after[1]} in excess".replace(" %", "\u00a0%") in excess["means"]

    def width(row: list[str]) -> float:
        low, high = row[2].removesuffix(" %").replace("−", "-").split(" to ")
        return float(high) - float(low)

    assert width(after) <= width(before)


def test_stated_times_are_held_against_what_came(samples: Path) -> None:
    client = client_of(samples)
    drawn: dict[str, Any] = chart_of(client, "coverage", STARTED)
    assert [row[-1] for row in drawn["rows"]] == ["came true"] * 3 and "3 of 3 came true" in str(drawn["words"])
    part = json.dumps({"chart": "coverage", "part": "data"}, separators=(",", ":"))
    counted = answer_of(client, ("counted", "children"), {(part, "data"): {}})
    assert counted.count("3 of 3") == 6 and "Too few to tell yet" in counted


def test_invented_cooks_teach_nothing_and_the_page_says_what_will_stand_here(samples: Path) -> None:
    page = client_of(samples).get("/kitchen").text
    assert "Nothing is learned yet" in page and "after the first finished cook with a clarity check" in page
    assert 'id="truth"' in page and "need-by-cook" not in page


def test_an_empty_folder_says_what_will_stand_here(tmp_path: Path) -> None:
    page = client_of(tmp_path).get("/kitchen").text
    assert "after the first cook with a titrated sample" in page and "plotly-lean" not in page


def test_the_address_of_before_leads_here(tmp_path: Path) -> None:
    led = client_of(tmp_path).get("/truth")
    assert led.status_code == 301 and led.location == "/kitchen#truth"


@pytest.mark.parametrize("page", ["/cooks", "/set-up"])
def test_the_kitchen_is_linked(tmp_path: Path, page: str) -> None:
    assert 'href="/kitchen"' in client_of(tmp_path).get(page).text
