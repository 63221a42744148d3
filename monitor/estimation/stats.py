"""The standard normal distribution, and quantiles of weighted points."""

import math

import numpy as np

from monitor.model import Floats

# Phi at steps of 0.002, beyond which it is 0 or 1 to within 1e-9; linear between, which is wrong by at most 2e-7.
_Z = np.linspace(-6.0, 6.0, 6001)
_PHI = np.array([0.5 * math.erfc(-z / math.sqrt(2.0)) for z in _Z])


def normal_cdf(z: Floats) -> Floats:
    """The standard normal distribution function, Phi(z), to within 2e-7; z of any shape.

    >>> [round(float(p), 4) for p in normal_cdf(np.array([-1.2816, 0.0, 1.9600]))]
    [0.1, 0.5, 0.975]
    """
    result: Floats = np.interp(z, _Z, _PHI, left=0.0, right=1.0)
    return result


def weighted_quantiles(values: Floats, weights: Floats, shares: tuple[float, ...]) -> list[float]:
    """Quantiles of weighted points; infinite values stay infinite.

    values, weights: of one shape; weights >= 0, some above 0. shares: of the quantiles, 0 to 1. Each point stands at
    the middle of its weight, and between points the quantile is linear (the fifth kind of Hyndman and Fan, Sample
    Quantiles in Statistical Packages, 1996, with weights).

    >>> weighted_quantiles(np.array([1.0, 2.0, 3.0]), np.ones(3), (0.5, 0.75))
    [2.0, 2.75]
    """
    flat, mass = values.ravel(), weights.ravel()
    keep = mass > 0
    flat, mass = flat[keep], mass[keep]
    order = np.argsort(flat)
    flat = flat[order]
    middle = np.cumsum(mass[order]) - 0.5 * mass[order]
    middle /= mass.sum()
    quantiles = []
    for share in shares:
        i = int(np.searchsorted(middle, share))
        if i == 0:
            quantiles.append(float(flat[0]))
        elif i >= len(flat):
            quantiles.append(float(flat[-1]))
        elif math.isinf(flat[i]):
            quantiles.append(math.inf)
        else:
            part = (share - middle[i - 1]) / max(middle[i] - middle[i - 1], 1e-300)
            quantiles.append(float(flat[i - 1] + part * (flat[i] - flat[i - 1])))
    return quantiles
