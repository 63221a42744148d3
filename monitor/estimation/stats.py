"""Quantiles of weighted points."""

import math

import numpy as np

from monitor.model import Floats


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
