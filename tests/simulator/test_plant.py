"""The virtual cooker held to what is known outside of it."""

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.simulator.plant import (
    SAPONIFICATION_HEAT_J_G,
    Controls,
    Plant,
    PlantCharge,
    PlantState,
    advance,
    lye_temperature_c,
    pour_lye,
    stir,
)
from monitor.simulator.saponification import Chemistry, conversion_per_s
from monitor.simulator.vessel import Vessel, loss_w, saturation_kpa

CHARGE = PlantCharge(600.0, 540.0, 600.0 * 0.19 * 1.03, 0.03)
PLANT = Plant(CHARGE)
HOT_LYE_C = 75.0


def at_lid_on(cooker: Plant = PLANT) -> PlantState:
    return advance(
        cooker, pour_lye(cooker, PlantState(62.0, 72.0), HOT_LYE_C), Controls(lid_on=False, blending=True), 900.0
    )


def clear_after_min(cooker: Plant, stir_every_min: float = 35.0, longest_min: float = 900.0) -> float:
    """Minutes from lid on until 1 % of the fat is left."""
    state, minutes, stirred = at_lid_on(cooker), 0.0, 0.0
    while state.residual > 0.01 and minutes < longest_min:
        if minutes - stirred >= stir_every_min:
            state = stir(advance(cooker, state, Controls(lid_on=False), 60.0))
            stirred = minutes = minutes + 1.0
        state = advance(cooker, state, Controls(), 60.0)
        minutes += 1.0
    return minutes


crocks = st.builds(
    Vessel,
    power_w=st.floats(70.0, 210.0),
    wall_j_k=st.floats(1200.0, 4500.0),
    wall_to_paste_w_k=st.floats(4.0, 20.0),
    wall_to_room_w_k=st.floats(0.8, 3.0),
    paste_to_room_w_k=st.floats(0.2, 1.2),
    steam_lid_on_w_kpa=st.floats(0.0, 0.15),
    steam_lid_off_w_kpa=st.floats(0.3, 1.5),
    boiling_w_k=st.floats(50.0, 400.0),
    room_c=st.floats(10.0, 32.0),
)


@settings(max_examples=60)
@given(vessel=crocks, heat=st.floats(0.0, 1.0), lid_on=st.booleans(), start_c=st.floats(20.0, 95.0))
def test_heat_supplied_equals_heat_stored_and_lost(vessel: Vessel, heat: float, lid_on: bool, start_c: float) -> None:
    # First law. Losses are reckoned anew from the temperatures alone, by the trapezium rule.
    cooker = Plant(CHARGE, vessel)
    before = after = pour_lye(cooker, PlantState(start_c, start_c), start_c)
    lost_j = put_in_j = 0.0
    last_w = sum(loss_w(vessel, after.wall_c, after.paste_c, lid_on))
    for _ in range(720):
        after = advance(cooker, after, Controls(heat, lid_on), 5.0)
        now_w = sum(loss_w(vessel, after.wall_c, after.paste_c, lid_on))
        lost_j += 5.0 * (last_w + now_w) / 2.0
        put_in_j += vessel.power_w * heat * 5.0
        last_w = now_w
    put_in_j += SAPONIFICATION_HEAT_J_G * CHARGE.oil_g * (after.converted - before.converted)
    stored_j = vessel.wall_j_k * (after.wall_c - before.wall_c)
    stored_j += (CHARGE.oil_j_k + CHARGE.lye_j_k) * (after.paste_c - before.paste_c)
    turned_over_j = put_in_j + abs(stored_j) + abs(lost_j)
    assert abs(put_in_j - stored_j - lost_j) < 1e-3 * turned_over_j
    assert after.heater_j + after.reaction_j == pytest.approx(put_in_j)
    assert after.lost_j == pytest.approx(lost_j, rel=1e-3, abs=50.0)


@settings(max_examples=30)
@given(vessel=crocks, parts=st.lists(st.floats(0.3, 400.0), min_size=1, max_size=6))
def test_many_short_steps_equal_one_long_step(vessel: Vessel, parts: list[float]) -> None:
    cooker = Plant(CHARGE, vessel)
    begun = pour_lye(cooker, PlantState(60.0, 72.0), HOT_LYE_C)
    in_parts = begun
    for part in parts:
        in_parts = advance(cooker, in_parts, Controls(), part)
    at_once = advance(cooker, begun, Controls(), sum(parts))
    assert in_parts.paste_c == pytest.approx(at_once.paste_c, abs=0.02)
    assert in_parts.converted == pytest.approx(at_once.converted, abs=2e-4)


def test_conversion_agrees_with_scipys_solver() -> None:
    from scipy.integrate import solve_ivp

    chemistry = Chemistry()

    def slope(t: float, y: list[float]) -> list[float]:
        mixing = chemistry.settled_mixing + (1.0 - chemistry.settled_mixing) * math.exp(-t / chemistry.settling_s)
        return [conversion_per_s(chemistry, 0.03, 95.0, y[0], mixing)]

    exact = solve_ivp(slope, (0.0, 7200.0), [0.0], rtol=1e-9, atol=1e-12).y[0, -1]
    # A wall and paste so heavy that they stay at 95 degC.
    still = Plant(PlantCharge(600.0, 20_000.0, 117.0, 0.03), Vessel(0.0, 1e12, 20.0, 0.0, 0.0, 0.0, 0.0, room_c=20.0))
    state = advance(still, pour_lye(still, PlantState(95.0, 95.0), 95.0), Controls(), 7200.0)
    assert state.paste_c == pytest.approx(95.0, abs=1.4)
    assert state.residual == pytest.approx(1.0 - exact, rel=0.03)


# Common practice, no source: a cook at about 95 degC, stirred every 35 min, is done in 3 to 4 hours.
def test_a_usual_cook_takes_three_to_four_hours() -> None:
    assert 180.0 <= clear_after_min(PLANT) <= 240.0


def test_the_usual_plateau_is_near_95_degrees() -> None:
    state = advance(PLANT, at_lid_on(), Controls(), 7200.0)
    assert 90.0 < state.paste_c < 97.0


# Simmons and Appleton 1908 and other old trade sources: slow until soap emulsifies, fast middle, slow tail.
def test_the_reaction_is_fastest_in_the_middle() -> None:
    rates = [conversion_per_s(Chemistry(), 0.03, 95.0, x, 1.0) for x in (0.0, 0.2, 0.95)]
    assert rates[1] > 1.5 * rates[0]
    assert rates[1] > 5.0 * rates[2]


@pytest.mark.parametrize(
    ("kinder", "harder"),
    [
        (PLANT, Plant(CHARGE, replace(Vessel(), power_w=135.0))),
        (Plant(replace(CHARGE, excess=0.06)), PLANT),
        (PLANT, Plant(replace(CHARGE, excess=0.0))),
    ],
    ids=["hotter", "more excess", "some excess"],
)
def test_better_conditions_clear_sooner(kinder: Plant, harder: Plant) -> None:
    assert clear_after_min(kinder) + 10.0 < clear_after_min(harder)


def test_more_stirring_clears_sooner() -> None:
    times = [clear_after_min(PLANT, minutes) for minutes in (20.0, 35.0, 60.0, 120.0)]
    assert times == sorted(times)
    assert times[-1] > times[0] + 30.0


def test_too_little_alkali_never_clears() -> None:
    assert clear_after_min(Plant(replace(CHARGE, excess=-0.03))) >= 900.0


def test_there_is_no_reaction_without_lye() -> None:
    assert advance(PLANT, PlantState(60.0, 70.0), Controls(), 3600.0).converted == 0.0


# Parker, NSRDS-NBS 2 (1965), as the CRC Handbook has it: 57.61 kJ/mol. 1 mol (56.1 g) in 10 mol of water (180 g): by hand
# 57 600 J / (180.15 g x 4.18 + 56.1 g x 0.9 J/(g K)) = 71.7 K.
def test_lye_heats_up_by_its_heat_of_solution() -> None:
    assert lye_temperature_c(56.1056, 180.15, 20.0) - 20.0 == pytest.approx(71.7, abs=0.1)


# Soap paste 2.6-2.9, vegetable oils 1.7-2.2 kJ/(kg K) (handbook values, from memory).
def test_specific_heats_are_in_their_published_ranges() -> None:
    assert 2.6 <= (CHARGE.oil_j_k + CHARGE.lye_j_k) / CHARGE.paste_g <= 2.9
    assert 1.7 <= CHARGE.oil_j_k / CHARGE.oil_g <= 2.2


# 186 kJ per kg of oil (judgement from formation enthalpies, 55 kJ per mol of ester): what this paste could warm by at most, by hand 111 600 J over 3 563 J/K.
def test_reaction_heat_warms_by_tens_of_degrees() -> None:
    still = Plant(CHARGE, Vessel(0.0, 1e-3, 1e-4, 0.0, 0.0, 0.0, 0.0, boiling_c=200.0))
    state = advance(still, pour_lye(still, PlantState(75.0, 75.0), 75.0), Controls(), 4 * 3600.0)
    risen_k = state.paste_c - 75.0
    assert risen_k == pytest.approx(111_600.0 / 3_564.0 * state.converted, rel=0.01)
    assert 20.0 < risen_k < 35.0


# Vapour pressure of water, kPa: 20 degC 2.339, 60 degC 19.95, 90 degC 70.18 (steam tables).
@pytest.mark.parametrize(("temperature_c", "kpa"), [(20.0, 2.339), (60.0, 19.95), (90.0, 70.18)])
def test_vapour_pressure_agrees_with_steam_tables(temperature_c: float, kpa: float) -> None:
    assert saturation_kpa(temperature_c) == pytest.approx(kpa, rel=0.025)


def test_a_lid_left_off_cools_and_a_power_cut_cools_more() -> None:
    plateau = advance(PLANT, at_lid_on(), Controls(), 7200.0)
    covered = advance(PLANT, plateau, Controls(), 1800.0)
    open_ = advance(PLANT, plateau, Controls(lid_on=False), 1800.0)
    cut = advance(PLANT, plateau, Controls(heat=0.0), 1800.0)
    assert covered.paste_c - 2.0 > open_.paste_c > cut.paste_c


@pytest.mark.parametrize("seconds", [-1.0, math.nan, math.inf])
def test_wrong_seconds_are_refused(seconds: float) -> None:
    with pytest.raises(ValueError, match="seconds is"):
        advance(PLANT, PlantState(60.0, 60.0), Controls(), seconds)


def test_wrong_charges_are_refused() -> None:
    with pytest.raises(ValueError, match="oil_g is"):
        PlantCharge(0.0, 500.0, 100.0, 0.0)
    with pytest.raises(ValueError, match="excess is"):
        PlantCharge(500.0, 500.0, 100.0, 0.9)


def test_lye_can_be_poured_once_only() -> None:
    with pytest.raises(ValueError, match="lye goes in once"):
        pour_lye(PLANT, at_lid_on(), 70.0)
