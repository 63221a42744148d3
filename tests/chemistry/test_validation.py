"""A number out of its range is refused in the unit it was typed in, with bounds that can be typed."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.chemistry import FRACTION, IN_PERCENT, OutOfRangeError, check_range, plain_words, told_range

BOUNDS = st.floats(-1e6, 1e6, allow_nan=False).filter(lambda bound: bound == 0.0 or abs(bound) > 1e-6)


def refused(*arguments: object) -> OutOfRangeError:
    with pytest.raises(OutOfRangeError) as caught:
        check_range(*arguments)  # type: ignore[arg-type]
    return caught.value


def test_the_sentence_names_the_argument_and_can_be_said_in_what_was_typed() -> None:
    error = refused("koh_assay", 1.5, 0.5, 1.0, FRACTION)
    assert str(error) == "koh_assay is 1.5; it must be from 0.5 to 1"
    assert error.in_words("KOH in the flakes", IN_PERCENT) == "KOH in the flakes is 150 %; it must be from 50 to 100 %"
    assert isinstance(error, ValueError)


def test_a_reason_stands_between_number_and_range() -> None:
    error = refused("reagent_g", 12.0, 0.0, 4.56512345, "g", "which would overshoot")
    assert str(error) == "reagent_g is 12 g, which would overshoot; it must be from 0 to 4.565 g"


@pytest.mark.parametrize("value", [math.nan, math.inf, True, "5", None])
def test_what_is_no_finite_number_is_refused(value: object) -> None:
    assert "must be a number from 0.1 to 10 g" in str(refused("oil", value, 0.1, 10.0, "g"))


def test_binary_remainders_are_not_told() -> None:
    assert told_range(0.0, 1.0 - 0.9, "") == "from 0 to 0.1"
    assert told_range(0.1 + 0.2, 1e5, "g") == "from 0.3 to 100000 g"


@given(BOUNDS, BOUNDS)
def test_a_bound_that_is_told_is_allowed(one: float, other: float) -> None:
    low, high = min(one, other), max(one, other)
    _, told_low, _, told_high = told_range(low, high).split()
    # Within what binary fractions add.
    assert float(told_low) >= low - 1e-8 * abs(low)
    assert float(told_high) <= high + 1e-8 * abs(high)


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("acid_mol_l", "acid"),
        ("water_per_alkali", "water per alkali"),
        ("naoh_g", "NaOH"),
        ("ph", "pH"),
        ("the most of scent", "the most of scent"),
        ("days", "days"),
    ],
)
def test_a_name_without_better_words_is_said_without_its_unit(name: str, words: str) -> None:
    assert plain_words(name) == words
