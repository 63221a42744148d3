"""The one model of soap pH: hydrolysis with dilution, free alkali, acid soap, and what a kitchen teaches it."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.chemistry import (
    NO_OFFSET,
    Solution,
    acid_between_readings,
    diluted_paste_ph,
    expected_reading,
    learned_offset,
    ph,
)
from monitor.chemistry.acid_soap import ACID_SOAP_PER_PH, fatty_acid_share
from monitor.chemistry.equilibrium import pk_water

WATER = pk_water(25.0)


def neutral(soap: float, temperature_c: float = 25.0) -> float:
    return ph(Solution(cations=soap, soap=soap, temperature_c=temperature_c))


def test_hydrolysis_follows_the_law_of_a_salt_of_a_weak_acid() -> None:
    # [OH-] = sqrt(Kw C / Ka): half a unit for a decade of concentration (textbooks of general chemistry, from memory).
    steps = [neutral(soap) for soap in (0.001, 0.01, 0.1)]
    assert math.isclose(steps[1] - steps[0], 0.5, abs_tol=0.05) and math.isclose(steps[2] - steps[1], 0.5, abs_tol=0.05)
    # By the water's own constant alone a warm sample reads lower: half of what pKw falls.
    assert math.isclose(neutral(0.01, 40.0) - neutral(0.01), (pk_water(40.0) - WATER) / 2.0, abs_tol=0.02)


def test_a_neutral_soap_is_hydrolysed_by_a_hundredth_at_most() -> None:
    # Sodium myristate in water, no other electrolyte: "the protonation fraction is 1 % or less" (Wen and Franses,
    # J. Colloid Interface Sci. 231:42 (2000), abstract seen; volume and page from memory).
    for soap in (0.006, 0.02, 0.1):
        assert 0.001 < fatty_acid_share(neutral(soap), soap, WATER, ACID_SOAP_PER_PH[1]) < 0.012


def test_bar_soap_at_one_per_cent_reads_where_a_survey_found_it() -> None:
    # 150 mg in 15 mL of water: most bars read 9 to 10 (Tarun et al., Indian J. Dermatol. 59:442 (2014), abstract seen).
    # A bar is about four fifths sodium soap of some 300 g/mol (from memory).
    solution = Solution(cations=0.027, soap=0.027)
    reading = expected_reading(solution, (0.0, 0.0), 1.0)
    assert reading.low < 10.0 and 9.0 < reading.middle < 10.1


def test_half_set_free_soap_is_near_what_oleic_emulsions_show() -> None:
    # Oleic acid and sodium oleate in one oily phase: [H+] x(NaOl) / ([Na+] x(HOl)) = 10^-6.38 (Drzymala, J. Colloid
    # Interface Sci. 108 (1985), abstract seen), so that at 0.01 mol/L of sodium as much is set free as not at pH 8.38.
    # Ours, fitted to other figures, comes within half a unit.
    at = next(
        value
        for value in np.arange(7.0, 9.5, 0.01)
        if fatty_acid_share(float(value), 0.01, WATER, ACID_SOAP_PER_PH[1]) < 0.5
    )
    assert math.isclose(at, 8.38, abs_tol=0.5)


def test_free_alkali_alone_decides_where_there_is_much() -> None:
    assert math.isclose(ph(Solution(cations=0.028, soap=0.008)), ph(Solution(cations=0.02)), abs_tol=0.02)


@given(
    st.floats(0.002, 0.3),
    st.floats(-0.3, 1.0),
    st.floats(1e-3, 0.3),
    st.sampled_from(ACID_SOAP_PER_PH),
    st.floats(0, 60),
)
def test_the_ph_rises_with_alkali_and_falls_with_acid(
    soap: float, over: float, more: float, acid_soap: float, temperature_c: float
) -> None:
    # over, more: of the soap's own amount; below 0 it is acid.
    less_alkaline, alkaline = (
        ph(Solution(cations=soap * (1.0 + part), soap=soap, temperature_c=temperature_c, acid_soap_per_ph=acid_soap))
        for part in (over, over + more)
    )
    assert less_alkaline < alkaline


@given(st.floats(0.001, 0.2), st.floats(1.05, 10.0), st.floats(-0.2, 0.5))
def test_a_stronger_sample_reads_higher(soap: float, factor: float, over: float) -> None:
    weak, strong = (Solution(cations=each * (1.0 + over), soap=each) for each in (soap, factor * soap))
    assert ph(weak) < ph(strong)


@given(st.floats(0.002, 0.1), st.floats(8.0, 12.0), st.floats(0.0, 2.0), st.floats(0.0, 1.0))
def test_the_acid_between_readings_is_in_order_and_adds_up(
    soap: float, from_ph: float, fall: float, part: float
) -> None:
    sample = Solution(cations=soap, soap=soap, carbonate=0.01 * soap)
    low, middle, high = acid_between_readings(sample, from_ph, from_ph - fall)
    assert 0.0 <= low <= middle <= high
    at = from_ph - part * fall
    first, second = (acid_between_readings(sample, *ends)[1] for ends in ((from_ph, at), (at, from_ph - fall)))
    assert math.isclose(first + second, middle, rel_tol=1e-6, abs_tol=1e-12)


def test_acid_that_brings_a_sample_down_brings_it_there() -> None:
    # The way back: what acid_between_readings asks for, taken from the cations, gives the second pH.
    soap = 0.008
    start = Solution(cations=1.002 * soap, soap=soap)
    before = ph(start)
    acid = acid_between_readings(start, before, 9.3)[1]
    assert math.isclose(ph(Solution(cations=start.cations - acid, soap=soap)), 9.3, abs_tol=0.02)


def test_a_rise_is_not_asked_of_acid() -> None:
    with pytest.raises(ValueError, match=r"to_ph is 9.8; acid brings the pH down, so it must be at most 9.5"):
        acid_between_readings(Solution(cations=0.008, soap=0.008), 9.5, 9.8)


@pytest.mark.parametrize("percent", [0.5, 1.0, 5.0])
@pytest.mark.parametrize("temperature_c", [18.0, 25.0, 35.0])
def test_the_closed_form_for_the_paste_agrees_with_the_charge_balance(percent: float, temperature_c: float) -> None:
    free = np.array([1.2e-3, 2e-4, 5e-5, 1e-5, 0.0])
    soap = 1.6e-3 - free
    mean, sd = diluted_paste_ph(free, soap, percent, temperature_c)
    dilution = 10.0 * percent
    for each, mol, found in zip(free * dilution, soap * dilution, mean, strict=True):
        solution = Solution(cations=float(each + mol), soap=float(mol), temperature_c=temperature_c)
        # The closed form has no acid soap, whose first traces raise a neutral 5 % sample by 0.04.
        assert math.isclose(ph(solution), found, abs_tol=0.05)
    assert sd == NO_OFFSET.reading_sd


def test_more_alkali_than_the_paste_has_counts_as_none() -> None:
    # With alkali short, 1 + e - X may come out below 0 by rounding.
    mean, _ = diluted_paste_ph(np.array([-1e-9, 0.0]), 1.6e-3, 1.0)
    assert mean[0] == mean[1]


def test_titrated_soaps_of_a_kitchen_sharpen_the_model() -> None:
    learned = learned_offset([(0.30, 0.02), (0.25, 0.02), (0.35, 0.02)])
    assert learned.readings == 3 and 0.2 < learned.ph < 0.3
    assert learned.sd < NO_OFFSET.sd and learned.reading_sd < NO_OFFSET.reading_sd
    # Against the textbook's formula for one observation: 0.23^2 / (0.23^2 + 0.15^2) of it is believed.
    assert math.isclose(learned_offset([(0.3, 0.0)]).ph, 0.3 * 0.0529 / (0.0529 + 0.0225), rel_tol=1e-9)
    # A slip teaches nothing.
    assert learned_offset([(-3.0, 0.0)]) == NO_OFFSET
    # What the titration leaves open is believed little.
    assert abs(learned_offset([(1.0, 2.0)]).ph) < 0.02
    solution = Solution(cations=0.008, soap=0.008)
    plain, ours = (expected_reading(solution, (0.0, 0.0), 1.0, offset) for offset in (NO_OFFSET, learned))
    assert math.isclose(ours.middle - plain.middle, learned.ph, rel_tol=1e-9)
    assert ours.high - ours.low < plain.high - plain.low
