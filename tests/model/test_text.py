"""Spans in words are the same on every machine, whatever dust its sums leave."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.model import signed_span, span

# Sums of a few hundred terms of up to a day differ by this between processors.
DUST_S = st.floats(-1e-6, 1e-6)


@given(st.integers(0, 2_000), DUST_S)
def test_rounding_error_does_not_change_how_a_half_is_rounded(halves: int, dust_s: float) -> None:
    assert span(halves * 0.5 + dust_s) == span(halves * 0.5)
    assert span(halves * 30.0 + dust_s) == span(halves * 30.0)


@given(DUST_S | st.floats(-0.49, 0.49))
def test_zero_has_no_minus_sign(seconds: float) -> None:
    assert signed_span(seconds) == "+0 s"


@pytest.mark.parametrize(("seconds", "words"), [(-0.6, "-1 s"), (-90.0, "-90 s"), (7200.0, "+2 h 00 min")])
def test_a_value_that_does_not_round_to_zero_keeps_its_sign(seconds: float, words: str) -> None:
    assert signed_span(seconds) == words
