"""The glass electrode: voltage to pH at a temperature, and when a pH is not to be believed."""

import math

import numpy as np

from monitor.model import ABSOLUTE_ZERO_C
from monitor.probes.thermocouple import Floats

# CODATA 2018, exact.
GAS_CONSTANT_J_MOL_K = 8.314462618
FARADAY_C_MOL = 96485.33212
# Where an ideal combination electrode gives no voltage.
ZERO_PH = 7.0
ROOM_C = 25.0
# A glass electrode spans about 0.42 V either way; beyond this the number is no electrode's (judgement).
MOST_V = 0.7
# Above this neither the buffers, the glass nor a compensation of temperature is worth much (ISO 10523 and ASTM E70
# end below; from memory).
HOTTEST_SAMPLE_C = 50.0
# Undiluted soap swamps the glass with sodium and potassium and hardly holds free water (judgement; the project's
# default sample is 1 %).
STRONGEST_SAMPLE_PERCENT = 10.0
BEYOND_PROBE = "voltage beyond what a pH probe gives: is it in volts, and the amplifier's middle taken off?"
TOO_HOT = "too hot for a pH to mean much: dilute a sample and let it cool to 25 °C"


def nernst_v(temperature_c: Floats | float) -> Floats:
    """The ideal slope ln(10) R T / F in V per pH at a temperature in degC.

    >>> f"{float(nernst_v(25.0)) * 1000:.3f}"
    '59.159'
    """
    kelvin = np.asarray(temperature_c, dtype=np.float64) - ABSOLUTE_ZERO_C
    return np.asarray(math.log(10.0) * GAS_CONSTANT_J_MOL_K / FARADAY_C_MOL * kelvin)


def ideal_v(ph: Floats | float, temperature_c: Floats | float) -> Floats:
    """Voltage of an ideal electrode, V: falls as pH rises."""
    return -nernst_v(temperature_c) * (np.asarray(ph, dtype=np.float64) - ZERO_PH)


def ph_of_ideal_v(volts: Floats | float, temperature_c: Floats | float) -> Floats:
    """pH at which an ideal electrode gives this voltage (V) at a temperature (degC)."""
    return ZERO_PH - np.asarray(volts, dtype=np.float64) / nernst_v(temperature_c)


def sample_refusal(sample_percent: float | None, temperature_c: float | None) -> str | None:
    """One sentence why a pH of this sample tells little, or None. percent: of paste in the water."""
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
