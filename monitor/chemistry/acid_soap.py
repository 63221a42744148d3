"""How much of a soap is set free as fatty acid at a pH: hydrolysis near neutral, acid soap below.

A fatty acid inside a micelle of ionised soap is weaker than alone in water: the micelle's charge adds about two units
to the pKa near 4.9 that it has as a single molecule (from memory), so that its hydrolysis follows an effective pKa of
7 to 8. Soap is then the salt of that weak acid: [OH-] = sqrt(Kw C / Ka), which rises by half a unit of pH for each
decade of concentration. Below its own neutral pH more acid is taken up as acid soap, and the pH falls slowly.
"""

import math

# Chosen so that a neutral product of a quarter real soap reads 9.75 at 1 % and 25 degC: makers' readings and surveys of
# bar soap lie between 9.3 and 10.2 (common practice, no source).
SOAP_PKA = 7.64
ACID_SOAP_PER_PH = (0.0, 0.28, 0.35)
"""Acid that acid soap takes up, mol of H+ per mol of soap and unit of pH: low, middle, high.

Judgement, fitted to one figure: 2.6 kg of a product of a quarter real soap, brought down by half a unit from 9.5 to
9.8, takes some 18 g of citric acid, 3 to 22. The low end is hydrolysis alone, without acid soap."""
# Acid soap begins this far below the neutral pH, and over about such a width (judgement).
ONSET_BELOW_NEUTRAL, ONSET_WIDTH = 0.15, 0.1


def neutral_soap_ph(soap: float, pk_water: float) -> float:
    """The pH of soap in water by its hydrolysis alone: (pKw + pKa + log10 C) / 2.

    Parameters
    ----------
    soap : C, mol per kg of water, above 0.
    pk_water : at the sample's temperature.

    >>> round(neutral_soap_ph(0.008, 13.995), 1), round(neutral_soap_ph(0.08, 13.995), 1)
    (9.8, 10.3)
    """
    return (pk_water + SOAP_PKA + math.log10(soap)) / 2.0


def fatty_acid_share(ph: float, soap: float, pk_water: float, acid_soap_per_ph: float) -> float:
    """The part of the soap that is set free as fatty acid at this pH, 0 to 1; it falls as the pH rises.

        x = 1 - e^(-q) / (1 + 10^(pKa - pH)),  q = b w log10(1 + 10^((p - pH) / w)),  p = neutral pH - 0.15

    Parameters
    ----------
    ph : of the sample.
    soap : all soap, mol per kg of water, 0 or more; without any the share is 0.
    pk_water : at the sample's temperature.
    acid_soap_per_ph : b, from ``ACID_SOAP_PER_PH``; w is 0.1.

    >>> fatty_acid_share(9.75, 0.008, 13.995, 0.28) < 0.01 < 0.1 < fatty_acid_share(9.25, 0.008, 13.995, 0.28)
    True
    """
    if soap <= 0.0:
        return 0.0
    onset = neutral_soap_ph(soap, pk_water) - ONSET_BELOW_NEUTRAL
    steps = (onset - ph) / ONSET_WIDTH
    taken_up = acid_soap_per_ph * ONSET_WIDTH * _log10_1_plus_10_to(steps)
    return 1.0 - math.exp(-taken_up) / (1.0 + math.pow(10.0, SOAP_PKA - ph))


def _log10_1_plus_10_to(exponent: float) -> float:
    """log10(1 + 10^exponent), without overflow."""
    return max(exponent, 0.0) + math.log10(1.0 + math.pow(10.0, -abs(exponent)))
