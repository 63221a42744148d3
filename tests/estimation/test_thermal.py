"""The forecast of the paste's temperature: cool cookers, a heat that is turned down, logged or not, and a power cut."""

import numpy as np
import pytest

from monitor.estimation.heat_setting import heat_changes, heat_is_off
from monitor.estimation.thermal import Paths, paths_ahead
from monitor.model import Event, Floats, make_event

LAG_S, FADE_S, REACTION_K, ROOM_C = 2400.0, 1800.0, 15.0, 22.0
BLOCK_S = 30.0
LID_ON = make_event("lid", "lid on", 0.0, 0.0)


def curve(targets_c: Floats, start_c: float = 65.0, reaction_k: float = REACTION_K) -> Floats:
    """Lumped capacitance towards targets that change by the block, with a reaction that warms and fades (science, 6)."""
    level_c = [start_c]
    for place, target_c in enumerate(targets_c[1:]):
        pulled_c = target_c + reaction_k * np.exp(-place * BLOCK_S / FADE_S)
        level_c.append(level_c[-1] + (pulled_c - level_c[-1]) * BLOCK_S / LAG_S)
    return np.array(level_c)


def steady(target_c: float, minutes: float) -> Floats:
    return np.full(round(minutes * 60.0 / BLOCK_S), target_c)


def ahead(targets_c: Floats, *events: Event, plateau_c: float = 93.0, plateau_sd_c: float = 6.0) -> Paths:
    times: Floats = BLOCK_S * np.arange(len(targets_c), dtype=np.float64)
    return paths_ahead(times, curve(targets_c), (LID_ON, *events), float(times[-1]), plateau_c, plateau_sd_c)


def spread_c(paths: Paths, minutes: float) -> tuple[float, float, float]:
    """The 10, 50 and 90 % points so many minutes ahead."""
    forecast = paths.ahead(0.0, 60.0 * minutes)
    return forecast.low_c[-1], forecast.middle_c[-1], forecast.high_c[-1]


def heat(minutes: float, setting: str) -> Event:
    return make_event(f"heat {minutes}", "heat", 60.0 * minutes, 60.0 * minutes, {"setting": setting})


@pytest.mark.parametrize("plateau_c", [79.0, 82.0, 85.0])
def test_a_cool_cooker_is_known_within_the_hour_and_not_waited_for(plateau_c: float) -> None:
    low_c, middle_c, high_c = spread_c(ahead(steady(plateau_c, 60.0)), 120.0)
    assert middle_c == pytest.approx(plateau_c, abs=3.0)
    assert high_c < plateau_c + 7.0
    assert low_c > plateau_c - 6.0


@pytest.mark.parametrize("plateau_c", [88.0, 93.0, 98.0])
def test_a_usual_cooker_is_known_as_well(plateau_c: float) -> None:
    _, middle_c, _ = spread_c(ahead(steady(plateau_c, 60.0)), 120.0)
    assert middle_c == pytest.approx(plateau_c, abs=3.0)


def test_an_early_warmth_of_the_reaction_is_not_taken_for_the_plateau() -> None:
    # After half an hour the paste is hotter than the cooker alone would make it.
    targets_c = steady(82.0, 30.0)
    assert curve(targets_c)[-1] > curve(targets_c, reaction_k=0.0)[-1] + 4.0
    _, middle_c, _ = spread_c(ahead(targets_c, plateau_c=82.0, plateau_sd_c=2.8), 120.0)
    assert middle_c == pytest.approx(82.0, abs=2.5)


def test_a_heat_that_was_turned_down_is_rather_expected_to_stay_down_until_it_is_turned_up() -> None:
    down = np.concatenate([steady(94.0, 90.0), steady(80.0, 45.0)])
    logged = ahead(down, heat(90.0, "low"))
    assert spread_c(logged, 180.0)[1] < 84.0
    # The longer it lasts, the less a return is expected.
    longer = ahead(np.concatenate([down, steady(80.0, 120.0)]), heat(90.0, "low"))
    assert spread_c(longer, 180.0)[2] < spread_c(logged, 180.0)[2] - 4.0
    # Twenty minutes after the fall it may still come back, logged or not.
    soon = np.concatenate([steady(94.0, 90.0), steady(80.0, 20.0)])
    assert spread_c(ahead(soon, heat(90.0, "low")), 180.0)[2] > 88.0
    assert spread_c(ahead(soon), 180.0)[2] > 88.0
    up = np.concatenate([down, steady(94.0, 5.0)])
    low_c, middle_c, _ = spread_c(ahead(up, heat(90.0, "low"), heat(135.0, "high")), 180.0)
    assert middle_c == pytest.approx(94.0, abs=2.5)
    assert low_c > 88.0


def test_a_word_that_is_no_setting_leaves_the_curve_to_tell() -> None:
    down = np.concatenate([steady(94.0, 90.0), steady(80.0, 45.0)])
    assert spread_c(ahead(down, heat(90.0, "by a notch")), 60.0)[1] == pytest.approx(82.0, abs=4.0)


def test_the_power_is_expected_back_and_after_heat_off_it_is_not() -> None:
    cut = np.concatenate([steady(94.0, 90.0), steady(ROOM_C, 20.0)])
    _, middle_c, high_c = spread_c(ahead(cut), 120.0)
    assert middle_c > 75.0
    assert high_c > 88.0
    off = make_event("off", "heat off", 5400.0, 5400.0)
    assert spread_c(ahead(cut, off), 120.0)[2] < 45.0


def test_the_weights_are_probabilities_and_the_paths_begin_at_the_last_temperature() -> None:
    targets_c = steady(90.0, 50.0)
    paths = ahead(targets_c)
    assert paths.weights.sum() == pytest.approx(1.0)
    assert paths.temperature_c[:, 0] == pytest.approx(curve(targets_c)[-1])


def test_a_cooker_on_low_from_the_start_is_no_lowered_one() -> None:
    before = make_event("before", "heat", 0.0, 0.0, {"setting": "LOW "})
    later = (heat(30.0, "warm"), heat(60.0, "low"), heat(90.0, "high"), heat(95.0, "a bit less"))
    assert [change.lowered for change in heat_changes((before, LID_ON, *later))] == [False, True, False, False, None]
    assert [change.lowered for change in heat_changes((LID_ON, heat(30.0, "low")))] == [True]


def test_heat_is_off_until_something_says_that_it_is_on() -> None:
    off = make_event("off", "heat off", 600.0, 600.0)
    lid_again = make_event("lid again", "lid on", 900.0, 900.0)
    assert heat_is_off((LID_ON, off))
    assert heat_is_off((LID_ON, heat(10.0, "Off")))
    assert not heat_is_off((LID_ON, off, heat(12.0, "high")))
    assert not heat_is_off((LID_ON, off, lid_again))
    assert [change.lowered for change in heat_changes((LID_ON, off, lid_again))] == [True, False]
