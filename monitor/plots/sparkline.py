"""Curves as one row of bars, for terminals."""

import math

import numpy as np

from monitor.estimation import LN_NEED, BlockMedian, Prior
from monitor.model import Floats, History
from monitor.plots.learned_report import need_weights

_BARS = "▁▂▃▄▅▆▇█"


def curve(history: History) -> tuple[Floats, Floats]:
    """Block times (Unix seconds) and temperatures (degC) of the paste, shapes (n,)."""
    blocks = BlockMedian()
    blocks.extend(*history.temperature_c("paste"))
    return blocks.arrays()


def cook_sparkline(times: Floats, temperatures_c: Floats, width: int = 60) -> str:
    """The temperature as one row of bars from its lowest to its highest; a blank where nothing was measured.

    times: Unix seconds, shape (n,).

    >>> cook_sparkline(np.array([0.0, 30.0, 90.0]), np.array([20.0, 60.0, 90.0]), 4)
    '▁▅ █'
    """
    if not len(times):
        return ""
    low, high = float(temperatures_c.min()), float(temperatures_c.max())
    place = np.minimum(((times - times[0]) / max(times[-1] - times[0], 1.0) * width).astype(np.int64), width - 1)
    bars = []
    for column in range(width):
        inside = temperatures_c[place == column]
        share = (float(inside.mean()) - low) / max(high - low, 1e-9) if len(inside) else math.nan
        bars.append(" " if math.isnan(share) else _BARS[round(share * (len(_BARS) - 1))])
    return "".join(bars)


def kitchen_sparkline(prior: Prior, width: int = 61) -> str:
    """The belief about the need as one row of bars, from a third to three times the first guess."""
    centre = math.log(float(np.exp(LN_NEED[len(LN_NEED) // 2])))
    at = np.linspace(centre - math.log(3.0), centre + math.log(3.0), width)
    bars = f" {_BARS}"
    heights = np.interp(at, LN_NEED, need_weights(prior))
    return "".join(bars[round(float(h) / float(heights.max()) * (len(bars) - 1))] for h in heights)
