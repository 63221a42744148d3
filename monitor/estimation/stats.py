"""The standard normal distribution."""

import math

import numpy as np

from monitor.model import Floats

_erf = np.vectorize(math.erf, otypes=[np.float64])


def normal_cdf(z: Floats) -> Floats:
    """The standard normal distribution function.

    >>> [round(float(p), 4) for p in normal_cdf(np.array([-1.2816, 0.0, 1.9600]))]
    [0.1, 0.5, 0.975]
    """
    result: Floats = 0.5 * (1.0 + _erf(np.asarray(z) / math.sqrt(2.0)))
    return result
