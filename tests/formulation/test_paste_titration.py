"""A paste sample in the cook: the acid to expect, the progress it tells, and when a titration stops to hold."""

import pytest

from monitor.formulation import TitrationInputs, judge_paste_sample, last_titration, plan_paste_sample
from monitor.formulation.paste_titration import STATED_CONVERTED
from monitor.model import make_event
from tests.formulation.batches import FLAKES_G, single_oil_charge

PASTE_G = 600.0 + FLAKES_G + 540.0


def test_the_acid_to_expect_is_the_free_alkali_of_the_batch() -> None:
    plan = single_oil_charge()
    sample = plan_paste_sample(plan)
    # The need of 600 g at 188.6 mg/g in the paste, 3 % excess: by hand, with 56.1056 g/mol.
    assert sample.need_koh_per_g == pytest.approx(113.16 / PASTE_G)
    for each in sample.expected:
        by_hand = (1.03 - each.converted) * 113.16 / PASTE_G / 56.1056 * 1000.0 / 0.1
        assert each.acid_ml == pytest.approx(by_hand)
        assert each.least_ml < each.acid_ml < each.most_ml
    assert tuple(each.converted for each in sample.expected) == STATED_CONVERTED


def test_a_paste_that_has_lost_water_takes_more_acid() -> None:
    plan = single_oil_charge()
    wet, dry = (plan_paste_sample(plan, water_lost_g=lost).expected[0].acid_ml for lost in (0.0, 200.0))
    assert dry / wet == pytest.approx(PASTE_G / (PASTE_G - 200.0))
    with pytest.raises(ValueError, match="water_lost_g is 900 g"):
        plan_paste_sample(plan, water_lost_g=900.0)


@pytest.mark.parametrize("converted", STATED_CONVERTED)
def test_the_expected_acid_tells_the_progress_back(converted: float) -> None:
    plan = single_oil_charge()
    expected = {each.converted: each.acid_ml for each in plan_paste_sample(plan).expected}
    found = judge_paste_sample(plan, TitrationInputs(expected[converted], 0.1, 1.0))
    assert found.converted == pytest.approx(converted)
    assert found.converted_low < converted < found.converted_high <= 1.0


def test_a_coarse_scale_widens_what_is_told() -> None:
    plan = single_oil_charge()
    fine, coarse = (judge_paste_sample(plan, TitrationInputs(1.2, 0.1, 1.0, step)) for step in (0.01, 1.0))
    assert coarse.within_percent > 3.0 * fine.within_percent
    assert coarse.converted_low < fine.converted_low


@pytest.mark.parametrize("kind", ["finished", "heat off", "water added", "neutraliser added", "added"])
def test_a_sample_of_cooking_paste_is_no_ground_for_a_dose(kind: str) -> None:
    fields: dict[str, dict[str, object]] = {
        "water added": {"grams": 9.0},
        "neutraliser added": {"reagent": "citric acid", "grams": 1.0},
        "added": {"what": "scent", "grams": 1.0},
    }
    sample = make_event("a", "titrated", 0.0, 0.0, {"acid_ml": 2.0, "acid_mol_l": 0.1, "sample_g": 1.0})
    later = make_event("b", kind, 60.0, 60.0, fields.get(kind, {}))
    assert last_titration([sample]) == TitrationInputs(2.0, 0.1, 1.0)
    assert last_titration([sample, later]) is None
    assert last_titration([later, sample]) == TitrationInputs(2.0, 0.1, 1.0)
