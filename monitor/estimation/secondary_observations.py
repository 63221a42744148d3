"""Weaker evidence than a clarity check: how the paste looks, and the pH of a diluted sample.

Both speak of how far the paste is, but loosely; their widths here are judgement, wide on purpose, and one in ten is
taken to be simply wrong.
"""

import math

import numpy as np

from monitor.estimation.kinetics import converted_at
from monitor.estimation.stats import normal_cdf
from monitor.model import Batch, Event, Floats

SLIP = 0.1
# The paste is opaque while more than the first of these is left unconverted, and translucent below the second.
OPAQUE_RESIDUAL, TRANSLUCENT_RESIDUAL, LOOK_NOISE = 0.25, 0.06, 0.8
# Of a reading: the probe, the dilution, the air's carbon dioxide and the true excess together.
PH_NOISE = 0.4
# Soap itself makes water this alkaline (its hydrolysis, about pH 10.2 at 1 %), so no sample reads lower.
SOAP_HYDROXIDE_MOL_L = 10.0**-3.8
# mol of KOH charged per g of paste where no sheet says: 600 g of oil of 190 mg/g in 1270 g of paste.
USUAL_MOL_PER_G = 1.6e-3
# Outside this a pH says little of the hydroxide without the water's own constant at that temperature.
COOL_C, WARM_C = 15.0, 35.0


def look_likelihood(paste: str, share: Floats, excess: float) -> Floats:
    """Chance that the paste looks "opaque", "patchy" or "translucent" at these shares of the need."""
    ln_residual = np.log(np.maximum(1.0 - converted_at(share, excess), 1e-12))
    translucent = normal_cdf((math.log(TRANSLUCENT_RESIDUAL) - ln_residual) / LOOK_NOISE)
    not_opaque = normal_cdf((math.log(OPAQUE_RESIDUAL) - ln_residual) / LOOK_NOISE)
    chance = {"translucent": translucent, "patchy": not_opaque - translucent, "opaque": 1.0 - not_opaque}[paste]
    result: Floats = (1.0 - SLIP) * chance + SLIP / 3.0
    return result


def expected_ph(share: Floats, excess: float, mol_per_l: float) -> Floats:
    """pH at 25 degC of a diluted sample at these shares of the need.

    mol_per_l: alkali charged, per litre of sample, before any of it reacted. Activity is taken as concentration.

    >>> float(expected_ph(np.array([1.0]), 0.03, 0.016)[0].round(1))
    10.9
    """
    left = np.maximum(1.0 + excess - converted_at(share, excess), 0.0)
    result: Floats = 14.0 + np.log10(mol_per_l * left + SOAP_HYDROXIDE_MOL_L)
    return result


def ph_likelihood(event: Event, share: Floats, excess: float, batch: Batch | None) -> Floats:
    """Likelihood of a pH that was read, at these shares of the need; flat where it cannot be judged.

    It needs the sample's strength and a temperature near 25 degC; a paste read hot and undiluted says nothing.
    """
    percent = event.fields.get("sample_percent")
    temperature_c = event.fields.get("temperature_c", 25.0)
    if not isinstance(percent, float) or not isinstance(temperature_c, float):
        return np.ones_like(share)
    if not 0.1 <= percent <= 10.0 or not COOL_C <= temperature_c <= WARM_C:
        return np.ones_like(share)
    expected = expected_ph(share, excess, mol_per_g(batch) * 10.0 * percent)
    off_by = (float(event.fields["ph"]) - expected) / PH_NOISE
    result: Floats = (1.0 - SLIP) * np.exp(-0.5 * off_by**2) + SLIP
    return result


def mol_per_g(batch: Batch | None) -> float:
    """mol of KOH charged per g of paste."""
    if batch is None or not batch.oils:
        return USUAL_MOL_PER_G
    # mg of KOH per g of oil over 56.1056 g/mol.
    mol = sum(oil.grams * oil.saponification_value for oil in batch.oils) / 56_105.6
    grams = sum(oil.grams for oil in batch.oils) + mol * 56.1056 / batch.alkali.assay + batch.water_grams
    return mol / grams
