"""pH of a solution of alkali, soap, carbonate, borate and citrate, from its charge balance.

Concentrations in mol per kg of water. Activity coefficients after Davies, trusted to an ionic strength of 0.5; acid
constants by temperature from the table, straight lines between its points.
"""

import csv
import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from itertools import pairwise
from types import MappingProxyType

from monitor.chemistry.acid_soap import ACID_SOAP_PER_PH, fatty_acid_share
from monitor.chemistry.validation import check_range

COLDEST_C, HOTTEST_C = 0.0, 60.0
STRONGEST_DAVIES = 0.5


@dataclass(frozen=True, slots=True)
class Solution:
    """The dissolved species, mol per kg of water; every amount 0 to 10.

    Parameters
    ----------
    cations : K+ and Na+ together.
    boron, citrate, carbonate, lactate : totals over all their ions.
    soap : soap, with what is set free of it as fatty acid.
    temperature_c : 0 to 60 degC.
    acid_soap_per_ph : mol of H+ per mol of soap and unit of pH, one of ``ACID_SOAP_PER_PH``.
    """

    cations: float
    boron: float = 0.0
    citrate: float = 0.0
    carbonate: float = 0.0
    lactate: float = 0.0
    soap: float = 0.0
    temperature_c: float = 25.0
    acid_soap_per_ph: float = ACID_SOAP_PER_PH[1]

    def __post_init__(self) -> None:
        for name in ("cations", "boron", "citrate", "carbonate", "lactate", "soap"):
            check_range(name, getattr(self, name), 0.0, 10.0, "mol/kg")
        check_range("temperature_c", self.temperature_c, COLDEST_C, HOTTEST_C, "°C")


LACTIC_PKA = 3.86
"""At 25 degC, from memory; far enough below any pH of interest that its change with temperature does not tell."""


@cache
def _constants() -> Mapping[str, tuple[tuple[float, float], ...]]:
    text = files("monitor.chemistry").joinpath("acid_constants.csv").read_text(encoding="utf-8")
    rows = list(csv.DictReader(text.splitlines()))
    names = [name for name in rows[0] if name.startswith("pK")]
    return MappingProxyType({name: tuple((float(row["temp_C"]), float(row[name])) for row in rows) for name in names})


def acid_constant(name: str, temperature_c: float) -> float:
    """An acid constant as pK at a temperature, interpolated linearly in the table.

    Parameters
    ----------
    name : a column of ``acid_constants.csv``, such as pKa_boric.
    temperature_c : 0 to 60 degC.

    References
    ----------
    .. [1] Boric acid: Manov, DeLollis and Acree, J. Res. NBS 33:287 (1944), from memory.
    .. [2] Citric acid: Bates and Pinching, J. Am. Chem. Soc. 71:1274 (1949), from memory.
    .. [3] Carbonic acid: Harned and Davis (1943), Harned and Scholes (1941), from memory.

    >>> acid_constant("pKa_boric", 25), round(acid_constant("pK2_carbonic", 22), 3)
    (9.235, 10.358)
    """
    check_range("temperature_c", temperature_c, COLDEST_C, HOTTEST_C, "°C")
    points = _constants()[name]
    for (t0, k0), (t1, k1) in pairwise(points):
        if t0 <= temperature_c <= t1:
            return k0 + (k1 - k0) * (temperature_c - t0) / (t1 - t0)
    raise AssertionError("the table reaches beyond the range checked above")


def pk_water(temperature_c: float) -> float:
    """The ionic product of water as pKw: 4470.99 / T - 6.0875 + 0.01706 T, T in kelvin.

    Parameters
    ----------
    temperature_c : 0 to 60 degC, the range of the fit.

    References
    ----------
    .. [1] Harned and Robinson, Trans. Faraday Soc. 36:973 (1940), from memory.

    >>> round(pk_water(25), 3), round(pk_water(0), 2)
    (13.995, 14.94)
    """
    kelvin = check_range("temperature_c", temperature_c, COLDEST_C, HOTTEST_C, "°C") + 273.15
    return 4470.99 / kelvin - 6.0875 + 0.01706 * kelvin


def log_activity(charge: int, ionic_strength: float, temperature_c: float) -> float:
    """The decadic logarithm of an ion's activity coefficient by the Davies equation.

        log10 g = -A z^2 (sqrt(I) / (1 + sqrt(I)) - 0.3 I),  A = 0.4918 + 6.614e-4 t + 4.975e-6 t^2

    Parameters
    ----------
    charge : z, in elementary charges; its sign does not matter.
    ionic_strength : I, mol/kg. Above 0.5 the value at 0.5 is returned, because the equation turns upward there.
    temperature_c : t, degC, 0 to 60.

    References
    ----------
    .. [1] Davies, Ion Association, Butterworths (1962), the form with 0.3 I; A(t) from memory.

    >>> round(log_activity(1, 0.02, 25.0), 4)
    -0.0603
    """
    a = 0.4918 + 6.614e-4 * temperature_c + 4.975e-6 * temperature_c**2
    strength = min(ionic_strength, STRONGEST_DAVIES)
    root = math.sqrt(strength)
    return -a * charge**2 * (root / (1.0 + root) - 0.3 * strength)


def ph(solution: Solution) -> float:
    """The pH, minus the logarithm of the hydrogen ion's activity, at which the charges balance.

    Fixed-point iteration of the ionic strength around a bisection of the charge balance, sum of z_i m_i(pH) = 0, over
    pH -1 to 16; it ends when the pH changes by less than 1e-9. Limits: ionic strength to 0.5 mol/kg by the Davies
    equation, 0 to 60 degC. The tests hold it against PHREEQC.

    0.01 mol/kg of borax at 25 degC, where the NBS buffer has 9.180:

    >>> round(ph(Solution(cations=0.02, boron=0.04)), 2)
    9.17
    """
    strength = solution.cations
    result = 7.0
    # The ionic strength depends on the pH and the pH on the ionic strength; a few iterations converge.
    for _ in range(40):
        previous = result
        result = _balanced_ph(solution, strength)
        strength = _ionic_strength(solution, result, strength)
        if abs(result - previous) < 1e-9:
            break
    return result


def acid_at(solution: Solution, ph_value: float) -> float:
    """Strong acid, mol of H+ per kg of water, that brings a solution to this pH; below 0 it needs as much alkali.

    The charge that the solution lacks at that pH. Ionic strength is that of its cations.

    Parameters
    ----------
    ph_value : 4 to 14.

    >>> round(acid_at(Solution(cations=0.02), 11.0), 3)
    0.019
    """
    return _net_charge(solution, check_range("ph", ph_value, 4.0, 14.0), solution.cations)


def _balanced_ph(solution: Solution, strength: float) -> float:
    low, high = -1.0, 16.0
    for _ in range(50):
        middle = (low + high) / 2.0
        if _net_charge(solution, middle, strength) > 0.0:
            low = middle
        else:
            high = middle
    return (low + high) / 2.0


def _ions(solution: Solution, ph_value: float, strength: float) -> list[tuple[int, float]]:
    """(charge, mol per kg) of every ion at this pH and ionic strength."""
    t = solution.temperature_c
    log1, log2, log3 = (log_activity(charge, strength, t) for charge in (1, 2, 3))
    ions = [
        (1, solution.cations),
        (1, 10.0 ** (-ph_value - log1)),
        (-1, 10.0 ** (ph_value - pk_water(t) - log1)),
        *_anions(solution.boron, [ph_value - acid_constant("pKa_boric", t) - log1]),
        *_anions(solution.lactate, [ph_value - LACTIC_PKA - log1]),
    ]
    if solution.carbonate:
        steps = [
            ph_value - acid_constant("pK1_carbonic", t) - log1,
            ph_value - acid_constant("pK2_carbonic", t) + log1 - log2,
        ]
        ions += _anions(solution.carbonate, steps)
    if solution.citrate:
        steps = [
            ph_value - acid_constant("pKa1_citric", t) - log1,
            ph_value - acid_constant("pKa2_citric", t) + log1 - log2,
            ph_value - acid_constant("pKa3_citric", t) + log2 - log3,
        ]
        ions += _anions(solution.citrate, steps)
    # The soap's constant is an effective one, fitted to readings, so no activity coefficient applies.
    set_free = fatty_acid_share(ph_value, solution.soap, pk_water(t), solution.acid_soap_per_ph)
    ions.append((-1, solution.soap * (1.0 - set_free)))
    return ions


def _anions(total: float, steps: list[float]) -> list[tuple[int, float]]:
    """The anions of an acid. steps: log10 of each ratio [more dissociated] / [less dissociated], in order."""
    parts = [1.0]
    for step in steps:
        parts.append(parts[-1] * 10.0 ** min(step, 60.0))
    whole = sum(parts)
    return [(-charge, total * part / whole) for charge, part in enumerate(parts) if charge]


def _net_charge(solution: Solution, ph_value: float, strength: float) -> float:
    return sum(charge * mol for charge, mol in _ions(solution, ph_value, strength))


def _ionic_strength(solution: Solution, ph_value: float, strength: float) -> float:
    return 0.5 * sum(charge**2 * mol for charge, mol in _ions(solution, ph_value, strength))
