"""Where a batch stands is a function of its events alone, from the clear sample to the bottles."""

from collections.abc import Mapping
from pathlib import Path

import pytest

from monitor.model import Event, local, make_event
from monitor.runtime.clock import JumpClock
from monitor.session import CookLibrary, is_in_hand, standing, summary_line
from monitor.session.batch_standing import FORGOTTEN_S, after_steps
from monitor.storage import summary, under_way
from tests.dashboard.seeded import Maker

T0 = 1_773_480_000.0
HOUR, DAY = 3600.0, 86_400.0
COOKED: tuple[tuple[str, float, Mapping[str, object]], ...] = (
    ("lid on", -4 * HOUR, {}),
    ("checked", -HOUR, {"result": "clear"}),
    ("finished", 0.0, {}),
)


def events(*later: tuple[str, float, Mapping[str, object]]) -> list[Event]:
    """Those of a cook that came clear and was finished at T0, and what was logged later."""
    made = [make_event(f"event-{n:03}", k, T0 + at, T0 + at, f) for n, (k, at, f) in enumerate((*COOKED, *later))]
    return sorted(made, key=lambda event: event.measured)


WATER: tuple[str, float, Mapping[str, object]] = ("water added", HOUR, {"grams": 900.0})
DOSE: tuple[str, float, Mapping[str, object]] = ("neutraliser added", DAY, {"reagent": "citric acid", "grams": 4.0})
WEEK: tuple[str, float, Mapping[str, object]] = ("timer set", DAY + HOUR, {"step": "settling", "minutes": 10_080.0})


@pytest.mark.parametrize(
    ("later", "at_s", "words"),
    [
        ((), HOUR, "paste, not diluted yet"),
        ((), FORGOTTEN_S + 1, ""),
        ((("paste weighed", 1800.0, {"grams": 1500.0}),), 2000.0, "paste weighed"),
        ((WATER, ("timer set", 2 * HOUR, {"step": "rest", "minutes": 10.0})), 2 * HOUR + 60, "resting until "),
        ((WATER,), 20 * HOUR, "rested in its water"),
        ((WATER, DOSE), DAY + HOUR, "neutralised"),
        ((WATER, DOSE, WEEK), 2 * DAY, "resting until "),
        ((WATER, DOSE, WEEK), 9 * DAY, "rested"),
        ((WATER, DOSE, WEEK, ("settled", 9 * DAY, {"look": "cloudy"})), 9 * DAY, "rested"),
        ((WATER, DOSE, WEEK, ("settled", 9 * DAY, {"look": "filtered"})), 9 * DAY, "ready to be bottled"),
        ((WATER, ("bottled", 10 * DAY, {"bottles": 12.0, "bottle_ml": 250.0})), 400 * DAY, "in 12 bottles"),
        ((WATER, ("bottled", 10 * DAY, {"bottles": 1.0, "bottle_ml": 250.0})), 400 * DAY, "in 1 bottle"),
    ],
)
def test_where_it_stands(later: tuple[tuple[str, float, Mapping[str, object]], ...], at_s: float, words: str) -> None:
    found = standing(events(*later), T0 + at_s)
    assert found.startswith(words) and bool(found) == bool(words)


def test_a_rest_is_told_by_its_hour_by_its_day_or_by_its_date() -> None:
    week, over = events(WATER, DOSE, WEEK), T0 + 8 * DAY + HOUR
    day, date = f"{local(over):%A}", f"{local(over):%A}, {local(over).day} Mar"
    told = [standing(week, over - before_s) for before_s in (7 * DAY - 60, 5 * DAY, 60)]
    assert told == [f"resting until {when}" for when in (date, day, f"{local(over):%H:%M}")]


def test_a_cook_that_never_came_clear_or_still_runs_stands_nowhere() -> None:
    running = [event for event in events(WATER) if event.kind != "finished"]
    hazy = [event for event in events(WATER) if event.kind != "checked"]
    assert standing(running, T0 + DAY) == standing(hazy, T0 + DAY) == ""


def test_a_step_taken_back_is_next_again() -> None:
    def next_kind(found: list[Event]) -> str:
        return next(one.step.kind for one in after_steps(found, T0 + DAY + 60) if one.state == "next")

    with_dose = events(WATER, ("ph read", DAY - 60, {"ph": 10.4}), ("jar neutralised", DAY - 30, JAR), DOSE)
    assert next_kind(with_dose) == "dose"
    assert next_kind([event for event in with_dose if event.kind != "neutraliser added"]) == "neutraliser added"


JAR: dict[str, object] = {"jar_g": 200.0, "reagent": "citric acid", "stock_g": 3.0, "ph": 9.9}


def test_a_batch_is_in_hand_until_its_bottles_or_until_nobody_goes_on() -> None:
    assert is_in_hand(events(WATER), T0 + DAY)
    assert not is_in_hand(events(WATER), T0 + HOUR + FORGOTTEN_S + 1)
    assert is_in_hand(events(WATER, ("timer set", DAY, {"step": "settling", "minutes": 40_000.0})), T0 + 28 * DAY)
    assert not is_in_hand(events(WATER, ("bottled", DAY, {"bottles": 3.0, "bottle_ml": 500.0})), T0 + DAY)


def test_work_after_the_cook_has_its_own_time_and_does_not_lengthen_the_cook(tmp_path: Path) -> None:
    clock = JumpClock(T0)
    made = Maker(tmp_path, clock, hours=2.0)
    made.log("checked", 7100, {"result": "clear"})
    made.finish()
    before = summary(made.path)
    clock.moment += 3 * DAY
    cook = CookLibrary(tmp_path, lambda _tie: clock).cook(made.path.stem)
    ended = cook.now()
    bottled = cook.log_event("bottled", None, {"bottles": 6, "bottle_ml": 250})
    assert bottled.measured == bottled.known == clock.moment
    # A check that is remembered belongs to the cook.
    assert cook.log_event("checked", None, {"result": "clear"}).measured == pytest.approx(ended)
    assert cook.now() == pytest.approx(ended) and summary(made.path).last_known == pytest.approx(before.last_known)
    assert [event.kind for event in cook.history().events][-1] == "bottled"
    assert "in 6 bottles" in summary_line(summary(made.path), clock.moment)
    cook.take_back(bottled.uid)
    assert not cook.history().events_of("bottled") and cook.now() == pytest.approx(ended)


def test_bottling_the_last_batch_does_not_give_up_the_next_cook(tmp_path: Path) -> None:
    clock = JumpClock(T0)
    made = Maker(tmp_path, clock, hours=1.0)
    made.finish()
    clock.moment += DAY
    library = CookLibrary(tmp_path, lambda _tie: clock)
    new = library.begin("cooker", "", None, clock)
    clock.moment += HOUR
    library.cook(made.path.stem).log_event("bottled", None, {"bottles": 6, "bottle_ml": 250})
    assert under_way(tmp_path) == {"cooker": new.path}
