"""Thermocouple functions against a table and a library of NIST Monograph 175."""

import numpy as np
import pytest
import thermocouple_its90
from hypothesis import given
from hypothesis import strategies as st

from monitor.probes.thermocouple import LETTERS, compensated_c, emf_mv, temperature_c
from tests.probes.tables import rows

TABLE = rows("thermocouple_emf.csv")


@pytest.mark.parametrize("letter", LETTERS)
def test_emf_and_temperature_agree_with_the_table_at_every_degree(letter: str) -> None:
    degrees = np.array([float(row["temp_C"]) for row in TABLE])
    assert (degrees.min(), degrees.max(), len(degrees)) == (-10, 200, 211)
    emf = np.array([float(row[f"{letter}_mV"]) for row in TABLE])
    assert np.abs(emf_mv(letter, degrees) - emf).max() < 0.000001
    assert np.abs(temperature_c(letter, emf) - degrees).max() < 0.0001


@pytest.mark.parametrize(("letter", "hottest_c"), [("K", 1372), ("J", 760), ("T", 400)])
def test_the_whole_range_agrees_with_a_library(letter: str, hottest_c: int) -> None:
    # The library thermocouple-its90, which holds itself to every point of the NIST tables.
    library = thermocouple_its90.get(letter)
    for degrees in np.linspace(-200, hottest_c, 331):
        emf = library.emf(degrees)
        assert float(emf_mv(letter, degrees)) == pytest.approx(emf, abs=1e-8)
        assert float(temperature_c(letter, emf)) == pytest.approx(degrees, abs=0.001)


@given(st.sampled_from(LETTERS), st.floats(-10, 200), st.floats(-10, 60))
def test_cold_junction_compensation_agrees_with_a_library(letter: str, tip_c: float, cold_c: float) -> None:
    measured = thermocouple_its90.get(letter).emf(tip_c, reference=cold_c)
    assert float(compensated_c(letter, measured, cold_c)) == pytest.approx(tip_c, abs=0.001)


@given(st.sampled_from(LETTERS), st.floats(allow_nan=True, allow_infinity=True))
def test_any_voltage_gives_a_temperature_or_nan(letter: str, emf: float) -> None:
    degrees = float(temperature_c(letter, emf))
    assert np.isnan(degrees) or -200.01 <= degrees <= 1372.01


def test_an_unknown_type_is_refused_with_the_known_ones() -> None:
    with pytest.raises(ValueError, match="letter is 'E'"):
        emf_mv("E", 20.0)
