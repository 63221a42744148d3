"""What observations of the paste say of its conversion: clarity checks, looks at the paste, pH of a diluted sample.

A clarity check is the strong one. The other two are loose: their widths are judgement, wide on purpose, and one in
ten is taken to be simply wrong. Every likelihood here is a function of the share of the need that is behind, W over
need, from which ``kinetics.converted_at`` makes the fraction converted.
"""

import math

import numpy as np

from monitor.chemistry import NO_OFFSET, PhOffset, diluted_paste_ph
from monitor.estimation.kinetics import CLEAR_RESIDUAL, converted_at
from monitor.estimation.prior import NEED_S
from monitor.estimation.stats import normal_cdf
from monitor.model import Batch, Event, Floats

# A sample reads nearly clear up to about the first of these residuals and hazy up to the second, cloudy above
# (judgement, no source).
NEARLY_CLEAR_RESIDUAL, HAZY_RESIDUAL = 0.016, 0.035
# How far one person's reading may be off, in ln of the residual (judgement, no source).
CLEAR_NOISE, HAZY_NOISE = 0.12, 0.3
# One reading in fifty is simply wrong: a wet glass, a wrong button.
MISREAD_CHANCE = 0.02
# Of looks and pH readings one in ten.
WEAK_MISREAD_CHANCE = 0.1
# The paste is thin while more than the first of these is left unconverted, stiff above the second, patchy above the
# third and translucent below it (judgement, no source).
THIN_RESIDUAL, STIFF_RESIDUAL, PATCHY_RESIDUAL, LOOK_NOISE = 0.6, 0.25, 0.06, 0.8
# Fraction converted below which the soap's own alkalinity does not matter beside the lye.
LEAST_SOAP = 0.01
# mol of KOH charged per g of paste where no sheet says: 600 g of oil of 190 mg/g in 1270 g of paste.
USUAL_MOL_PER_G = 1.6e-3
# Outside this range, degC, a pH says little of the hydroxide without the water's own constant at that temperature.
COOL_C, WARM_C = 15.0, 35.0
# Sample in water, percent by mass, within which the dilution is believed.
LEAST_SAMPLE_PERCENT, MOST_SAMPLE_PERCENT = 0.1, 10.0
KOH_G_MOL = 56.1056


def _ln_residual(share: Floats, excess: float) -> Floats:
    """ln of the fraction of the fat that is left; never below ln 1e-12."""
    result: Floats = np.log(np.maximum(1.0 - converted_at(share, excess), 1e-12))
    return result


def reading_probabilities(share: Floats, excess: float) -> tuple[Floats, Floats]:
    """Probabilities that a sample reads clear, and that it does not read cloudy, were no reading simply wrong.

    share: of the need, W over need, >= 0, any shape. excess: alkali excess, fraction. Returns two arrays of that shape.

    ln of the residual as it is seen is normal about ln of the true one: P(clear) = Phi((ln r_clear - ln r) / noise).

    >>> clear, not_cloudy = reading_probabilities(np.array([0.5, 1.0, 1.5]), 0.03)
    >>> clear.round(2).tolist(), not_cloudy.round(2).tolist()
    ([0.0, 0.5, 1.0], [0.73, 1.0, 1.0])
    """
    ln_residual = _ln_residual(share, excess)
    clear = normal_cdf((math.log(CLEAR_RESIDUAL) - ln_residual) / CLEAR_NOISE)
    not_cloudy = np.maximum(normal_cdf((math.log(HAZY_RESIDUAL) - ln_residual) / HAZY_NOISE), clear)
    return clear, not_cloudy


def check_likelihood(result: str, equivalent_s: Floats, excess: float) -> Floats:
    """Likelihood of a check's result at every grid point, shape (71, 5, 3).

    result: one of ``model.CHECK_RESULTS``. equivalent_s: equivalent time at the check, s, shape (5, 3). excess: alkali
    excess, fraction. One reading in fifty (MISREAD_CHANCE) is taken to be any of them at random.
    """
    share = equivalent_s[None] / NEED_S[:, None, None]
    clear, not_cloudy = reading_probabilities(share, excess)
    if result in ("nearly clear", "hazy"):
        # Nearly clear is the upper part of hazy; who does not know the word calls it hazy or clear.
        nearly = normal_cdf((math.log(NEARLY_CLEAR_RESIDUAL) - _ln_residual(share, excess)) / CLEAR_NOISE)
        chance = np.maximum(nearly - clear, 0.0) if result == "nearly clear" else not_cloudy - clear
    else:
        chance = clear if result == "clear" else 1.0 - not_cloudy
    likelihood: Floats = (1.0 - MISREAD_CHANCE) * chance + MISREAD_CHANCE / 3.0
    return likelihood


def look_likelihood(paste: str, share: Floats, excess: float) -> Floats:
    """Likelihood of how the paste looks, same shape as share.

    paste: one of ``model.PASTE_STAGES``, or "opaque", which is thin or stiff. share: of the need, W over need, >= 0.
    excess: alkali excess, fraction.
    """
    ln_residual = _ln_residual(share, excess)
    edges = (THIN_RESIDUAL, STIFF_RESIDUAL, PATCHY_RESIDUAL)
    past = [normal_cdf((math.log(edge) - ln_residual) / LOOK_NOISE) for edge in edges]
    stages = {"thin": 1.0 - past[0], "stiff": past[0] - past[1], "patchy": past[1] - past[2], "translucent": past[2]}
    chance = 1.0 - past[1] if paste == "opaque" else stages[paste]
    result: Floats = (1.0 - WEAK_MISREAD_CHANCE) * chance + WEAK_MISREAD_CHANCE / len(stages)
    return result


def ph_likelihood(
    event: Event, share: Floats, excess: float, batch: Batch | None, offset: PhOffset = NO_OFFSET
) -> Floats:
    """Likelihood of a pH that was read, same shape as share; flat where it cannot be judged. offset: of the kitchen.

    event: "ph read" with its ``ph``, its ``sample_percent`` (by mass) and its ``temperature_c`` (25 where absent). It
    says nothing without a dilution of 0.1 to 10 % and a temperature of 15 to 35 degC; nor does a hot, undiluted paste.
    """
    percent = event.fields.get("sample_percent")
    temperature_c = event.fields.get("temperature_c", 25.0)
    if not isinstance(percent, float) or not isinstance(temperature_c, float):
        return np.ones_like(share)
    if not LEAST_SAMPLE_PERCENT <= percent <= MOST_SAMPLE_PERCENT or not COOL_C <= temperature_c <= WARM_C:
        return np.ones_like(share)
    converted, need = converted_at(share, excess), koh_mol_per_g(batch)
    # Some soap there always is at thick trace, and without any the hydrolysis has no pH.
    soap = np.maximum(converted, LEAST_SOAP) * need
    expected, sd = diluted_paste_ph((1.0 + excess - converted) * need, soap, percent, temperature_c, offset)
    off_by = (float(event.fields["ph"]) - expected) / sd
    result: Floats = (1.0 - WEAK_MISREAD_CHANCE) * np.exp(-0.5 * off_by**2) + WEAK_MISREAD_CHANCE
    return result


def koh_mol_per_g(batch: Batch | None) -> float:
    """mol of KOH charged per g of paste; a usual paste where there is no batch."""
    if batch is None or not batch.oils:
        return USUAL_MOL_PER_G
    # Saponification values are mg of KOH per g of oil.
    mol = sum(oil.grams * oil.saponification_value for oil in batch.oils) / (1000.0 * KOH_G_MOL)
    grams = sum(oil.grams for oil in batch.oils) + mol * KOH_G_MOL / batch.alkali.assay + batch.water_grams
    return mol / grams
