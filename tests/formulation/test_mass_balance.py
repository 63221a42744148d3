"""The pot and its dilution: nothing appears, nothing vanishes."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.chemistry import FATTY_ACID_GROUPS, KOH_G_PER_MOL, all_fatty_acids, portion
from monitor.formulation.alkali import ChargeInputs, charge
from monitor.formulation.dilution import dilute
from monitor.formulation.fluidity import LIMITS, fluid_up_to
from monitor.formulation.from_cook import batch_state
from monitor.formulation.mass_balance import MassBalance, cooked_batch
from monitor.model import make_event
from tests.formulation.batches import FLAKES_G, inputs, single_oil_charge

STEPS = st.lists(
    st.tuples(st.sampled_from(["water", "sample", "citric acid", "scent"]), st.floats(0.0, 300.0)), max_size=8
)


def total_put_in_g(charge_inputs: ChargeInputs) -> float:
    return charge(charge_inputs).total_g


def cations(pot: MassBalance) -> float:
    return pot.soap_mol + pot.excess_alkali_mol + 2.0 * pot.carbonate_mol


@given(inputs)
def test_a_cook_changes_no_weight_and_no_potassium(charge_inputs: ChargeInputs) -> None:
    made = charge(charge_inputs)
    pot = cooked_batch(made)
    assert math.isclose(pot.total_g, total_put_in_g(charge_inputs), rel_tol=1e-9)
    assert math.isclose(pot.paste_g, pot.total_g, rel_tol=1e-9)
    given_mol = made.pure_koh_g / KOH_G_PER_MOL + made.pure_naoh_g / 39.997 + 2.0 * made.carbonate_g / 138.205
    assert math.isclose(cations(pot), given_mol, rel_tol=1e-9)
    parts = (pot.soap_g, pot.glycerol_g, pot.water_g, pot.excess_alkali_g, pot.unreacted_oil_g, pot.carbonate_g)
    assert min(parts) >= 0.0
    # What is left of the oil when its acids are gone cannot be less than nothing, but for rounding.
    assert pot.rest_g >= -1e-9 * pot.total_g
    assert pot.excess_alkali_g < 1e-6 * pot.total_g or pot.unreacted_oil_g < 1e-6 * pot.total_g


@given(inputs, STEPS)
def test_weights_add_up_whatever_is_done_afterwards(
    charge_inputs: ChargeInputs, steps: list[tuple[str, float]]
) -> None:
    pot = cooked_batch(charge(charge_inputs))
    weight, left = pot.total_g, 1.0
    soap, potassium = pot.soap_g, cations(pot)
    for what, grams in steps:
        if what == "sample":
            grams = min(grams, 0.5 * pot.total_g)
            left *= 1.0 - grams / pot.total_g
            pot, weight = pot.with_sample_taken(grams), weight - grams
        elif what == "water":
            pot, weight = pot.with_water(grams), weight + grams
        elif what == "scent":
            pot, weight = pot.with_addition(what, grams), weight + grams
        else:
            pot, weight = pot.with_reagent(what, grams), weight + grams
    assert math.isclose(pot.total_g, weight, rel_tol=1e-9)
    assert math.isclose(pot.soap_g, soap * left, rel_tol=1e-9, abs_tol=1e-9)
    assert math.isclose(cations(pot), potassium * left, rel_tol=1e-9, abs_tol=1e-9)


@given(inputs, st.floats(0.02, 1.0))
def test_a_dilution_comes_out_at_its_target_and_keeps_the_soap(charge_inputs: ChargeInputs, part: float) -> None:
    pot = cooked_batch(charge(charge_inputs))
    target = max(part * pot.soap_share, 0.02)
    result = dilute(pot, charge_inputs.portions, soap_share=target)
    assert math.isclose(result.soap_share, target, rel_tol=1e-9)
    assert math.isclose(result.pot.soap_g, pot.soap_g, rel_tol=1e-12)
    assert math.isclose(result.product_g, pot.total_g + result.water_g, rel_tol=1e-12)
    by_paste = dilute(pot, charge_inputs.portions, paste_share=result.paste_share)
    assert math.isclose(by_paste.water_g, result.water_g, rel_tol=1e-6, abs_tol=1e-6)


@given(inputs, st.lists(st.floats(0.0, 500.0), min_size=1, max_size=6))
def test_many_small_additions_are_one_large_one(charge_inputs: ChargeInputs, waters: list[float]) -> None:
    pot = step = cooked_batch(charge(charge_inputs))
    for grams in waters:
        step = dilute(step, charge_inputs.portions, water_g=grams).pot
    at_once = dilute(pot, charge_inputs.portions, water_g=sum(waters))
    assert math.isclose(step.soap_share, at_once.soap_share, rel_tol=1e-9)


def test_real_soap_is_less_than_the_sum_of_what_went_in() -> None:
    pot = cooked_batch(single_oil_charge())
    # 600 g of rapeseed with 117 g of KOH: 600 x 188.6/56105.6 mol of salts of acids near 282 g/mol, by hand.
    assert math.isclose(pot.soap_g, 600 * 188.6 / 56105.6 * (281.8 + 38.09), rel_tol=1e-3)
    assert pot.soap_share < (600 + FLAKES_G) / pot.total_g


def test_a_weighed_paste_gives_the_water_lost() -> None:
    made = single_oil_charge()
    pot = cooked_batch(made, paste_weighed_g=1200.0)
    assert math.isclose(pot.total_g, 1200.0) and math.isclose(pot.soap_g, cooked_batch(made).soap_g)


@pytest.mark.parametrize("kind", ["jojoba", "oleic acid", "shea butter, unrefined", "stearic acid", "babassu"])
def test_other_fats_balance_too(kind: str) -> None:
    made = single_oil_charge(kind, water_g=540.0)
    pot = cooked_batch(made)
    assert math.isclose(pot.total_g, made.oil_g + made.koh_g + made.water_g)
    assert (pot.glycerol_g == 0.0) == (kind in ("jojoba", "oleic acid", "stearic acid"))


def test_half_of_jojoba_stays_as_alcohol() -> None:
    # Its wax esters weigh about 606 g/mol (after the Merck Index); acid and alcohol are of a length, so near half.
    assert 0.45 < cooked_batch(single_oil_charge("jojoba")).rest_g / 600.0 < 0.55


@pytest.mark.parametrize(
    ("target", "words"),
    [
        ({"soap_share": 0.8}, "soap_share is 0.8; it must be from 0.02 to 0.50"),
        ({"paste_share": 1.1}, "paste_share is 1.1; it must be from 0.02 to 1"),
        ({"water_g": -3.0}, "water added is -3 g; it must be from 0"),
        ({}, "exactly one way"),
        ({"soap_share": 0.2, "water_g": 3.0}, "exactly one way"),
    ],
)
def test_an_impossible_dilution_is_refused(target: dict[str, float], words: str) -> None:
    made = single_oil_charge()
    with pytest.raises(ValueError, match=words):
        dilute(cooked_batch(made), made.inputs.portions, **target)


def test_a_paste_heavier_than_its_ingredients_is_refused() -> None:
    with pytest.raises(ValueError, match=r"paste_weighed_g is 2000 g; it must be from .* to 1270 g"):
        cooked_batch(single_oil_charge(), paste_weighed_g=2000.0)
    with pytest.raises(ValueError, match="taken out is 5000 g"):
        cooked_batch(single_oil_charge()).with_sample_taken(5000.0)


def test_logged_events_are_in_the_mass_balance() -> None:
    made = single_oil_charge()
    log: list[tuple[str, dict[str, object]]] = [
        ("checked", {"result": "hazy", "sample_g": 7.5, "water_g": 15.0}),
        ("titrated", {"acid_ml": 2.3, "acid_mol_l": 0.1, "sample_g": 2.5}),
        ("water added", {"grams": 900.0}),
        ("water added", {"grams": 100.0}),
        ("neutraliser added", {"reagent": "citric acid", "grams": 3.0}),
        ("neutraliser added", {"reagent": "lemon juice", "grams": 5.0}),
        ("added", {"what": "scent", "grams": 12.0}),
        ("stirred", {}),
    ]
    events = [make_event(str(n), kind, float(n), float(n), fields) for n, (kind, fields) in enumerate(log)]
    now = batch_state(made, events)
    assert math.isclose(now.pot.total_g, 600 + FLAKES_G + 540 - 10 + 1000 + 3 + 5 + 12, rel_tol=1e-9)
    assert (now.water_added_g, now.sampled_g, now.unknown) == (1000.0, 10.0, ("lemon juice",))
    # A paste is weighed after the last check, before it is diluted.
    weighed = batch_state(made, events, paste_weighed_g=1200.0).pot
    assert math.isclose(weighed.total_g, 1200 + 1000 + 3 + 5 + 12) and weighed.paste_g == 1200.0
    assert math.isclose(weighed.soap_g, now.pot.soap_g)


def test_every_fatty_acid_is_in_one_group_and_the_stiff_part_rules() -> None:
    assert sorted(code for group in FATTY_ACID_GROUPS for code in group.codes) == sorted(all_fatty_acids())
    assert set(LIMITS) == {group.name for group in FATTY_ACID_GROUPS}
    limits = [fluid_up_to((portion(oil, 100),))[0] for oil in ("coconut", "rapeseed", "tallow")]
    assert limits == sorted(limits, reverse=True)
    between = fluid_up_to((portion("coconut", 100), portion("tallow", 100)))[0]
    assert limits[2] < between < limits[0]
    assert "common practice, no source" in fluid_up_to((portion("my own", 100, 190.0),))[1]


def test_a_strong_soap_is_reported_to_set() -> None:
    made = single_oil_charge()
    strong = dilute(cooked_batch(made), made.inputs.portions, soap_share=0.4)
    assert any("jelly" in said for said in strong.meaning)
    assert not any("jelly" in said for said in dilute(cooked_batch(made), made.inputs.portions, soap_share=0.2).meaning)
