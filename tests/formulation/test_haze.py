"""Hard water and haze: lime soap by an outside balance, and what the sums of a batch leave open, cause by cause."""

import pytest
from chempy import Substance, balance_stoichiometry

from monitor.chemistry import KOH_G_PER_MOL, portion
from monitor.formulation import ChargeInputs, Haze, WeighedAmounts, charge, cooked_batch, judge_haze, lime_soap_g
from monitor.formulation.cautions import BOILING_WATER, KOH_BURNS, KOH_INTO_WATER

OLEATE, LIME = "C18H33KO2", "C36H66CaO4"


def judged(
    *oils: tuple[str, float], excess: float = 0.03, koh_g: float | None = None, water_g: float = 2000.0, **more: object
) -> Haze:
    inputs = ChargeInputs(tuple(portion(name, grams) for name, grams in oils), excess=excess, water_g=water_g)
    made = charge(inputs, WeighedAmounts(koh_g=koh_g))
    return judge_haze(made, cooked_batch(made), **more)  # type: ignore[arg-type]


def test_lime_soap_is_that_of_the_balanced_equation() -> None:
    """chempy balances the exchange and knows the molar masses; a German degree is 10 mg of CaO a litre (DIN 38409-6)."""
    before, _ = balance_stoichiometry({OLEATE, "CaCl2"}, {LIME, "KCl"})
    oleate, lime = (Substance.from_formula(name).mass for name in (OLEATE, "CaO"))
    outside_g = before[OLEATE] / before["CaCl2"] * 0.010 / lime * oleate
    assert lime_soap_g(1000.0, 1.0, oleate) == pytest.approx(outside_g, rel=1e-3)
    assert lime_soap_g(2000.0, 15.0, oleate) == pytest.approx(30.0 * outside_g, rel=1e-3)


def test_lime_soap_is_that_of_the_equivalents_of_hardness() -> None:
    # A German degree is 17.85 mg/L of CaCO3 (ISO 6059 counts in mmol/L; CaCO3 is 100.09 g/mol), by hand.
    assert lime_soap_g(1000.0, 1.0, 320.55) == pytest.approx(2.0 * 17.85e-3 / 100.09 * 320.55, rel=2e-3)
    assert lime_soap_g(1000.0, 0.0, 320.55) == 0.0


@pytest.mark.parametrize(("water_g", "degrees"), [(-1.0, 5.0), (1000.0, 61.0), (1000.0, float("nan"))])
def test_impossible_water_is_refused(water_g: float, degrees: float) -> None:
    with pytest.raises(ValueError, match=r"must be .*from 0"):
        lime_soap_g(water_g, degrees, 320.0)


def test_oil_that_found_no_lye_is_that_of_its_saponification_value() -> None:
    # By hand: 600 g of rapeseed at 188.6 mg/g take 113.2 g of KOH; 100 g of pure KOH leave 600 * (1 - 100 / 113.2).
    found = judged(("rapeseed", 600.0), koh_g=100.0 / 0.90)
    assert found.oil_over_g[1] == pytest.approx(600.0 * (1.0 - 100.0 / (600.0 * 0.1886)), rel=0.002)
    # Its lye, with one in a hundred in excess: by the same value.
    assert found.lye_koh_g * 0.90 == pytest.approx(600.0 * 0.1886 * 1.01 - 100.0, rel=0.01)
    step = found.steps[-1]
    assert (
        step.what == "Lye for the oil that is over" and KOH_BURNS in step.cautions and KOH_INTO_WATER in step.cautions
    )
    assert "Titrate a sample before and after" in step.why
    assert pytest.approx(56.106, abs=0.001) == KOH_G_PER_MOL


def test_no_lye_is_named_where_the_weights_had_enough() -> None:
    steps = judged(("rapeseed", 600.0), excess=0.005).steps
    assert steps[-1].what == "No lye by guess" and not any("flakes" in one.why for one in steps)
    # Where a titration found lye, no lye is spoken of at all.
    titrated = judged(("rapeseed", 600.0), koh_g=100.0 / 0.90, free_koh_percent=0.05)
    assert [one.what for one in titrated.steps][-1] == "Cook it on" and "lye is over" in titrated.steps[-1].why


def test_a_soap_that_clears_when_warm_is_not_cooked_on() -> None:
    cold = judged(("palm", 400.0), ("rapeseed", 200.0), warmed="clears")
    assert any("palmitic, stearic" in cause for cause in cold.causes)
    assert not {"Cook it on", "Lye for the oil that is over", "No lye by guess"} & {one.what for one in cold.steps}
    hot = judged(("palm", 400.0), ("rapeseed", 200.0), warmed="stays hazy")
    assert not any("palmitic, stearic" in cause for cause in hot.causes)


def test_too_strong_a_soap_is_thinned_to_its_limit() -> None:
    found = judged(("rapeseed", 600.0), water_g=540.0)
    pot = cooked_batch(charge(ChargeInputs((portion("rapeseed", 600.0),), water_g=540.0)))
    assert pot.with_water(found.thin_water_g).soap_share == pytest.approx(found.fluid_up_to)
    thin = next(one for one in found.steps if one.what == "Thin it")
    assert BOILING_WATER in thin.cautions
    assert "Thin it" not in [one.what for one in judged(("rapeseed", 600.0), water_g=540.0, thinned="stays hazy").steps]


def test_hard_water_and_a_batch_that_no_sum_explains() -> None:
    hard = judged(("rapeseed", 600.0), excess=0.08, hardness_dh=20.0, tap_water_g=2000.0)
    assert hard.lime_g == pytest.approx(4.6, abs=0.1) and "4.6 g of soap as lime soap" in " ".join(hard.causes)
    plain = judged(("rapeseed", 600.0), excess=0.08, water_g=2500.0)
    assert plain.causes == ("No sum explains it: undercooked paste, or lime and dust in the bottles, are left.",)
    assert [step.what for step in plain.steps] == ["Try a sample first", "Cook it on"]


def test_a_trial_that_is_none_is_refused() -> None:
    with pytest.raises(ValueError, match="warmed is 'boiled'; it must be one of not tried, clears, stays hazy"):
        judged(("rapeseed", 600.0), warmed="boiled")
    with pytest.raises(ValueError, match="thinned is 'no'"):
        judged(("rapeseed", 600.0), thinned="no")


def test_every_step_has_its_caution() -> None:
    for more in ({}, {"koh_g": 100.0}, {"hardness_dh": 25.0, "tap_water_g": 500.0}, {"warmed": "stays hazy"}):
        assert all(step.cautions for step in judged(("rapeseed", 600.0), **more).steps)
