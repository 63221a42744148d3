"""The units that a kitchen reads in, against what standards publish."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.chemistry import OutOfRangeError, check_range
from monitor.formulation import METRIC, UNIT_CHOICES, UnitChoice, read_sheet, sheet_text

CHOICES = st.builds(UnitChoice, *(st.sampled_from(UNIT_CHOICES[name]) for name in ("mass", "volume", "temperature")))


@pytest.mark.parametrize(
    ("choice", "in_si", "published", "source"),
    [
        ("oz", 453.59237, 16.0, "NIST Handbook 44, appendix C: a pound of 16 oz is 453.592 37 g, exact"),
        ("US fl oz", 3785.411784, 128.0, "NIST Handbook 44, appendix C: a gallon of 128 fl oz is 3.785 411 784 L"),
        ("UK fl oz", 4546.09, 160.0, "Weights and Measures Act 1985, schedule 1: a gallon of 160 fl oz is 4.546 09 L"),
        ("degF", 0.0, 32.0, "NIST SP 811, appendix B.8: the ice point"),
        ("degF", 100.0, 212.0, "NIST SP 811, appendix B.8: the steam point"),
        ("degF", -40.0, -40.0, "NIST SP 811, appendix B.8: where both scales meet"),
    ],
)
def test_each_unit_is_as_published(choice: str, in_si: float, published: float, source: str) -> None:
    assert source
    units = UnitChoice(
        choice if choice in UNIT_CHOICES["mass"] else "g",
        choice if choice in UNIT_CHOICES["volume"] else "mL",
        choice if choice in UNIT_CHOICES["temperature"] else "degC",
    )
    told = {"oz": units.mass_of, "degF": units.temperature_of}.get(choice, units.volume_of)
    assert told(in_si) == pytest.approx(published, abs=1e-9)


@given(CHOICES, st.floats(0.0, 1e5))
def test_what_is_read_can_be_typed(units: UnitChoice, value: float) -> None:
    assert units.grams_of(units.mass_of(value)) == pytest.approx(value)
    assert units.ml_of(units.volume_of(value)) == pytest.approx(value)
    assert units.celsius_of(units.temperature_of(value)) == pytest.approx(value, abs=1e-9)


def test_a_difference_of_temperatures_has_no_zero_to_move() -> None:
    assert (UnitChoice(temperature="degF").span_text(5.0), METRIC.span_text(5.0)) == ("9 °F", "5 °C")


def test_a_number_is_refused_in_the_units_that_were_chosen() -> None:
    units = UnitChoice("oz", "US fl oz", "degF")
    with pytest.raises(OutOfRangeError) as refused:
        check_range("water", 300_000.0, 0.0, 100_000.0, "g")
    assert refused.value.in_words("water", units.refusals) == "water is 10582.2 oz; it must be from 0 to 3527 oz"


def test_a_sheet_stays_in_grams_whatever_was_chosen() -> None:
    text = '[[oil]]\nname = "olive"\ngrams = 600\n[water]\ngrams = 500\n'
    assert "grams = 600.0" in sheet_text(read_sheet(text))
