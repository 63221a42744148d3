"""Grams and millilitres in ounces and fluid ounces."""

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
