"""The model of a falling paste, held against closed forms, and what it makes of falls that are known."""

import math

import numpy as np
import pytest

from monitor.detection.cooling_model import STEAM_PER_C, STEP_S, log_odds_of_lid, responses
from monitor.model import Floats
from monitor.simulator.vessel import saturation_kpa

# A paste of 3400 J/K in a wall of 2100 J/K, 9 W/K between them, 2.2 W/K lost: within the cookers that are fitted.
TO_PASTE, TO_WALL, LOSS = 9.0 / 3400.0, 9.0 / 2100.0, 2.2 / 5500.0


def one(at: Floats, off: float, steam: Floats | None) -> tuple[Floats, Floats]:
    to_paste, to_wall, loss, on, ends = (np.array([value]) for value in (TO_PASTE, TO_WALL, LOSS, 0.0, off))
    paste, wall = responses(at, to_paste, to_wall, loss, on, ends, steam)
    return paste[0], wall[0]


def test_without_heat_both_bodies_end_in_one_exponential_decay() -> None:
    # Newton's law for a lumped body: T = exp(-t / tau) (Incropera and DeWitt, chapter 5, lumped capacitance). The wall
    # leads by a constant share once the first minutes are over, so both go down by one rate.
    at = np.arange(0.0, 4 * 3600.0, STEP_S)
    paste, _ = one(at, math.inf, None)
    left = 1.0 + paste
    late = at > 3600.0
    rate = -np.diff(np.log(left[late])) / STEP_S
    assert np.ptp(rate) < 0.02 * rate.mean()
    # The slower root of the two bodies' characteristic equation.
    loss = LOSS * (1.0 + TO_WALL / TO_PASTE)
    total = TO_PASTE + TO_WALL + loss
    slower = 0.5 * (total - math.sqrt(total**2 - 4.0 * TO_PASTE * loss))
    assert rate.mean() == pytest.approx(slower, rel=0.02)


def test_lost_heat_begins_gradually_and_an_open_lid_abruptly() -> None:
    at = np.arange(0.0, 1200.0, STEP_S)
    cut, cut_wall = one(at, math.inf, None)
    lid, lid_wall = one(at, math.inf, np.ones_like(at))
    first, tenth = 4, 20
    assert cut[first] / cut[tenth] < 0.1 < lid[first] / lid[tenth]
    # The gap from paste to wall closes without heat and opens under an open lid.
    assert np.all((cut_wall - cut)[2:] < 0.0) and np.all((lid_wall - lid)[2:] > 0.0)


def test_an_open_surface_loses_several_times_the_heat_of_a_covered_one() -> None:
    # Evaporation from an open pool goes by the difference of vapour pressures (ASHRAE Handbook, HVAC Applications,
    # natatoriums: w = A (p_w - p_a)(0.089 + 0.0782 V) / Y, kg/s with kPa and kJ/kg); a paste is no pool, but the same
    # order. At 92 degC over a pot of 0.035 m2 in still air that is several times the 40 W its covered top loses.
    evaporated_w = 1000.0 * 0.035 * (saturation_kpa(92.0) - 0.5 * saturation_kpa(20.0)) * 0.089
    assert 4.0 < evaporated_w / 40.0 < 8.0


@pytest.mark.parametrize("paste_c", [85.0, 90.0, 95.0])
def test_evaporation_grows_with_the_vapour_pressure(paste_c: float) -> None:
    # Alduchov and Eskridge 1996.
    grows = math.log(saturation_kpa(paste_c + 1.0) / saturation_kpa(paste_c))
    assert grows == pytest.approx(STEAM_PER_C, abs=0.005)


def fallen(lid: bool, seed: int = 1) -> tuple[Floats, Floats]:
    """Paste and wall, degC, twenty minutes into a fall that begins ten minutes after the first bin."""
    at = np.arange(-600.0, 1200.0, STEP_S)
    paste, wall = one(at, math.inf, np.ones_like(at) if lid else None)
    rng = np.random.default_rng(seed)
    size_c = 30.0 if lid else 70.0
    return (
        92.0 + size_c * paste + rng.normal(0.0, 0.1, len(at)),
        98.0 + size_c * wall + rng.normal(0.0, 0.2, len(at)),
    )


@pytest.mark.parametrize("lid", [True, False])
def test_two_probes_tell_the_cause_of_a_known_fall(lid: bool) -> None:
    paste_c, wall_c = fallen(lid)
    odds = log_odds_of_lid(paste_c, wall_c, 20, None)
    assert odds > 5.0 if lid else odds < -5.0


def test_one_probe_tells_lost_heat_and_noise_decides_nothing() -> None:
    paste_c, _ = fallen(False)
    assert log_odds_of_lid(paste_c, None, 20, None) < -2.0
    still_c = 92.0 + np.random.default_rng(2).normal(0.0, 0.1, 60)
    assert abs(log_odds_of_lid(still_c, None, 20, None)) < 2.0
