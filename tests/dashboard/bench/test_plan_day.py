"""The day planned on the bench: in the viewer's zone, from a start or an end, and refused in one sentence."""

from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import icalendar
import pytest
from flask import Flask
from flask.testing import FlaskClient

from dashboard.auth.access_control import RequestGuard
from dashboard.bench.day import answer, coming_days, planned_day
from dashboard.bench.form import FieldError, Form
from dashboard.components.bench_words import Answer
from dashboard.components.markup import markup
from dashboard.components.viewer import ZONE_COOKIE
from dashboard.live.app_state import APP_STATE, AppState
from dashboard.pages import bench_sums
from dashboard.routes.bench import add_bench
from monitor.formulation import read_sheet
from monitor.plots import alt_text, table
from monitor.runtime import SystemClock
from monitor.session import CookLibrary
from monitor.storage import keep_sheet

KEY = "a-key-for-tests"
# Thirteen hours ahead of UTC then, and in another day.
ZONE = ZoneInfo("Pacific/Auckland")
NOW = datetime(2026, 12, 5, 12, 0, tzinfo=ZONE).timestamp()
SHEET = 'title = "Hand soap"\n[[oil]]\nname = "olive"\ngrams = 700\n[[oil]]\nname = "coconut"\ngrams = 300\n[water]\ngrams = 700'


def asked(tmp_path: Path, **typed: object) -> Answer:
    return answer(Form(typed), read_sheet(SHEET), tmp_path, NOW, ZONE)


def local(moment: float) -> datetime:
    return datetime.fromtimestamp(moment, ZONE)


@pytest.mark.parametrize("typed", ["14:00", "14.00", "14,00", "1400", "14"])
def test_a_start_leads_to_a_clear_time_and_to_bottles(tmp_path: Path, typed: str) -> None:
    said = asked(tmp_path, how="start", day="2026-12-05", time=typed)
    assert said.out["start"] == "Sat 14:00"
    assert said.rows["Saturday 5 December"][0] == (
        "14:00",
        "Melt the oils on low, lye in, blend to a thick trace: about 45 min of work.",
    )
    # A night, then a week, at nine in the morning of the viewer and not of the machine.
    assert list(said.rows)[-1] == "Sunday 13 December" and said.rows["Sunday 13 December"][0][0] == "09:00"
    assert said.out["bottled"] == "Sun 13 Dec"
    assert said.say["headline"][0].startswith("Start at 14:00 on Saturday 5 December. Clear between ")
    assert alt_text(said.figure).startswith("Hand soap on Saturday 5 December: oils on low at 14:00, clear between ")
    assert table(said.figure)["when"].iloc[0] == "Sat 14:00"


def test_nothing_typed_is_a_start_of_now(tmp_path: Path) -> None:
    assert asked(tmp_path).out["start"] == "Sat 12:10"


def test_the_latest_start_is_told_for_a_clear_time_and_for_a_day_of_bottles(tmp_path: Path) -> None:
    plan = planned_day(Form({"how": "clear", "day": "2026-12-06", "time": "18:00"}), None, tmp_path, NOW, ZONE)
    assert 0.0 <= datetime(2026, 12, 6, 18, 0, tzinfo=ZONE).timestamp() - plan.clear_at[2] < 60.0
    plan = planned_day(Form({"how": "bottled", "day": "2026-12-19"}), None, tmp_path, NOW, ZONE)
    assert local(plan.bottled_at).date().isoformat() == "2026-12-19"
    assert local(plan.clear_at[2]).strftime("%Y-%m-%d %H:%M")[:13] in ("2026-12-11 21", "2026-12-11 22")


@pytest.mark.parametrize(
    ("typed", "field", "words"),
    [
        (
            {"time": "11:00"},
            "time",
            "The start, Saturday 5 December, 11:00, has passed; it is Saturday 5 December, 12:00",
        ),
        ({"how": "clear", "time": "13"}, "time", "To be clear by Saturday 5 December, 13:00"),
        ({"how": "bottled", "day": "2026-12-08"}, "time", "To be in bottles on Tuesday 8 December"),
        ({"time": "25"}, "time", "write it like 14:00"),
        ({"time": "soon"}, "time", "write it like 14:00"),
        ({"how": "clear"}, "time", "is empty"),
        ({"day": "soon"}, "time", "choose one of the list"),
        ({"day": "2030-01-01", "time": "9"}, "time", "more than two years ahead"),
        ({"prepare_min": "1"}, "prepare_min", "from 5 to 480"),
        ({"rest_days": "90"}, "rest_days", "from 0 to 60"),
    ],
)
def test_what_cannot_be_is_refused_in_one_sentence(
    tmp_path: Path, typed: dict[str, object], field: str, words: str
) -> None:
    with pytest.raises(FieldError) as refused:
        asked(tmp_path, **typed)
    assert refused.value.field == field and words in refused.value.why and refused.value.why.count(". ") == 0


def test_an_hour_that_the_change_of_clocks_takes_out_does_not_move_the_morning(tmp_path: Path) -> None:
    # In Auckland clocks go back in the night to 5 April 2026 (IANA time zone database).
    before = datetime(2026, 4, 4, 10, 0, tzinfo=ZONE).timestamp()
    plan = planned_day(Form({"day": "2026-04-04", "time": "14"}), None, tmp_path, before, ZONE)
    look, bottle = (next(step for step in plan.steps if step.kind == kind) for kind in ("look", "bottle"))
    assert [local(step.at).strftime("%d %H:%M") for step in (look, bottle)] == ["05 09:00", "12 09:00"]


def test_the_days_to_choose_are_those_of_the_viewer() -> None:
    days = coming_days(NOW, ZONE)
    assert list(days.items())[:2] == [
        ("2026-12-05", "today, Saturday 5 December"),
        ("2026-12-06", "tomorrow, Sunday 6 December"),
    ]


@pytest.fixture
def client(tmp_path: Path) -> FlaskClient:
    server = Flask("dashboard", static_folder=None)
    RequestGuard(KEY).install(server)
    state = server.extensions[APP_STATE] = AppState(CookLibrary(tmp_path))
    keep_sheet(tmp_path, read_sheet(SHEET))
    add_bench(server, state)
    made = server.test_client()
    made.get(f"/?key={KEY}")
    made.set_cookie(ZONE_COOKIE, ZONE.key)
    return made


def test_the_plan_is_handed_out_for_a_calendar_and_as_text(client: FlaskClient, tmp_path: Path) -> None:
    now = SystemClock().now()
    said = answer(Form({"base": "sheet hand-soap"}), read_sheet(SHEET), tmp_path, now, ZONE)
    written = client.get(f"/bench/day.ics?{said.out['query']}")
    events = icalendar.Calendar.from_ical(written.text).walk("VEVENT")
    assert written.mimetype == "text/calendar" and len(events) >= 6
    assert all(str(event["SUMMARY"]).startswith("Hand soap") for event in events)
    text = client.get(f"/bench/day.txt?{said.out['query']}").text
    # The same hours, in the viewer's zone.
    assert text.splitlines()[0].startswith("Hand soap: start at " + said.out["start"].split()[1])
    refused = client.get("/bench/day.txt?start=1000000000")
    assert refused.status_code == 400 and "has passed" in refused.text


def test_the_page_stands_before_its_forecast(client: FlaskClient) -> None:
    with client.application.test_request_context(headers={"Cookie": f"{ZONE_COOKIE}={ZONE.key}"}):
        page = markup(bench_sums.layout("day", sheet="hand-soap").main)
    assert "The batch: Hand soap" in page and "Day: today, " in page and "Wanted at the pot" not in page
