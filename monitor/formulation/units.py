"""The units of a person: grams or ounces, millilitres or fluid ounces, degrees Celsius or Fahrenheit.

Everything is calculated, stored and exported in g, mL and degC; only what a person reads and types is in their units.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from monitor.chemistry import IN_PERCENT, DisplayUnits

# Exact by definition: the avoirdupois ounce; the fluid ounces of the United States and of the United Kingdom.
OUNCE_G = 28.349523125
US_FLUID_OUNCE_ML = 29.5735295625
UK_FLUID_OUNCE_ML = 28.4130625


def ounces(grams: float) -> float:
    """Avoirdupois ounces of a mass in g. International yard and pound agreement (1959), exact.

    >>> round(ounces(453.59237), 6)
    16.0
    """
    return grams / OUNCE_G


def us_fluid_ounces(ml: float) -> float:
    """United States fluid ounces of a volume in mL. NIST Handbook 44, appendix C, exact.

    >>> round(us_fluid_ounces(1000), 3)
    33.814
    """
    return ml / US_FLUID_OUNCE_ML


def uk_fluid_ounces(ml: float) -> float:
    """United Kingdom fluid ounces of a volume in mL. Weights and Measures Act 1985, exact.

    >>> round(uk_fluid_ounces(1000), 3)
    35.195
    """
    return ml / UK_FLUID_OUNCE_ML


MASSES, VOLUMES, TEMPERATURES = ("g", "oz"), ("mL", "US fl oz", "UK fl oz"), ("degC", "degF")
# What a kitchen may choose, and from what; the first of each is taken where nothing is chosen.
UNIT_CHOICES: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {"mass": MASSES, "volume": VOLUMES, "temperature": TEMPERATURES}
)
ML_IN = MappingProxyType({"mL": 1.0, "US fl oz": US_FLUID_OUNCE_ML, "UK fl oz": UK_FLUID_OUNCE_ML})
# Above these a mass is told with a decimal less.
LARGE_G, LARGE_OZ = 10_000.0, 350.0


@dataclass(frozen=True, slots=True)
class UnitChoice:
    """The units that a kitchen has chosen: of mass, volume and temperature, each one of UNIT_CHOICES.

    >>> american = UnitChoice("oz", "US fl oz", "degF")
    >>> american.mass_text(453.59237), american.volume_text(250), american.temperature_text(95), american.span_text(5)
    ('16.00 oz', '8.5 US fl oz', '203 °F', '9 °F')
    >>> METRIC.mass_text(453.59237), METRIC.volume_text(250), METRIC.temperature_text(95.25, 1)
    ('453.6 g', '250 mL', '95.2 °C')
    """

    mass: str = "g"
    volume: str = "mL"
    temperature: str = "degC"

    @property
    def in_ounces(self) -> bool:
        """Whether masses are told in ounces."""
        return self.mass == "oz"

    @property
    def in_fahrenheit(self) -> bool:
        """Whether temperatures are told in degrees Fahrenheit."""
        return self.temperature == "degF"

    @property
    def temperature_unit(self) -> str:
        """The sign of the unit of temperature."""
        return "°F" if self.in_fahrenheit else "°C"

    @property
    def refusals(self) -> DisplayUnits:
        """The units in which a number is refused (``OutOfRangeError.in_words``)."""
        units = dict(IN_PERCENT)
        if self.in_ounces:
            units["g"] = "oz", 1.0 / OUNCE_G
        if self.volume != "mL":
            units["mL"] = self.volume, 1.0 / ML_IN[self.volume]
        return MappingProxyType(units)

    def mass_of(self, grams: float) -> float:
        """A mass in g in the chosen unit."""
        return ounces(grams) if self.in_ounces else grams

    def grams_of(self, mass: float) -> float:
        """A mass in the chosen unit in g."""
        return mass * OUNCE_G if self.in_ounces else mass

    def volume_of(self, ml: float) -> float:
        """A volume in mL in the chosen unit."""
        return ml / ML_IN[self.volume]

    def ml_of(self, volume: float) -> float:
        """A volume in the chosen unit in mL."""
        return volume * ML_IN[self.volume]

    def temperature_of(self, celsius: float) -> float:
        """A temperature in degC in the chosen unit: 9/5 t + 32 in degF (NIST SP 811, appendix B.8)."""
        return celsius * 1.8 + 32.0 if self.in_fahrenheit else celsius

    def celsius_of(self, temperature: float) -> float:
        """A temperature in the chosen unit in degC."""
        return (temperature - 32.0) / 1.8 if self.in_fahrenheit else temperature

    def span_of(self, kelvin: float) -> float:
        """A difference of temperatures, K, in degrees of the chosen unit; it has no zero to be moved."""
        return kelvin * 1.8 if self.in_fahrenheit else kelvin

    def mass_text(self, grams: float) -> str:
        """A mass in g as it is read."""
        if self.in_ounces:
            return f"{ounces(grams):.{1 if ounces(grams) >= LARGE_OZ else 2}f} oz"
        return f"{grams:.{0 if grams >= LARGE_G else 1}f} g"

    def volume_text(self, ml: float) -> str:
        """A volume in mL as it is read."""
        return f"{ml:.0f} mL" if self.volume == "mL" else f"{self.volume_of(ml):.1f} {self.volume}"

    def temperature_text(self, celsius: float, decimals: int = 0) -> str:
        """A temperature in degC as it is read."""
        return f"{self.temperature_of(celsius):.{decimals}f} {self.temperature_unit}"

    def span_text(self, kelvin: float, decimals: int = 0) -> str:
        """A difference of temperatures, K, as it is read."""
        return f"{self.span_of(kelvin):.{decimals}f} {self.temperature_unit}"


METRIC = UnitChoice()
