"""The choices that every resampling of a temperature record shares: what is plausible, how fine, and what is a gap.

Three resamplings stand on them, because three questions need different ones: the estimate integrates medians of half
a minute (``estimation.resample``), the search for dips and falls needs an even grid (``detection.grid``), and the
alarms need means that never wait for a bin to fill (``alarms.window``). All limits are judgement unless a source is
named.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

# Soap paste freezes below the one and boils, with its dissolved alkali, below the other, degC: outside this range a
# reading is the probe's fault.
PASTE_AT_LEAST_C, PASTE_AT_MOST_C = -10.0, 125.0
# Nothing longer is laid on a grid: readings that stand years apart, as a wrong clock or a table from elsewhere may have
# them, cost no more than a cook of two days.
LONGEST_GRID_S = 172_800.0

# Steps, s. Noise of a thermocouple is gone from a median of half a minute, and no paste changes within one.
BLOCK_S = 30.0
# Dips of a minute need bins of 10 s at the least; sampling slower than two minutes shows no stir.
FINEST_STEP_S, COARSEST_STEP_S = 10.0, 120.0
# Falls last many minutes, and their cause is fitted bin by bin.
FALL_STEP_S = 30.0
# An alarm has to be raised within a minute.
ALARM_BIN_S = 15.0

# A step longer than this many usual ones is a gap, but none shorter than these (s): across a gap the estimate guesses
# a temperature, which is harmless for three minutes; a dip that lasts a minute would already be lost in half of that.
GAP_STEPS = 3.0
INTEGRAL_GAP_S, CURVE_GAP_S = 180.0, 90.0

# A spike: a lone reading, or a lone bin (which averages several), this far from both its neighbours, degC.
READING_SPIKE_C, BIN_SPIKE_C = 4.0, 3.0


def plausible(temperature_c: ArrayLike) -> NDArray[np.bool_]:
    """Which temperatures (degC, any shape) a paste can have; False for NaN.

    >>> plausible([95.0, 850.0, float("nan")]).tolist()
    [True, False, False]
    """
    value_c = np.asarray(temperature_c, dtype=np.float64)
    with np.errstate(invalid="ignore"):
        result: NDArray[np.bool_] = (value_c >= PASTE_AT_LEAST_C) & (value_c <= PASTE_AT_MOST_C)
    return result


def longest_step_s(usual_step_s: float, gap_s: float) -> float:
    """The longest step between samples that is no gap, s.

    usual_step_s: the usual step of this record; gap_s: the least that is a gap, INTEGRAL_GAP_S or CURVE_GAP_S.

    >>> longest_step_s(1.0, INTEGRAL_GAP_S), longest_step_s(120.0, INTEGRAL_GAP_S)
    (180.0, 360.0)
    """
    return max(gap_s, GAP_STEPS * usual_step_s)
