"""The rate law and the temperature-history integral.

Equivalent time at a reference temperature is the time there that does as much as the real history did: the same
idea as equivalent age in ASTM C1074 and as lethality in thermal processing.

Symbols: X, fraction of the fat converted; e, alkali excess as a fraction of need; W, equivalent time.
"""

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

# CODATA 2018, exact.
GAS_CONSTANT = 8.314462618
ZERO_C_K = 273.15
REFERENCE_C = 95.0

# Conversion at thick trace: an emulsion with its first soap (judgement, no source).
TRACE_CONVERTED = 0.10
# Residual fat at which a diluted sample reads clear, near 1 % (judgement, no source).
CLEAR_RESIDUAL = 0.01


def arrhenius_factor(temperature_c: ArrayLike, ea_j_mol: ArrayLike, reference_c: float = REFERENCE_C) -> Floats:
    """Rate at a temperature over the rate at the reference: exp(-(Ea/R)(1/T - 1/Tref)), T in K (Arrhenius).

    temperature_c: degC, any shape. ea_j_mol: activation energy, J/mol; the two broadcast. reference_c: degC. Valid
    above absolute zero, as far as one reaction with one activation energy sets the pace. Source: ASTM C1074, the
    equivalent age factor.

    >>> round(float(arrhenius_factor(85.0, 50_000.0)), 3)
    0.634
    """
    kelvin = np.asarray(temperature_c, dtype=np.float64) + ZERO_C_K
    over_r = np.asarray(ea_j_mol, dtype=np.float64) / GAS_CONSTANT
    result: Floats = np.exp(-over_r * (1.0 / kelvin - 1.0 / (reference_c + ZERO_C_K)))
    return result


def fixed_z_factor(temperature_c: ArrayLike, z_c: float, reference_c: float) -> Floats:
    """Rate relative to the reference where every z degrees multiply it by ten: 10^((T - Tref)/z).

    temperature_c, z_c, reference_c: degrees of one scale; temperature_c of any shape. Source: the lethal rate of
    thermal processing (F value), there with z = 10 degC and 121.1 degC. An approximation of ``arrhenius_factor`` that
    holds within some ten degrees of the reference.

    >>> float(fixed_z_factor(131.1, 10.0, 121.1))
    10.0
    """
    result: Floats = 10.0 ** ((np.asarray(temperature_c, dtype=np.float64) - reference_c) / z_c)
    return result


def doubling_factor(temperature_c: ArrayLike, reference_c: float) -> Floats:
    """Rate relative to the reference by the rule of thumb that every 10 degC doubles it (common practice, no source).

    temperature_c: degC, any shape. reference_c: degC.

    >>> round(336 / float(doubling_factor(95.0, 25.0)), 3)
    2.625
    """
    return fixed_z_factor(temperature_c, 10.0 / math.log10(2.0), reference_c)


def ea_of_doubling(temperature_c: float) -> float:
    """The activation energy, J/mol, at which a rise of 10 degC doubles the rate: R ln2 T (T + 10) / 10, T in K.

    temperature_c: degC from which the rise begins.

    >>> round(ea_of_doubling(85.0) / 1000, 2)
    75.99
    """
    kelvin = temperature_c + ZERO_C_K
    return GAS_CONSTANT * math.log(2.0) * kelvin * (kelvin + 10.0) / 10.0


def mean_kinetic_temperature(temperatures_c: ArrayLike, durations: ArrayLike, ea_j_mol: float) -> float:
    """The constant temperature, degC, that does as much in the same total time: the mean kinetic temperature.

    temperatures_c: degC, shape (n,). durations: at each temperature, in any one unit of time, shape (n,), sum above 0.
    ea_j_mol: J/mol, above 0. T = (Ea/R) / -ln(sum(t exp(-Ea/(R T_i))) / sum(t)), T in K. Source: Haynes, Journal of
    Pharmaceutical Sciences 60 (1971); USP <1150>.

    >>> round(mean_kinetic_temperature([80.0, 90.0], [1.0, 1.0], 50_000.0), 2)
    85.51
    """
    weights = np.asarray(durations, dtype=np.float64)
    kelvin = np.asarray(temperatures_c, dtype=np.float64) + ZERO_C_K
    mean = float(np.sum(weights * np.exp(-ea_j_mol / (GAS_CONSTANT * kelvin))) / np.sum(weights))
    return -ea_j_mol / (GAS_CONSTANT * math.log(mean)) - ZERO_C_K


def accumulate(times: ArrayLike, factors: ArrayLike) -> Floats:
    """Equivalent time from the first reading up to each, by the trapezoid rule; steps may be uneven.

    times: ascending, shape (n,). factors: rate relative to the reference, shape (n,) or (n, ...).
    Returns the shape of factors, in the unit of times, 0 at the first.

    >>> accumulate([0.0, 60.0, 180.0], [1.0, 1.0, 0.5]).tolist()
    [0.0, 60.0, 150.0]
    """
    at = np.asarray(times, dtype=np.float64)
    rate = np.asarray(factors, dtype=np.float64)
    steps = np.diff(at).reshape(-1, *([1] * (rate.ndim - 1)))
    total = np.zeros_like(rate)
    np.cumsum(0.5 * (rate[1:] + rate[:-1]) * steps, axis=0, out=total[1:])
    return total


def _gain(start: float, end: float, excess: ArrayLike) -> Floats:
    """The gain k W that takes the conversion from start to end: the closed form of dX/dW = k (1-X)(1+e-X).

    ln((1+e-X)/(1-X)) / e, which tends to 1/(1-X) as e tends to 0; log1p keeps it exact in between. Infinite where the
    alkali runs out first.
    """
    e = np.asarray(excess, dtype=np.float64)
    left, first = 1.0 - end, 1.0 - start
    tiny = np.abs(e) < 1e-9
    enough = e > -left
    safe = np.where(tiny | ~enough, 1.0, e)
    gain = np.where(tiny, 1.0 / left - 1.0 / first, (np.log1p(safe / left) - np.log1p(safe / first)) / safe)
    result: Floats = np.where(enough, gain, np.inf)
    return result


def second_order_converted(gain: ArrayLike, excess: ArrayLike, start: float = TRACE_CONVERTED) -> Floats:
    """Fraction converted by the second-order rate law dX/dW = k (1-X)(1+e-X) after a gain k W.

    gain: k W, >= 0, any shape. excess: alkali excess e as a fraction of the need, above start - 1; below 0 the
    conversion ends at 1 + e. The two broadcast. start: fraction converted at W = 0. The textbook form
    x = ab(E-1)/(bE-a), with b-a the excess, is the same. Saponification by alkali is second order in a single phase;
    in paste this is an approximation once the emulsion has formed.

    >>> round(float(second_order_converted(clear_gain(0.03), 0.03)), 6)
    0.99
    >>> float(second_order_converted(1e6, -0.04).round(6))
    0.96
    """
    kw = np.asarray(gain, dtype=np.float64)
    e = np.asarray(excess, dtype=np.float64)
    first = 1.0 - start
    tiny = np.abs(e) < 1e-9
    safe = np.where(tiny, 1.0, e)
    # With E = exp(e kW): left = e / ((1 + e/first) E - 1). Beyond exp's range nothing is left anyway.
    grown = np.expm1(np.minimum(np.log1p(safe / first) + safe * kw, 700.0))
    left = np.where(tiny, first / (1.0 + first * kw), safe / grown)
    result: Floats = 1.0 - left
    return result


def clear_gain(excess: ArrayLike) -> Floats:
    """The gain k W from thick trace to a clear check.

    excess: alkali excess e as a fraction of the need, any shape. Infinite at and below -CLEAR_RESIDUAL: with so little
    alkali the fat left over never falls below the threshold.

    >>> clear_gain([0.0, 0.03, -0.02]).round(1).tolist()
    [98.9, 45.1, inf]
    """
    return _gain(TRACE_CONVERTED, 1.0 - CLEAR_RESIDUAL, excess)


def law_converted(share: Floats, effective_excess: float) -> Floats:
    """Fraction converted at a share of the need.

    share: equivalent time over the need, >= 0, any shape; 1 is where a check just reads clear. effective_excess: in
    the rate law, above -CLEAR_RESIDUAL.

    >>> [round(float(x), 3) for x in law_converted(np.array([0.0, 0.5, 1.0]), 0.03)]
    [0.1, 0.971, 0.99]
    """
    return second_order_converted(share * clear_gain(effective_excess), effective_excess)


# The law's gain at excesses from just above the one at which a sample never comes clear, to be read backwards.
_EXCESSES = np.concatenate([-CLEAR_RESIDUAL + np.geomspace(1e-6, 0.1, 2000), np.linspace(0.091, 1.0, 500)])
_LN_GAINS = np.log(_gain(TRACE_CONVERTED, 1.0 - CLEAR_RESIDUAL, _EXCESSES))


def damped_excess(excess: ArrayLike, exponent: ArrayLike, reference_gain: float) -> Floats:
    """The excess at which the rate law alone would need what a paste needs whose tail is held back by mixing.

    excess: alkali excess as a fraction of the need, any shape. exponent: the part of the law's effect on ln need that
    is seen, 0 to 1.5, 1 is the law; the two broadcast. reference_gain: the gain k W to a clear check at which both
    agree. With it the rate constant does not depend on the excess, so more alkali never means less conversion at the
    same moment. Where a sample never comes clear the excess is returned as it is.

    >>> damped_excess([0.03, 0.0, -0.05], 0.5, float(clear_gain(0.03))).round(4).tolist()
    [0.03, 0.0108, -0.05]
    """
    e = np.asarray(excess, dtype=np.float64)
    ln_reference = math.log(reference_gain)
    wanted = ln_reference + np.asarray(exponent) * (np.log(clear_gain(e)) - ln_reference)
    # np.interp wants rising places: the gain falls as the excess rises.
    seen = np.interp(-wanted, -_LN_GAINS, _EXCESSES)
    result: Floats = np.where(e > -CLEAR_RESIDUAL, seen, e)
    return result


def mixing_factor(since_stir_s: ArrayLike, floor: ArrayLike, fade_s: float) -> Floats:
    """Rate of the paste relative to one just stirred: floor + (1 - floor) exp(-t/fade). Judgement, no source.

    since_stir_s: time since the last stir, s, >= 0, any shape. floor: rate when nobody has stirred for long, 0 to 1;
    the two broadcast. fade_s: time constant, s.

    >>> round(float(mixing_factor(0.0, 0.5, 1800.0)), 3)
    1.0
    """
    low = np.asarray(floor, dtype=np.float64)
    result: Floats = low + (1.0 - low) * np.exp(-np.asarray(since_stir_s, dtype=np.float64) / fade_s)
    return result


def mean_mixing_factor(interval_s: float, floor: ArrayLike, fade_s: float) -> Floats:
    """The mixing factor averaged over one interval between stirs: floor + (1 - floor)(1 - exp(-r)) / r, r = t/fade.

    interval_s: between stirs, s, above 0. floor: 0 to 1, any shape. fade_s: time constant, s.

    >>> round(float(mean_mixing_factor(2100.0, 0.65, 1800.0)), 3)
    0.857
    """
    low = np.asarray(floor, dtype=np.float64)
    ratio = interval_s / fade_s
    result: Floats = low + (1.0 - low) * (-math.expm1(-ratio) / ratio)
    return result
