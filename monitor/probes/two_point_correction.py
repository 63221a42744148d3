"""A thermocouple chain checked at two fixed points: ice water, and water boiling at the day's pressure."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from monitor.probes.thermocouple import Floats

ICE_C = 0.0
ICE = "ice water"
BOILING = "boiling water"
# A larger error means a broken or misread chain (judgement: three times the usual tolerance).
MAX_ERROR_C = 8.0
MIN_SPAN_C = 40.0

# Coefficients n1 to n10 of IAPWS-IF97, region 4 (R7-97(2012), table 34 from memory; the digits are those of several
# public implementations).
_IF97 = (
    *(0.11670521452767e4, -0.72421316703206e6, -0.17073846940092e2, 0.12020824702470e5, -0.32325550322333e7),
    *(0.14915108613530e2, -0.48232657361591e4, 0.40511340542057e6, -0.23855557567849, 0.65017534844798e3),
)


def boiling_point_c(pressure_hpa: float) -> float:
    """The boiling point of water, degC, by the IAPWS-IF97 backward equation for region 4.

    Parameters
    ----------
    pressure_hpa : absolute (station) pressure, hPa, 500 to 1100.

    Raises ValueError outside that range.

    References
    ----------
    .. [1] IAPWS R7-97(2012), Revised Release on the IAPWS Industrial Formulation 1997, section 8.2, eq. 31 (number from
       memory); the tests compare it with a steam-table library.

    >>> f"{boiling_point_c(1013.25):.2f}"
    '99.97'
    """
    if not 500.0 <= pressure_hpa <= 1100.0:
        raise ValueError(
            f"pressure_hpa is {pressure_hpa:g}; it must be from 500 to 1100, as a barometer in the kitchen would show"
        )
    n1, n2, n3, n4, n5, n6, n7, n8, n9, n10 = _IF97
    beta = (pressure_hpa / 1e4) ** 0.25
    e = beta * beta + n3 * beta + n6
    f = n1 * beta * beta + n4 * beta + n7
    g = n2 * beta * beta + n5 * beta + n8
    d = 2.0 * g / (-f - math.sqrt(f * f - 4.0 * e * g))
    kelvin = 0.5 * (n10 + d - math.sqrt((n10 + d) ** 2 - 4.0 * (n9 + n10 * d)))
    return float(kelvin - 273.15)


def station_pressure_hpa(sea_level_hpa: float, altitude_m: float) -> float:
    """The station pressure, hPa, at an altitude, from the pressure that a weather report reduces to sea level.

        p = p_0 (1 - 0.0065 h / 288.15)^5.25588

    Parameters
    ----------
    sea_level_hpa : p_0, hPa.
    altitude_m : h, m, -400 to 5000.

    Limits: standard atmosphere, good to a few hPa, which is a tenth of a degree of the boiling point.

    References
    ----------
    .. [1] ISO 2533:1975, Standard Atmosphere (15 degC at sea level, 6.5 K less per km; the exponent from memory).

    >>> round(station_pressure_hpa(1013.25, 1000.0), 1)
    898.7
    """
    if not -400.0 <= altitude_m <= 5000.0:
        raise ValueError(f"altitude_m is {altitude_m:g}; it must be from -400 to 5000")
    return float(sea_level_hpa * (1.0 - 0.0065 * altitude_m / 288.15) ** 5.25588)


@dataclass(frozen=True, slots=True)
class BathPoint:
    """A reading in a bath.

    bath: ``ICE`` or ``BOILING``. reads_c: shown, degC. pressure_hpa: station pressure, if boiling.
    """

    bath: str
    reads_c: float
    pressure_hpa: float | None = None

    def true_c(self) -> float:
        """The true temperature of the bath, degC.

        Raises ValueError for another bath, or boiling water without its pressure.
        """
        if self.bath == ICE:
            return ICE_C
        if self.bath != BOILING:
            raise ValueError(f"bath is {self.bath!r}; it must be {ICE!r} or {BOILING!r}")
        if self.pressure_hpa is None:
            raise ValueError("pressure_hpa is missing; boiling water needs the pressure in the kitchen")
        return boiling_point_c(self.pressure_hpa)


@dataclass(frozen=True, slots=True)
class FieldCorrection:
    """The linear correction: true = gain x reading + offset_c, in degC."""

    gain: float
    offset_c: float

    def corrected_c(self, reading_c: Floats) -> Floats:
        """Corrected readings, degC, any shape."""
        return self.gain * reading_c + self.offset_c


def field_correction(points: Sequence[BathPoint]) -> FieldCorrection:
    """The correction that one or two baths give; one bath alone shifts every reading by the same amount.

    Parameters
    ----------
    points : one or two different baths, each read within 8 degC of its true temperature (judgement).

    Raises ValueError with one sentence that says what was seen and what to try, when the baths are implausible.

    >>> c = field_correction([BathPoint(ICE, 1.0), BathPoint(BOILING, 99.0, 1013.25)])
    >>> f"{float(c.corrected_c(50.0)):.2f}"
    '49.99'
    """
    if not 1 <= len(points) <= 2:
        raise ValueError(f"points has {len(points)} baths; one or two are taken")
    true_c = [point.true_c() for point in points]
    reads_c = [point.reads_c for point in points]
    if len(points) == 2:
        if points[0].bath == points[1].bath:
            raise ValueError(f"Both readings are of {points[0].bath}: take the second one in the other bath.")
        if (reads_c[1] - reads_c[0]) * (true_c[1] - true_c[0]) < 0:
            colder = "ice water reads hotter than boiling water"
            raise ValueError(f"The {colder}: the baths are swapped, or the thermocouple's two wires are.")
        if abs(reads_c[1] - reads_c[0]) < MIN_SPAN_C:
            raise ValueError(
                f"Ice and boiling water read {reads_c[0]:.1f} and {reads_c[1]:.1f} °C, nearly the same: look whether "
                "the probe that was dipped is the one being read."
            )
    for point, true in zip(points, true_c, strict=True):
        error_c = point.reads_c - true
        if not abs(error_c) <= MAX_ERROR_C:
            raise ValueError(
                f"In {point.bath} of {true:.1f} °C it reads {point.reads_c:.1f}: too far off to be corrected; look at "
                "the thermocouple's type and polarity, its plug, and whether the bath is what it should be."
            )
    if len(points) == 1:
        return FieldCorrection(1.0, true_c[0] - reads_c[0])
    gain = (true_c[1] - true_c[0]) / (reads_c[1] - reads_c[0])
    return FieldCorrection(gain, true_c[0] - gain * reads_c[0])
