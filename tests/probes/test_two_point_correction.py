"""Ice and boiling water, against a steam-table library; tolerances of IEC 60584-1."""

import iapws
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.probes.two_point_correction import (
    BOILING,
    ICE,
    BathPoint,
    boiling_point_c,
    field_correction,
    station_pressure_hpa,
)
from monitor.probes.uncertainty import chain_tolerance_c, wire_tolerance_c


@pytest.mark.parametrize("pressure_hpa", [500, 700, 800, 900, 985, 1013.25, 1050, 1100])
def test_the_boiling_point_agrees_with_a_steam_table(pressure_hpa: float) -> None:
    # The library iapws, its IAPWS-IF97 and its independent IAPWS-95 (Wagner equation of saturation).
    assert boiling_point_c(pressure_hpa) == pytest.approx(iapws.IAPWS97(P=pressure_hpa / 1e4, x=0).T - 273.15, abs=1e-9)
    of_95 = iapws.IAPWS95(P=pressure_hpa / 1e4, x=0).T - 273.15
    assert boiling_point_c(pressure_hpa) == pytest.approx(of_95, abs=0.01)


@pytest.mark.parametrize("pressure_hpa", [29.92, 101325.0, 0.0, float("nan")])
def test_a_pressure_in_another_unit_is_refused(pressure_hpa: float) -> None:
    with pytest.raises(ValueError, match="from 500 to 1100"):
        boiling_point_c(pressure_hpa)


@pytest.mark.parametrize(("altitude_m", "pressure_hpa"), [(0, 1013.25), (500, 954.6), (1000, 898.7), (2000, 794.95)])
def test_station_pressure_agrees_with_the_standard_atmosphere(altitude_m: float, pressure_hpa: float) -> None:
    # ISO 2533 standard atmosphere tables, from memory.
    assert station_pressure_hpa(1013.25, altitude_m) == pytest.approx(pressure_hpa, abs=0.1)


@given(st.floats(0.97, 1.03), st.floats(-3, 3), st.floats(700, 1050), st.floats(20, 110))
def test_two_baths_correct_any_gain_and_offset(gain: float, offset_c: float, hpa: float, true_c: float) -> None:
    points = [BathPoint(ICE, offset_c), BathPoint(BOILING, gain * boiling_point_c(hpa) + offset_c, hpa)]
    read = np.array([gain * true_c + offset_c])
    assert field_correction(points).corrected_c(read)[0] == pytest.approx(true_c, abs=1e-9)


def test_one_bath_corrects_the_offset_only() -> None:
    correction = field_correction([BathPoint(ICE, 0.75)])
    assert (correction.gain, correction.offset_c) == (1.0, -0.75)


@pytest.mark.parametrize(
    ("points", "says"),
    [
        ([BathPoint(ICE, 99.5), BathPoint(BOILING, 0.2, 1000)], "baths are swapped"),
        ([BathPoint(ICE, 0.2), BathPoint(ICE, 0.3)], "Both readings are of ice water"),
        ([BathPoint(ICE, 21.0), BathPoint(BOILING, 22.0, 1000)], "nearly the same"),
        ([BathPoint(ICE, 12.0), BathPoint(BOILING, 99.0, 1000)], "too far off"),
        ([BathPoint(BOILING, 211.0, 1000)], "too far off"),
        ([BathPoint(BOILING, float("nan"), 1000)], "too far off"),
        ([BathPoint(BOILING, 99.0)], "needs the pressure"),
        ([BathPoint("tea", 60.0)], "it must be 'ice water' or"),
        ([], "one or two"),
    ],
)
def test_implausible_baths_are_refused_in_one_sentence(points: list[BathPoint], says: str) -> None:
    with pytest.raises(ValueError, match=says) as told:
        field_correction(points)
    assert "\n" not in str(told.value)


def test_tolerances_follow_the_wire_classes() -> None:
    # IEC 60584-1:2013 by makers' tables: type K of class 1 and 2 near 100 degC 1.5 and 2.5, type T of class 1 0.5.
    assert wire_tolerance_c("K", 1, 100.0) == 1.5 and wire_tolerance_c("K", 2, 100.0) == 2.5
    assert wire_tolerance_c("T", 1, 100.0) == 0.5 and wire_tolerance_c("K", 1, 1000.0) == 4.0
    # sqrt(2.5^2 + 2.0^2) = 3.2.
    assert chain_tolerance_c("K", 2, "MAX31855", 95.0) == pytest.approx(3.2, abs=0.05)
    assert chain_tolerance_c("K", 2, "MAX31855", 95.0, checked=True) == 0.5
    with pytest.raises(ValueError, match="'K' and 3"):
        wire_tolerance_c("K", 3, 95.0)
