"""How a batch looks after its week: logged on the bench, on the cook's page, and compared across batches."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from flask.testing import FlaskClient

import monitor
from dashboard.app import make_app
from monitor.runtime.clock import JumpClock
from monitor.session import CookLibrary
from monitor.storage import load
from tests.dashboard.dash_requests import answers_of
from tests.dashboard.seeded import Maker

KEY = "a-key-for-tests"
OURS = {"Sec-Fetch-Site": "same-origin"}
OUTPUTS = (
    ({"chart": "outcomes", "part": "data"}, "data"),
    ("outcomes-picture", "hidden"),
    ("outcomes-said", "children"),
    ("outcomes-tables", "children"),
)


@pytest.fixture
def maker(tmp_path: Path) -> Iterator[Maker]:
    made = Maker(tmp_path, JumpClock(), hours=0.5)
    made.log("finished", 1790)
    yield made
    made.recorder.close()


@pytest.fixture
def client(maker: Maker, tmp_path: Path) -> FlaskClient:
    client = make_app(CookLibrary(tmp_path), KEY).test_client()
    client.get(f"/?key={KEY}")
    return client


def keep(client: FlaskClient, maker: Maker, uid: str = "a-tap-of-mine", **form: str) -> tuple[int, str]:
    body = {"sum": "outcome", "cook": maker.path.stem, "unit": "g", "form": form, "keep": "outcome", "id": uid}
    answer = client.post("/bench/keep", json=body, headers=OURS)
    return answer.status_code, answer.text


def test_how_it_looks_is_a_fact_of_the_record_once(client: FlaskClient, maker: Maker) -> None:
    form = {"look": "hazy", "lather": "some", "thickness": "not said", "cloudy_below_c": "12,5"}
    assert "after the week, hazy" in keep(client, maker, **form)[1]
    assert keep(client, maker, **form)[0] == 200
    (event,) = [one for one in load(maker.path).events if one.kind == "outcome"]
    assert event.fields == {"look": "hazy", "lather": "some", "cloudy_below_c": 12.5}
    words = "hazy; lather some; cloudy below 12.5 °C"
    assert words in client.get(f"/cooks/{maker.path.stem}").text
    assert "Bench, Haze" in client.get(f"/bench/outcome?cook={maker.path.stem}").text


@pytest.mark.parametrize(
    ("form", "why"),
    [
        ({}, "Say first whether it is clear, hazy or cloudy."),
        ({"look": "murky"}, "The look is 'murky'; it must be one of not said, clear, hazy, cloudy."),
        ({"look": "clear", "cloudy_below_c": "99"}, "The temperature is 99 °C; it must be from −20 to 60 °C."),
    ],
)
def test_a_mistake_is_one_sentence_at_its_field(
    client: FlaskClient, maker: Maker, form: dict[str, str], why: str
) -> None:
    status, told = keep(client, maker, **form)
    assert status == 400 and why.replace("−", "-") in told.replace("\\u2212", "-").replace("\\u00b0", "°")
    assert not [one for one in load(maker.path).events if one.kind == "outcome"]


def test_without_a_batch_the_page_says_how_to_begin(client: FlaskClient) -> None:
    said = answers_of(client, OUTPUTS, {("start", "data"): True})
    assert said["outcomes-picture"]["hidden"] is True
    assert "No batch has been looked at yet" in str(said["outcomes-said"])


def test_too_few_are_counted_and_listed(client: FlaskClient, maker: Maker, tmp_path: Path) -> None:
    keep(client, maker, look="clear", complaints="<b>stings</b>")
    said = answers_of(client, OUTPUTS, {("start", "data"): True})
    assert "Too few to say: 1 clear and 0 hazy or cloudy." in str(said["outcomes-said"])
    assert "clear; complaints: <b>stings</b>" in str(said["outcomes-tables"])
    assert said["outcomes-picture"]["hidden"] is True
    assert monitor.outcomes(tmp_path)["look"].tolist() == ["clear"]


def test_three_of_each_are_drawn(tmp_path: Path) -> None:
    for number in range(6):
        made = Maker(tmp_path, JumpClock(), hours=0.6 + 0.1 * number, title=f"Batch {number}", seed=number)
        made.log("finished", 2100)
        made.log("outcome", 9e5, {"look": "hazy" if number > 2 else "clear"})
        made.recorder.close()
    client = make_app(CookLibrary(tmp_path), KEY).test_client()
    client.get(f"/?key={KEY}")
    said = answers_of(client, OUTPUTS, {("start", "data"): True})
    assert said["outcomes-picture"]["hidden"] is False
    assert "Nothing is told yet by 3 clear and 3 hazy or cloudy." in str(said["outcomes-said"])
    figure = said['{"chart":"outcomes","part":"data"}']["data"]
    assert [trace["name"] for trace in figure["figure"]["data"]] == ["clear", "hazy or cloudy"]
    assert "By chance" in str(said["outcomes-tables"])
