"""What is typed becomes a number in its range, or one sentence beside its field; never anything else."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard.bench.form import FieldError, Form
from monitor.formulation import OUNCE_G

typed = (
    st.text() | st.floats().map(str) | st.integers().map(str) | st.from_regex(r"-?\d{1,4}[.,]\d{0,4}", fullmatch=True)
)


@given(st.dictionaries(st.just("x"), typed | st.none() | st.booleans() | st.floats() | st.lists(st.integers())))
def test_a_number_or_one_sentence(fields: dict[str, object]) -> None:
    try:
        found = Form(fields).maybe("x", "Water", 0.0, 500.0, "g")
    except FieldError as error:
        assert error.field == "x" and error.why.endswith(".")
    else:
        assert found is None or 0.0 <= found <= 500.0


@given(st.floats(0.01, 3000.0))
def test_a_weight_in_ounces_is_the_same_weight(ounces: float) -> None:
    text = f"{ounces:.6f}"
    assert Form({"x": text}, ounces=True).grams("x", "Water") == pytest.approx(float(text) * OUNCE_G)


def test_bounds_are_told_in_the_unit_that_is_typed() -> None:
    with pytest.raises(FieldError, match=r"Oil is 9999 oz; it must be from 0 to 3527 oz\."):
        Form({"x": "9999"}, ounces=True).grams("x", "Oil")


@pytest.mark.parametrize(
    ("text", "number"), [("0,125", 0.125), ("1,5", 1.5), ("1.200", 1.2), (".5", 0.5), ("2,50", 2.5)]
)
def test_a_decimal_comma_is_taken_where_it_is_clear(text: str, number: float) -> None:
    assert Form({"x": text}).number("x", "Water", 0.0, 500.0) == number
