"""The glass electrode: voltage to pH at a temperature, and when a pH is not reliable.

=========================  ==========================================  =========  ===================================
constant                   quantity                                    unit       source
=========================  ==========================================  =========  ===================================
GAS_CONSTANT_J_MOL_K       R                                           J/(mol K)  CODATA 2018, to ten digits
FARADAY_C_MOL              F                                           C/mol      CODATA 2018, to ten digits
ZERO_PH                    pH at which an ideal electrode gives 0 V    1          convention of combination electrodes
ROOM_C                     reference temperature                       degC       convention
MOST_V                     greatest voltage of an electrode            V          judgement
HOTTEST_SAMPLE_C           greatest temperature of a sample            degC       ISO 10523:2008, clause 1
STRONGEST_SAMPLE_PERCENT   greatest share of paste in a sample         %          judgement
=========================  ==========================================  =========  ===================================
"""

import math

import numpy as np

from monitor.model import ABSOLUTE_ZERO_C
from monitor.probes.thermocouple import Floats

# CODATA 2018: exact by definition of the SI, rounded here to ten digits.
GAS_CONSTANT_J_MOL_K = 8.314462618
FARADAY_C_MOL = 96485.33212
# The pH at which an ideal combination electrode gives 0 V.
ZERO_PH = 7.0
ROOM_C = 25.0
# A glass electrode spans about 0.42 V either way; a larger voltage comes from no electrode (judgement).
MOST_V = 0.7
# Above this neither the buffers, the glass nor a compensation of temperature is worth much: ISO 10523:2008 covers 0 to
# 50 degC (clause 1), the IUPAC Recommendations 2002 cover 5 to 50 degC.
HOTTEST_SAMPLE_C = 50.0
# Undiluted soap swamps the glass with sodium and potassium and hardly holds free water (judgement; the default sample
# is 1 %). ASTM E70-24, 1.1, promises no accurate hydrogen ion activity above 0.1 mol/L of electrolyte, which soap
# reaches at about 5 % of paste.
STRONGEST_SAMPLE_PERCENT = 10.0
BEYOND_PROBE = "voltage beyond what a pH probe gives: is it in volts, and the amplifier's middle taken off?"
TOO_HOT = "too hot for a pH to mean much: dilute a sample and let it cool to 25 °C"


def nernst_v(temperature_c: Floats | float) -> Floats:
    """The ideal slope of a glass electrode, V per pH: k = ln(10) R T / F.

    Parameters
    ----------
    temperature_c : degC, any shape.

    References
    ----------
    .. [1] Buck et al., Measurement of pH. Definition, standards, and procedures (IUPAC Recommendations 2002), Pure
       Appl. Chem. 74:2169.

    >>> f"{float(nernst_v(25.0)) * 1000:.3f}"
    '59.159'
    """
    kelvin = np.asarray(temperature_c, dtype=np.float64) - ABSOLUTE_ZERO_C
    return np.asarray(math.log(10.0) * GAS_CONSTANT_J_MOL_K / FARADAY_C_MOL * kelvin)


def ideal_v(ph: Floats | float, temperature_c: Floats | float) -> Floats:
    """The voltage of an ideal electrode, V: -k (pH - 7), which falls as pH rises. Arguments of any shape."""
    return -nernst_v(temperature_c) * (np.asarray(ph, dtype=np.float64) - ZERO_PH)


def ph_of_ideal_v(volts: Floats | float, temperature_c: Floats | float) -> Floats:
    """The pH at which an ideal electrode gives ``volts`` (V) at ``temperature_c`` (degC): 7 - V / k.

    Arguments of any shape.
    """
    return ZERO_PH - np.asarray(volts, dtype=np.float64) / nernst_v(temperature_c)


def sample_refusal(sample_percent: float | None, temperature_c: float | None) -> str | None:
    """One sentence why a pH of this sample is unreliable, or None.

    Parameters
    ----------
    sample_percent : paste in the sample, per cent by mass, or None; more than 10 is refused.
    temperature_c : degC, or None; more than 50 is refused.
    """
    if temperature_c is not None and not math.isnan(temperature_c) and temperature_c > HOTTEST_SAMPLE_C:
        return (
            f"At {temperature_c:.0f} °C a glass probe tells little and wears out within weeks: dilute a sample to 1 %, "
            "let it cool to 25 °C and dip again."
        )
    if sample_percent is not None and sample_percent > STRONGEST_SAMPLE_PERCENT:
        return (
            f"In {sample_percent:g} % of paste a glass probe tells little: weigh 1 g into 99 g of distilled water, let "
            "it cool to 25 °C and dip again."
        )
    return None
