"""Samples, settling, additions, bottles and the label."""

import math
from importlib.resources import files

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.formulation.cautions import BOILING_WATER, FLAMMABLE, SUPPLIER_LIMIT
from monitor.formulation.clarity_sample import CLARITY_LOOKS, size_clarity_sample
from monitor.formulation.dilution import dilute
from monitor.formulation.label import REAGENTS, ingredient_label
from monitor.formulation.mass_balance import cooked_batch
from monitor.formulation.neutralisers import all_neutralisers
from monitor.formulation.settling import Additive, additive_amounts, bottles, settling_plan
from monitor.model import make_event
from tests.formulation.batches import single_oil_charge


@given(st.floats(1.0, 200.0))
def test_a_clarity_sample_takes_twice_its_mass_of_water(grams: float) -> None:
    sample = size_clarity_sample(grams)
    assert sample.water_g == 2.0 * grams
    for look in CLARITY_LOOKS:
        assert make_event("a", "checked", 0.0, 0.0, {"result": look.result, **sample.event})


def test_every_appearance_is_explained_and_the_ring_is_logged_as_cloudy() -> None:
    assert {look.result for look in CLARITY_LOOKS} == {"clear", "nearly clear", "hazy", "cloudy"}
    assert [look.result for look in CLARITY_LOOKS if "ring" in look.seen] == ["cloudy"]
    cautions = size_clarity_sample(5.0).cautions
    beside_paste = " ".join(caution.words for caution in cautions if caution.beside == "sample_g")
    assert "Never taste" in beside_paste and "hot and caustic" in beside_paste
    # Plain water is not caustic; boiling it scalds.
    assert [caution.words for caution in cautions if caution.beside == "water_g"] == [BOILING_WATER]


def test_what_burns_and_the_suppliers_limit_are_said_only_where_something_is_added() -> None:
    scented, plain = (additive_amounts(1000.0, wanted).cautions for wanted in ((Additive("scent", 1.0, 2.0),), ()))
    ours = {FLAMMABLE, SUPPLIER_LIMIT}
    assert ours <= {each.words for each in scented} and not ours & {each.words for each in plain}


def test_the_water_of_dilution_scalds_and_foams_but_is_not_called_caustic() -> None:
    made = single_oil_charge()
    cautions = dilute(cooked_batch(made), made.inputs.portions, soap_share=0.25).cautions
    beside_water = " ".join(caution.words for caution in cautions if caution.beside == "water_g")
    assert "scalds" in beside_water and "foams up" in beside_water and "caustic" not in beside_water


def test_the_reminder_comes_after_a_week_and_is_a_calendar_file() -> None:
    reminder = settling_plan(
        1_778_317_200.0, "Soap; the second, with a very long name that has to be folded, läng für länge"
    )
    assert reminder.look_at - reminder.began == 7 * 86_400
    lines = reminder.calendar.split("\r\n")
    # RFC 5545: CRLF, at most 75 octets a line, backslashes before commas and semicolons, times in UTC end in Z.
    assert lines[0] == "BEGIN:VCALENDAR" and lines[-2:] == ["END:VCALENDAR", ""]
    assert max(len(line.encode()) for line in lines) <= 75
    unfolded = reminder.calendar.replace("\r\n ", "")
    assert "Soap\\; the second\\, with a very long name that has to be folded\\, läng für länge" in unfolded
    assert "DTSTART:20260516T090000Z" in unfolded
    with pytest.raises(ValueError, match="days is 90; it must be from 1 to 60"):
        settling_plan(0.0, "Soap", 90.0)


@given(st.floats(10.0, 10_000.0), st.lists(st.floats(0.0, 10.0), max_size=4))
def test_additions_are_their_share_of_the_whole(soap_g: float, percents: list[float]) -> None:
    result = additive_amounts(soap_g, tuple(Additive(str(n), percent, 10.0) for n, percent in enumerate(percents)))
    assert math.isclose(result.product_g, soap_g + sum(each.grams for each in result.grams), rel_tol=1e-9)
    for each, percent in zip(result.grams, percents, strict=True):
        assert math.isclose(each.grams, result.product_g * percent / 100.0, rel_tol=1e-9, abs_tol=1e-12)


def test_more_than_its_supplier_allows_is_refused() -> None:
    with pytest.raises(ValueError, match=r"^scent is 3 %; it must be from 0 to 2 %"):
        additive_amounts(1000.0, (Additive("scent", 3.0, 2.0),))


@given(st.floats(10.0, 100_000.0), st.floats(5.0, 2000.0))
def test_bottles_and_remainder_add_up_to_the_product(product_g: float, bottle_ml: float) -> None:
    result = bottles(product_g, bottle_ml)
    assert math.isclose(result.full * bottle_ml + result.over_ml, result.product_ml, rel_tol=1e-9)
    assert result.over_ml < bottle_ml * (1.0 + 1e-6)


@pytest.mark.parametrize("as_put_in", [False, True])
def test_ingredients_fall_by_mass_and_add_up_to_the_product(as_put_in: bool) -> None:
    made = single_oil_charge()
    pot = cooked_batch(made).with_water(900.0).with_reagent("citric acid", 2.0).with_addition("scent", 5.0)
    result = ingredient_label(made, pot, title="Soap", lot="7", made="May 2026", contents_ml=250.0, as_put_in=as_put_in)
    grams = [each.grams for each in result.ingredients]
    assert grams == sorted(grams, reverse=True) and math.isclose(sum(each.share for each in result.ingredients), 1.0)
    assert result.listed.startswith("Aqua, ")
    expected = {False: "Potassium Rapeseedate", True: "Brassica Campestris Seed Oil"}[as_put_in]
    assert expected in result.listed and "scent" in result.common_list
    assert "official glossary" in result.cautions[0].words


def test_residual_lye_is_listed_until_it_is_neutralised() -> None:
    made = single_oil_charge()
    left = ingredient_label(made, cooked_batch(made), title="", lot="", made="", contents_ml=250.0)
    assert "Potassium Hydroxide" in left.listed
    gone = ingredient_label(
        made, cooked_batch(made).with_reagent("citric acid", 20.0), title="", lot="", made="", contents_ml=250.0
    )
    assert "Potassium Hydroxide" not in gone.listed and "Potassium Citrate" in gone.listed


def test_every_reagent_has_its_names() -> None:
    assert set(REAGENTS) == {reagent.name for reagent in all_neutralisers().values()}


def test_no_table_carries_an_empty_name() -> None:
    for line in files("monitor.formulation").joinpath("ingredient_names.csv").read_text(encoding="utf-8").splitlines():
        assert ",," not in line
