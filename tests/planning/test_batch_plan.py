"""Planned batches: shares, sizes, what they give, and what differs from the batch before."""

import math
from dataclasses import replace

import periodictable
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.formulation import read_sheet, sheet_text
from monitor.model import Alkali, Batch
from monitor.planning import (
    OilShare,
    PlanError,
    batch_changes,
    fresh_sheet,
    oil_of,
    oils_by_share,
    plan_batch,
    scaled,
    scaled_to_bottles,
    scaled_to_oil,
    scaled_to_pot,
    with_usual_water,
)
from monitor.runtime import MonitorError


def batch_of(*oils: tuple[str, float], water_g: float = 500.0) -> Batch:
    return Batch("Plan", tuple(oil_of(*each) for each in oils), Alkali("KOH", 0.9, 0.03), water_g)


TWO_OILS = batch_of(("olive", 700.0), ("coconut", 300.0), water_g=720.0)


def test_shares_make_the_weights_of_all_oils() -> None:
    oils = oils_by_share((OilShare("olive", 0.333), OilShare("coconut", 0.667)), 900.0)
    assert [round(oil.grams, 1) for oil in oils] == [299.7, 600.3]


@pytest.mark.parametrize(
    ("shares", "why"),
    [((0.6, 0.3), "add up to 90 %; 10 % is missing"), ((0.8, 0.3), "add up to 110 %; that is 10 % too much")],
)
def test_shares_that_do_not_add_up_are_refused(shares: tuple[float, float], why: str) -> None:
    with pytest.raises(PlanError, match=why):
        oils_by_share((OilShare("olive", shares[0]), OilShare("coconut", shares[1])), 1000.0)


@given(st.floats(1.0, 200.0), st.floats(0.3, 0.9))
def test_the_largest_batch_of_a_pot_leaves_the_room_and_no_step_more(cooker_l: float, full: float) -> None:
    batch = scaled_to_pot(TWO_OILS, cooker_l, full)
    fill = plan_batch(batch).fill
    assert fill is not None and fill.filled <= full + 1e-9
    assert fill.filled > full * (1.0 - 10.0 / sum(oil.grams for oil in batch.oils))


def test_potassium_oleate_for_the_bottles_follows_from_atomic_weights() -> None:
    # Source: IUPAC atomic weights, by the package periodictable. Oleic acid C18H34O2 + KOH = C18H33KO2 + H2O.
    per_acid = periodictable.formula("C18H33KO2").mass / periodictable.formula("C18H34O2").mass
    batch = replace(batch_of(("oleic acid", 1.0)), scale_grams=0.001)
    sized = scaled_to_bottles(replace(batch, water_grams=0.5), 12, 250.0, 0.20, spare_share=0.0)
    soap_g = 12 * 250.0 * 1.02 * 0.20
    assert sized.oils[0].grams == pytest.approx(soap_g / per_acid, rel=2e-3)


@given(st.integers(1, 400), st.floats(100.0, 1000.0), st.floats(0.1, 0.25))
def test_the_bottles_that_were_asked_for_are_filled(count: int, bottle_ml: float, share: float) -> None:
    try:
        plan = plan_batch(scaled_to_bottles(TWO_OILS, count, bottle_ml, share), soap_share=share, bottle_ml=bottle_ml)
    except MonitorError as error:
        # A batch of more than 100 kg of one oil is none of a kitchen's.
        assert "100000 g" in str(error)
        return
    # Whole grams may just reach the next bottle, and never miss the last.
    assert plan.bottles is not None and plan.bottles.full in (count, count + 1)


def test_an_oil_at_hand_is_used_up_and_never_overdrawn() -> None:
    sized = scaled_to_oil(TWO_OILS, "Coconut oil", 455.0)
    assert [oil.grams for oil in sized.oils] == [math.floor(700 * 455 / 300), 455.0]


def test_an_oil_below_one_step_of_the_scale_is_refused() -> None:
    with pytest.raises(PlanError, match=r"coconut would be 0.3 g, and the scale shows steps of 1 g"):
        scaled(TWO_OILS, 0.001)


def test_a_pot_too_small_is_refused_with_what_it_takes() -> None:
    with pytest.raises(PlanError, match=r"it makes \d.\d\d L, and the pot holds 1.5 L to the rim, of which 1.00 L"):
        plan_batch(replace(TWO_OILS, cooker_litres=1.5))


def test_a_batch_too_small_for_a_bottle_is_refused() -> None:
    with pytest.raises(PlanError, match="does not fill one bottle of 2000 mL"):
        plan_batch(scaled(TWO_OILS, 0.05), bottle_ml=2000.0)


def test_more_soap_than_the_pot_takes_is_said() -> None:
    plan = plan_batch(scaled_to_pot(TWO_OILS, 3.5))
    assert any("dilute in a larger vessel" in words for words in plan.words)


def test_usual_water_is_three_times_the_flakes() -> None:
    batch = with_usual_water(TWO_OILS)
    assert 0.0 <= batch.water_grams - 3.0 * plan_batch(batch).charge.koh_g < 1.0


def test_a_thin_paste_is_planned_at_the_strength_that_it_has() -> None:
    plan = plan_batch(batch_of(("coconut", 100.0), water_g=600.0))
    assert plan.dilution.water_g == pytest.approx(0.0, abs=1e-6)


def test_a_past_sheet_loses_its_lots_and_weights() -> None:
    text = 'lot = "7"\nstarted = 2026-03-14T10:20:00+00:00\n[[oil]]\nname = "olive"\ngrams = 9\nlot = "a"\n'
    fresh = fresh_sheet(read_sheet(text + '[alkali]\ngrams = 2\nlot = "b"'))
    assert fresh.started is None and fresh.alkali.grams is None
    assert (fresh.lot, fresh.oils[0].lot, fresh.alkali.lot) == ("", "", "")


def test_what_changed_is_said_for_the_same_mass_of_oil() -> None:
    after = batch_of(("Olive oil", 1200.0), ("castor", 800.0), water_g=1440.0)
    assert batch_changes(TWO_OILS, after)[:4] == (
        "Olive oil 60.0% of the oils instead of 70.0%.",
        "Castor is new, 40.0% of the oils.",
        "Coconut is left out; it was 30.0%.",
        "Need of pure KOH for 100 g of oil 18.7 g instead of 21.1 g.",
    )
    assert batch_changes(TWO_OILS, after)[-1] == "2 times as large: 2000 g of oil, was 1000 g."
    assert batch_changes(TWO_OILS, TWO_OILS) == ()


def test_a_plan_is_kept_and_read_back_as_a_sheet() -> None:
    batch = scaled_to_pot(TWO_OILS, 3.5)
    assert read_sheet(sheet_text(batch)) == batch
