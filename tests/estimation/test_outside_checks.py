"""The temperature-history integral and the rate law against values from outside the project.

Each row names its source; a row without one fails. S: seen in the source; M: from memory; C: computed from the
formula with another tool (scipy, chempy and Cantera agree on the rate-law rows).
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp

from monitor.estimation.kinetics import (
    GAS_CONSTANT,
    accumulate,
    arrhenius_factor,
    clear_gain,
    doubling_factor,
    ea_of_doubling,
    fixed_z_factor,
    law_converted,
    mean_kinetic_temperature,
    second_order_converted,
)

JOULE_PER_MOL_PER_EV = 1.602176634e-19 * 6.02214076e23


@dataclass(frozen=True)
class Check:
    name: str
    got: Callable[[], float]
    expected: float
    tolerance: float
    source: str


RETORT_F = [
    *(140.0, 140, 140, 140, 163, 185, 201, 213, 224, 229.4, 234.5, 238, 241, 243.5, 245),
    *(246.3, 247.3, 247, 245.2, 223.5, 175, 153),
]


def _steps(pairs: list[tuple[float, float]], z_c: float, reference_c: float) -> float:
    return sum(seconds * float(fixed_z_factor(temperature, z_c, reference_c)) for temperature, seconds in pairs)


def _linear_ramp() -> float:
    times = np.linspace(0.0, 5400.0, 5401)
    return float(accumulate(times, arrhenius_factor(20.0 + 70.0 * times / 5400.0, 50_000.0, 80.0))[-1])


def _pasteurisation_units(temperature_c: float) -> float:
    return float(fixed_z_factor(temperature_c, 1.0 / math.log10(1.393), 60.0))


def _age_factor(temperature_c: float) -> float:
    # C1074's form takes 0 degC as 273 K.
    return float(arrhenius_factor(temperature_c - 0.15, 5000.0 * GAS_CONSTANT, 19.85))


def _ea_kj_mol(temperature_c: float) -> float:
    return ea_of_doubling(temperature_c) / 1000.0


def _exercise_ester(seconds: float) -> float:
    # Limiting reagent is the alkali, 0.050 M; the ester, 0.100 M, is in excess by 1.0 of it.
    return 0.100 - 0.050 * float(second_order_converted(0.11 * 0.050 * seconds, 1.0, start=0.0))


def _ramped_ester(seconds: float) -> float:
    times = np.linspace(0.0, seconds, 20_001)
    temperatures = 25.0 + 50.0 * np.minimum(times / 1800.0, 1.0)
    rate = 1e7 * np.exp(-45_380.0 / (GAS_CONSTANT * (temperatures + 273.15)))
    gained = float(accumulate(times, rate)[-1])
    return 0.020 * (1.0 - float(second_order_converted(0.020 * gained, 0.1, start=0.0)))


CHECKS = [
    Check("A", lambda: 5.0 * float(fixed_z_factor(RETORT_F, 18.0, 250.0).sum()), 21.68993687, 5e-9,
          "retort coursework, scribd document 423874786 (S)"),
    Check("B", lambda: mean_kinetic_temperature([24, 26, 28, 21], [16, 5, 3, 24], 83_144.0), 23.23, 0.005,
          "mean kinetic temperature example, tooljolt.com (S)"),
    Check("C", lambda: mean_kinetic_temperature([19.8, 20.2, 20.6, 21, 21.3, 21.5], [1] * 6,
                                                83144.72 / 8.314472 * GAS_CONSTANT),
          20.752780387897474, 1e-9, "numbers from the tests of ddcmath (S)"),
    Check("D", lambda: _steps([(135, 1), (142, 2), (140, 3), (130, 4)], 10.0, 121.1), 534.52, 0.005,
          "scribd document 437890704 (S)"),
    Check("E", lambda: _steps([(138, 4)], 8.5, 121.0), 400.0, 1e-9, "scribd document 437890704 (S)"),
    Check("F", lambda: _steps([(85, 15)], 8.7, 102.0), 0.167, 0.0005, "dairyscience.info (S)"),
    Check("H", lambda: float(accumulate([0.0, 28.0], [15.0 + 11.0] * 2)[-1]), 728.0, 1e-9,
          "Nurse-Saul maturity, civil-engineering text (S)"),
    Check("J, 0.5 eV", lambda: float(arrhenius_factor(125.0, 0.5 * JOULE_PER_MOL_PER_EV, 25.0)), 133.0, 0.5,
          "NIST/SEMATECH handbook 8.1.5.1 (M)"),
    Check("J, 1.0 eV", lambda: float(arrhenius_factor(125.0, 1.0 * JOULE_PER_MOL_PER_EV, 25.0)), 17597.0, 60.0,
          "NIST/SEMATECH handbook 8.1.5.1 (M); the handbook rounds k to 8.617e-5 eV/K"),
    Check("K", _linear_ramp, 2394.439847, 2e-4, "exact by the exponential integral (C)"),
    Check("P 62", lambda: _pasteurisation_units(62.0), 1.940, 0.0005, "form of Del Vecchio 1951 (S)"),
    Check("P 65", lambda: _pasteurisation_units(65.0), 5.245, 0.0005, "form of Del Vecchio 1951 (S)"),
    Check("P 70", lambda: _pasteurisation_units(70.0), 27.51, 0.005, "form of Del Vecchio 1951 (S)"),
    *(
        Check(f"age factor {t}", partial(_age_factor, t), factor, 5e-5,
              "Freiesleben-Hansen and Pedersen in the form of ASTM C1074, Q 5000 K, 20 degC, which takes 0 degC as 273 K (C)")
        for t, factor in [(5, 0.3982), (10, 0.5472), (30, 1.7563), (40, 2.9755), (50, 4.8791), (60, 7.7666)]
    ),
    Check("exercise, 10 s", lambda: _exercise_ester(10.0), 0.0949, 5e-5,
          "physical-chemistry exercise (M for the textbook's 0.095)"),
    Check("exercise, 600 s", lambda: _exercise_ester(600.0), 0.0509, 5e-5,
          "physical-chemistry exercise (M for the textbook's 0.051)"),
    Check("ramp, 900 s", lambda: _ramped_ester(900.0), 0.00273757, 1e-8, "scipy, chempy and Cantera agree (C)"),
    Check("ramp, 1800 s", lambda: _ramped_ester(1800.0), 2.511051e-4, 1e-9, "scipy, chempy and Cantera agree (C)"),
    Check("rule of thumb", lambda: 336.0 / float(doubling_factor(95.0, 25.0)), 2.6, 0.05,
          "336 h at 25 degC when every 10 degC doubles the rate; cooks take 3-4 h (common practice, no source)"),
    Check("doubling 298-308 K", lambda: ea_of_doubling(298.0 - 273.15) / 1000.0, 52.897_78, 0.01,
          "NCERT chemistry, class XII (M; with R 8.314)"),
    *(
        Check(f"doubling {t}", partial(_ea_kj_mol, t), ea, 0.006, "R ln2 T(T+10)/10 (C)")
        for t, ea in [(20, 51.22), (50, 62.04), (60, 65.88), (70, 69.84), (80, 73.91), (85, 75.99)]
    ),
]  # fmt: skip


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.name)
def test_agrees_with_the_published_value(check: Check) -> None:
    assert check.source.strip()
    assert check.got() == pytest.approx(check.expected, abs=check.tolerance)


@pytest.mark.parametrize("excess", [-0.009, -0.004, 0.0, 1e-6, 0.01, 0.03, 0.05, 0.2])
def test_the_closed_form_is_what_scipy_integrates(excess: float) -> None:
    """Source: scipy.integrate.solve_ivp on the rate law itself."""
    gains = np.linspace(0.0, float(clear_gain(excess)), 12)
    solved = solve_ivp(
        lambda _, x: (1 - x) * (1 + excess - x), (0.0, gains[-1]), [0.1], t_eval=gains, rtol=1e-11, atol=1e-13
    )
    assert second_order_converted(gains, excess) == pytest.approx(solved.y[0], abs=1e-9)
    assert solved.y[0][-1] == pytest.approx(0.99, abs=1e-9)
    assert law_converted(np.array(1.0), excess) == pytest.approx(0.99, abs=1e-12)


def test_the_integral_is_what_scipy_quadrature_gives_on_a_warming_paste() -> None:
    """Source: scipy.integrate.quad of the Arrhenius factor along a curve with uneven steps."""

    def temperature(t: float) -> float:
        return 95.0 - 30.0 * math.exp(-t / 2400.0)

    exact, _ = quad(lambda t: float(arrhenius_factor(temperature(t), 50_000.0)), 0.0, 7200.0, epsabs=1e-9)
    times = 7200.0 * np.linspace(0.0, 1.0, 3000) ** 1.5
    got = accumulate(times, arrhenius_factor([temperature(t) for t in times], 50_000.0))[-1]
    assert got == pytest.approx(exact, rel=1e-6)
