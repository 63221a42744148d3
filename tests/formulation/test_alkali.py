"""The alkali charge: what is refused, what a range means, and what follows from what was weighed."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.chemistry import portion
from monitor.formulation.alkali import CARBONATE_AS_KOH, STRONGEST_KOH, ChargeInputs, WeighedAmounts, charge
from monitor.formulation.lye_heat import HeatInputs, mixing_heat
from monitor.formulation.vessel_fill import cooker_fill
from tests.formulation.batches import inputs, portions, single_oil_charge

RAPESEED = (portion("rapeseed", 600),)


@given(inputs)
def test_what_is_planned_has_the_excess_that_was_wished_for(given_inputs: ChargeInputs) -> None:
    plan = charge(given_inputs)
    alkali = plan.pure_koh_g + plan.pure_naoh_g * 56.1056 / 39.997
    assert math.isclose(alkali, plan.need_koh_g * (1.0 + given_inputs.excess), rel_tol=1e-9)
    assert math.isclose(plan.excess.taken, given_inputs.excess, abs_tol=1e-9)
    assert math.isclose(plan.lye_strength, given_inputs.lye_strength or 0.0, rel_tol=1e-9)


@given(inputs)
def test_the_range_is_in_order_and_holds_the_value_taken(given_inputs: ChargeInputs) -> None:
    excess = charge(given_inputs).excess
    assert excess.least <= excess.likely_low <= excess.likely_high <= excess.most
    assert excess.least <= excess.taken <= excess.most


@given(portions, st.lists(st.floats(0.0, 1.0), min_size=10, max_size=10))
def test_oils_and_scale_within_their_ranges_stay_in_the_excess_range(
    some: tuple[object, ...], where: list[float]
) -> None:
    plan = charge(ChargeInputs(some, water_g=5000.0))  # type: ignore[arg-type]
    true_need = sum(
        (p.grams + w - 0.5) * (p.saponification_low + v * (p.saponification_high - p.saponification_low)) / 1000.0
        for p, v, w in zip(plan.inputs.portions, where, where[4:], strict=False)
    )
    true = (plan.koh_g + where[9] - 0.5) * plan.inputs.koh_in_flakes / true_need - 1.0
    assert plan.excess.least - 1e-9 <= true <= plan.excess.most + 1e-9


def test_three_per_cent_excess_can_mean_unreacted_oil_or_twice_the_alkali() -> None:
    excess = single_oil_charge("tallow").excess
    assert excess.least < 0.0 < excess.likely_low < excess.taken < excess.likely_high < excess.most
    # Its range of 182 to 193 (Codex CXS 210), half a gram on each weighing and half a hundredth on the assay.
    assert -0.012 < excess.least < 0.0 and 0.065 < excess.most < 0.075


def test_a_certificate_narrows_the_range() -> None:
    table, certified = single_oil_charge(), charge(ChargeInputs((portion("rapeseed", 600, 189.2),), water_g=540))
    assert certified.excess.most - certified.excess.least < 0.4 * (table.excess.most - table.excess.least)


@pytest.mark.parametrize(
    ("excess", "words"),
    [
        (-0.10, "Will leave"),
        (0.0, "May leave oil over.*hazy|May need neutralising"),
        (0.03, "Will need neutralising"),
        (0.15, "Will need neutralising"),
    ],
)
def test_the_excess_range_is_explained_in_words(excess: float, words: str) -> None:
    import re

    assert re.search(words, " ".join(single_oil_charge(excess=excess).meaning))


def test_mixed_alkali_meets_the_need_by_number_of_molecules() -> None:
    plan = charge(ChargeInputs(RAPESEED, naoh_share=0.25, excess=0.0, water_g=540))
    assert math.isclose(plan.pure_koh_g, 0.75 * 113.16)
    assert math.isclose(plan.pure_naoh_g, 0.25 * 113.16 * 39.997 / 56.1056)


def test_an_assay_that_counts_carbonate_asks_for_more_flakes() -> None:
    alone = charge(ChargeInputs(RAPESEED, koh_carbonate=0.02, water_g=540))
    total = charge(ChargeInputs(RAPESEED, koh_carbonate=0.02, assay_is_total=True, water_g=540))
    assert math.isclose(total.koh_g / alone.koh_g, 0.9 / (0.9 - 0.02 * CARBONATE_AS_KOH))


def test_weighed_amounts_are_taken_and_the_rest_is_calculated() -> None:
    wished = ChargeInputs(RAPESEED, lye_strength=0.3)
    more_oil = charge(wished, WeighedAmounts(oil_g=(660.0,)))
    assert math.isclose(more_oil.koh_g, 1.1 * charge(wished).koh_g)
    too_much = charge(wished, WeighedAmounts(oil_g=(660.0,), koh_g=150.0))
    assert too_much.excess.taken > 0.03 and too_much.koh_g == 150.0
    back = charge(wished, WeighedAmounts(oil_g=(660.0 + too_much.more_oil_g,), koh_g=150.0))
    assert math.isclose(back.excess.taken, 0.03) and back.more_oil_g == 0.0
    assert math.isclose(too_much.lye_strength, 0.3)
    assert charge(wished, WeighedAmounts(water_g=400.0)).water_g == 400.0


def test_naoh_makes_up_what_the_koh_on_the_scale_lacks() -> None:
    wished = ChargeInputs(RAPESEED, naoh_share=0.2, water_g=540)
    assert math.isclose(charge(wished, WeighedAmounts(koh_g=90.0)).excess.taken, 0.03)


def test_cautions_stand_beside_what_is_weighed_and_what_is_blended() -> None:
    cautions = single_oil_charge().cautions
    assert {caution.beside for caution in cautions} == {"koh_g", "water_g", "total_g"}
    words = " ".join(caution.words for caution in cautions)
    for needed in ("burns", "goggles", "never water onto flakes", "never vinegar", "No aluminium"):
        assert needed in words
    blending = [caution.words for caution in cautions if caution.beside == "total_g"]
    assert len(blending) == 1 and "off before it leaves the pot" in blending[0]


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: portion("rapeseed", -5), "rapeseed is -5 g; it must be from 0.1 to 100000 g"),
        (lambda: portion("rapeseed", math.nan), "must be a number from 0.1 to 100000"),
        (lambda: portion("rapsed", 5), "nearest: rapeseed"),
        (lambda: portion("my own oil", 5, 900.0), "from 50 to 400"),
        (lambda: ChargeInputs((), water_g=1), "at least one oil"),
        (lambda: ChargeInputs(RAPESEED, koh_assay=1.2, water_g=1), "koh_assay is 1.2; it must be from 0.5 to 1"),
        (lambda: ChargeInputs(RAPESEED, koh_assay=0.99, koh_carbonate=0.1, water_g=1), "from 0 to 0.01"),
        (lambda: ChargeInputs(RAPESEED, excess=0.9, water_g=1), "excess is 0.9; it must be from -0.2 to 0.5"),
        (lambda: ChargeInputs(RAPESEED), "exactly one way"),
        (lambda: ChargeInputs(RAPESEED, water_g=1, lye_strength=0.3), "exactly one way"),
        (lambda: ChargeInputs(RAPESEED, lye_strength=0.6), r"from 0.05 to 0.5283$"),
        (lambda: charge(ChargeInputs(RAPESEED, water_g=10)), "does not stay dissolved.*from 92 to 100000 g"),
        (
            lambda: charge(ChargeInputs(RAPESEED, water_g=540), WeighedAmounts(koh_g=-1)),
            "koh_g is -1 g; it must be from 0",
        ),
        (
            lambda: charge(ChargeInputs(RAPESEED, water_g=540), WeighedAmounts(oil_g=(1.0, 2.0))),
            "2 weights; there are 1 oils",
        ),
        (
            lambda: ChargeInputs((portion("castor", 0.5),), water_g=1),
            "castor is 0.5 g, on a scale with steps of 1 g; it must be from 1 to",
        ),
        (lambda: cooker_fill(single_oil_charge(), 0.1), "cooker_l is 0.1 L; it must be from 0.5 to 200 L"),
        (lambda: mixing_heat(HeatInputs(100, 0)), "water_g is 0 g; it must be from 1"),
    ],
)
def test_bad_input_is_refused_in_one_sentence_with_the_range(make: object, words: str) -> None:
    assert callable(make)
    with pytest.raises(ValueError, match=words):
        make()


def test_the_strongest_lye_is_allowed_and_a_little_more_is_not() -> None:
    at_limit = charge(ChargeInputs(RAPESEED, lye_strength=STRONGEST_KOH))
    assert charge(replace(at_limit.inputs, lye_strength=None, water_g=at_limit.water_g + 0.1))
    with pytest.raises(ValueError, match="does not stay dissolved"):
        charge(replace(at_limit.inputs, lye_strength=None, water_g=at_limit.water_g - 0.1))


def test_a_full_cooker_is_reported_with_the_batch_that_fits() -> None:
    small, large = cooker_fill(single_oil_charge(), 1.5), cooker_fill(single_oil_charge(), 3.5)
    assert small.filled > small.full_enough and "Too full" in small.cautions[0].words
    assert large.filled < large.full_enough
    fitting = single_oil_charge(grams=600 * small.largest_batch, water_g=540 * small.largest_batch)
    assert math.isclose(cooker_fill(fitting, 1.5).filled, small.full_enough, rel_tol=1e-9)
    assert "does not fit" in cooker_fill(single_oil_charge(grams=3000, water_g=2700), 1.5).cautions[0].words


@given(st.floats(20.0, 300.0), st.floats(100.0, 1000.0), st.floats(0.8, 1.0))
def test_each_lot_of_flakes_stays_below_the_limit(koh_g: float, water_g: float, assay: float) -> None:
    heat = mixing_heat(HeatInputs(koh_g, water_g, assay))
    assert 20.0 < heat.mildest_c < heat.hottest_c
    assert 20.0 + (heat.hottest_c - 20.0) / heat.parts <= heat.limit_c + 1e-9
    assert math.isclose(heat.part_g * heat.parts, koh_g)
