"""Converter words and the linear conversion of the MAX31855, compared with outside tables."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.probes.converters import CONVERTERS, GAIN_MV_PER_C, decode, linearised_c
from monitor.probes.thermocouple import emf_mv
from tests.probes.tables import rows

LINE = rows("max31855_linearisation_error.csv")


@pytest.mark.parametrize("letter", list(GAIN_MV_PER_C))
def test_the_linear_conversion_error_agrees_with_the_table_and_is_corrected(letter: str) -> None:
    mine = [row for row in LINE if row["type"] == letter]
    assert len(mine) == 147
    true_c = np.array([float(row["true_C"]) for row in mine])
    cold_c = np.array([float(row["cold_junction_C"]) for row in mine])
    off_c = np.array([float(row["reading_minus_true_C"]) for row in mine])
    # The table is rounded to 0.001.
    assert np.abs(linearised_c(letter, true_c + off_c, cold_c) - true_c).max() < 0.001
    chip_c = cold_c + (emf_mv(letter, true_c) - emf_mv(letter, cold_c)) / GAIN_MV_PER_C[letter]
    assert np.abs(chip_c - true_c - off_c).max() < 0.0006


@given(st.sampled_from(CONVERTERS), st.lists(st.integers(-1, 2**33), min_size=1, max_size=20))
def test_any_word_gives_a_temperature_or_a_fault(converter: str, words: list[int]) -> None:
    text = decode(converter, np.array(words, dtype=np.float64))
    faulty = dict(text.faults)
    for index, value in enumerate(text.temperature_c.tolist()):
        assert math.isnan(value) == (index in faulty)
        assert math.isnan(value) or -2100 <= value <= 2100


@given(st.integers(-1000, 5200).filter(lambda quarter: quarter != 0), st.integers(-880, 2000))
def test_every_valid_max31855_word_is_decoded(quarters: int, sixteenths: int) -> None:
    word = (quarters & 0x3FFF) << 18 | (sixteenths & 0xFFF) << 4
    text = decode("MAX31855", np.array([word], dtype=np.float64))
    assert text.temperature_c.tolist() == [quarters / 4] and text.faults == ()
    assert text.cold_c is not None and text.cold_c.tolist() == [sixteenths / 16]


@pytest.mark.parametrize("word", [0.5, -1.0, 2.0**32, math.inf])
def test_an_invalid_word_is_a_fault(word: float) -> None:
    text = decode("MAX31855", np.array([word]))
    assert math.isnan(text.temperature_c[0])
    assert len(text.faults) == (1 if math.isfinite(word) else 0)


def test_a_fault_sent_by_the_device_is_kept() -> None:
    assert decode("MAX31855", np.array([math.nan])).faults == ()


def test_an_unknown_chip_is_refused_with_the_known_ones() -> None:
    with pytest.raises(ValueError, match="converter is 'MAX1'"):
        decode("MAX1", np.zeros(1))
