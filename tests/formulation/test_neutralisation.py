"""Neutralising: doses, their limits, and the pH that goes with them."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.chemistry import Solution, ph
from monitor.formulation.cautions import BORATES
from monitor.formulation.dilution import dilute
from monitor.formulation.mass_balance import MassBalance, cooked_batch
from monitor.formulation.neutralisation import (
    ResidualAlkali,
    alkali_taken_per_mol,
    borate_warning,
    checked_dose,
    neutralising_dose,
    residual_by_excess,
    residual_by_titration,
)
from monitor.formulation.neutralisers import all_neutralisers, find_neutraliser
from monitor.formulation.ph_decision import decide
from monitor.formulation.soap_ph import expected_ph, sample_solution
from monitor.formulation.stock_solution import make_stock_solution
from monitor.formulation.titration import TitrationInputs, free_alkali
from tests.formulation.batches import single_oil_charge

KNOWN = ResidualAlkali(2.0, 3.0, 4.0, "test")
SAFE = sorted({reagent.name for reagent in all_neutralisers().values() if reagent.kind != "borate"})
BORATE_NAMES = sorted({reagent.name for reagent in all_neutralisers().values() if reagent.kind == "borate"})


def product(oil: str = "rapeseed", excess: float = 0.03) -> MassBalance:
    made = single_oil_charge(oil, excess=excess)
    return dilute(cooked_batch(made), made.inputs.portions, soap_share=0.25).pot


@pytest.mark.parametrize("reagent", SAFE)
def test_the_dose_takes_the_alkali_it_is_for(reagent: str) -> None:
    dose = neutralising_dose(product(), KNOWN, reagent)
    row = find_neutraliser(reagent)
    taken = dose.reagent_g / row.g_per_mol * row.oh_mol * 56.1056
    assert math.isclose(taken, KNOWN.middle_g, rel_tol=1e-6)
    assert dose.least_g < dose.reagent_g < dose.most_g


def test_the_parts_add_up_to_the_low_end_and_the_last_one_ends_it() -> None:
    dose = neutralising_dose(product(), KNOWN, stock_strength=0.5)
    assert math.isclose(sum(part.reagent_g for part in dose.parts), dose.least_g)
    assert [part.stock_g for part in dose.parts] == [2.0 * part.reagent_g for part in dose.parts]
    assert [part.then.endswith("stop here.") for part in dose.parts] == [False, True]
    assert 0.5 * dose.least_g <= dose.parts[0].reagent_g <= 2.0 / 3.0 * dose.least_g
    assert all(part.wait_min > 0 for part in dose.parts)


def test_what_was_added_already_is_counted() -> None:
    before = neutralising_dose(product(), KNOWN)
    after = neutralising_dose(product().with_reagent("citric acid", 1.0), KNOWN)
    assert math.isclose(before.reagent_g - after.reagent_g, 1.0, rel_tol=1e-9)


def test_a_dose_that_would_overshoot_is_refused_with_the_range() -> None:
    dose = neutralising_dose(product(), KNOWN)
    assert checked_dose(dose, dose.most_g) == dose.most_g
    with pytest.raises(ValueError, match=r"reagent_g is 12 g, which would overshoot.*from 0 to 4.565 g"):
        checked_dose(dose, 12.0)
    with pytest.raises(ValueError, match="from 0 to"):
        checked_dose(dose, -1.0)


def test_a_titration_tells_the_grams_of_the_whole_pot() -> None:
    pot = product()
    over = residual_by_titration(free_alkali(TitrationInputs(2.30, 0.1, 10.0)), pot)
    assert math.isclose(over.middle_g, 0.00129 * pot.total_g, rel_tol=1e-3)
    # What is titrated later is what the first dose left.
    later = residual_by_titration(free_alkali(TitrationInputs(0.0, 0.1, 10.0)), pot.with_reagent("citric acid", 1.0))
    assert math.isclose(later.low_g, 3 * 56.1056 / 192.124, rel_tol=1e-6)


def test_a_titration_cannot_tell_lye_from_borate() -> None:
    with pytest.raises(ValueError, match="which a titration takes for lye"):
        residual_by_titration(free_alkali(TitrationInputs(1.0, 0.1, 10.0)), product().with_reagent("borax", 3.0))


def test_the_known_excess_carries_its_range_and_follows_what_was_taken_out() -> None:
    made = single_oil_charge()
    pot = cooked_batch(made)
    over = residual_by_excess(made, pot)
    assert over.low_g < over.middle_g < over.high_g
    assert math.isclose(over.middle_g, 0.03 * made.need_koh_g)
    half = residual_by_excess(made, pot.with_sample_taken(pot.total_g / 2.0))
    assert math.isclose(half.middle_g, over.middle_g / 2.0)
    short = single_oil_charge(excess=-0.1)
    assert residual_by_excess(short, cooked_batch(short)).high_g == 0.0
    assert (
        "nothing left"
        in neutralising_dose(cooked_batch(short), residual_by_excess(short, cooked_batch(short))).meaning[0]
    )


def test_no_residual_alkali_gives_no_dose() -> None:
    dose = neutralising_dose(product(), ResidualAlkali(0.0, 1.0, 5.0, "known excess"))
    assert dose.parts == () and "no ground" in dose.meaning[0]
    assert any("titrate" in said for said in dose.meaning)


@pytest.mark.parametrize("reagent", BORATE_NAMES)
def test_borates_need_their_warning_read(reagent: str) -> None:
    with pytest.raises(ValueError, match="only dosed once its warning has been read"):
        neutralising_dose(product(), KNOWN, reagent)
    dose = neutralising_dose(product(), KNOWN, reagent, warning_read=True)
    assert dose.cautions[0].beside == "reagent_g" and dose.cautions[0].words == BORATES
    assert borate_warning(reagent) == BORATES
    for needed in ("toxic for reproduction", "1B", "local law", "Citric acid"):
        assert needed in BORATES


def test_citric_acid_is_the_default_and_carries_no_such_warning() -> None:
    dose = neutralising_dose(product(), KNOWN)
    assert dose.reagent == "citric acid anhydrous"
    assert borate_warning(dose.reagent) is None


def test_borax_takes_less_the_lower_the_ph_and_is_refused_where_it_takes_nothing() -> None:
    borax = find_neutraliser("borax")
    taken = [alkali_taken_per_mol(borax, end) for end in (9.5, 10.0, 10.5, 11.0)]
    assert taken == sorted(taken) and taken[-1] < borax.oh_mol
    with pytest.raises(ValueError, match=r"end_ph is 9.2; it must be from 9.4 to 11"):
        alkali_taken_per_mol(borax, 9.2)


def test_25_g_of_borax_in_70_ml_does_not_stay_dissolved() -> None:
    borax = make_stock_solution("borax", 25.0, 70.0)
    assert borax.stays is False and "does not stay dissolved at 20 °C" in borax.meaning[0]
    assert borax.clear_above_c is not None and 55.0 < borax.clear_above_c < 60.0
    assert borax.least_water_g is not None and make_stock_solution("borax", 25.0, borax.least_water_g + 1.0).stays
    assert make_stock_solution("citric acid", 50.0, 50.0).stays is True
    assert make_stock_solution("lactic acid", 50.0, 50.0).stays is None
    with pytest.raises(ValueError, match="does not dissolve in water"):
        make_stock_solution("oleic acid", 10.0, 100.0)
    with pytest.raises(ValueError, match=r"nearest: .*borax"):
        make_stock_solution("boracks", 10.0, 100.0)


@given(
    st.floats(0.0, 1.0),
    st.floats(0.0, 0.3),
    st.floats(0.0, 0.1),
    st.floats(0.0, 0.1),
    st.floats(0.0, 60.0),
)
def test_the_charges_balance_and_more_alkali_reads_higher(
    cations: float, boron: float, citrate: float, carbonate: float, temperature_c: float
) -> None:
    less = Solution(cations, boron, citrate, carbonate, 0.0, 0.02, temperature_c)
    more = Solution(cations + 0.01, boron, citrate, carbonate, 0.0, 0.02, temperature_c)
    assert -1.0 < ph(less) < ph(more) < 16.0


@settings(max_examples=25)
@given(st.sampled_from(["rapeseed", "coconut", "castor", "jojoba"]), st.floats(0.0, 10.0), st.floats(0.0, 3.0))
def test_the_expected_ph_is_a_range_in_order_that_acid_lowers(oil: str, over_g: float, acid_g: float) -> None:
    over = (0.5 * over_g, over_g, 1.5 * over_g)
    plain_soap = expected_ph(product(oil), over)
    assert plain_soap.low <= plain_soap.middle <= plain_soap.high
    dosed = expected_ph(product(oil).with_reagent("citric acid", acid_g), over)
    assert dosed.middle <= plain_soap.middle + 1e-9


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: TitrationInputs(-1.0, 0.1, 10.0), "acid_ml is -1 mL; it must be from 0 to 100 mL"),
        (lambda: TitrationInputs(1.0, 0.1, 0.0), "sample_g is 0 g; it must be from 0.1"),
        (
            lambda: neutralising_dose(product(), KNOWN, stock_strength=1.5),
            "stock_strength is 1.5; it must be from 0.005",
        ),
        (lambda: neutralising_dose(product(), KNOWN, end_ph=13.0), "end_ph is 13; it must be from 8 to 11"),
        (lambda: decide(16.0, product()), "ph is 16; it must be from 4 to 14"),
        (
            lambda: expected_ph(product(), (0, 0, 0), temperature_c=95.0),
            "temperature_c is 95 °C; it must be from 0 to 60",
        ),
        (lambda: Solution(cations=-1.0), "cations is -1 mol/kg"),
    ],
)
def test_bad_input_is_refused_with_the_range(make: object, words: str) -> None:
    assert callable(make)
    with pytest.raises(ValueError, match=words):
        make()


def test_every_acid_of_the_soap_is_in_the_sample() -> None:
    pot = product("coconut")
    sample = sample_solution(pot, 2.0, sample_percent=100.0)
    water_kg = pot.water_g / 1000.0
    assert math.isclose(sample.soap, pot.soap_mol / water_kg)
    assert math.isclose(sample.cations, (pot.soap_mol + 2.0 / 56.1056) / water_kg)
