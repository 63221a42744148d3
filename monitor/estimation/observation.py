"""What observations of the paste say of it: clarity checks, titrations, how it looks, pH of a diluted sample.

Every likelihood is a function of the fraction converted at each point of the grid, and of the excess there. A
titration and a clarity check are the strong ones. The other two are loose: their widths are judgement, wide on
purpose, and one in ten is taken to be simply wrong.
"""

import math

import numpy as np

from monitor.chemistry import KOH_G_PER_MOL, NO_OFFSET, PhOffset, diluted_paste_ph, titrated_koh_share
from monitor.estimation.kinetics import CLEAR_RESIDUAL
from monitor.model import Batch, Event, Floats

# A sample reads nearly clear up to about the first of these residuals and hazy up to the second, cloudy above
# (judgement, no source).
NEARLY_CLEAR_RESIDUAL, HAZY_RESIDUAL = 0.016, 0.035
# How far one person's reading may be off, in ln of the residual (judgement, no source).
CLEAR_NOISE, HAZY_NOISE = 0.12, 0.3
# One reading in fifty is simply wrong: a wet glass, a wrong button.
MISREAD_CHANCE = 0.02
# Of looks, pH readings and titrations one in ten.
WEAK_MISREAD_CHANCE = 0.1
# The paste is thin while more than the first of these is left unconverted, stiff above the second, patchy above the
# third and translucent below it (judgement, no source).
THIN_RESIDUAL, STIFF_RESIDUAL, PATCHY_RESIDUAL, LOOK_NOISE = 0.6, 0.25, 0.06, 0.8
# Fraction converted below which the soap's own alkalinity does not matter beside the lye.
LEAST_SOAP = 0.01
# KOH that the oils of a gram of paste take, g, where no sheet says: 600 g of oil of 190 mg/g in 1270 g of paste.
USUAL_NEED_G_PER_G = 0.09
# How far the mass of the paste may be off by the time of a titration: water that boiled off, residues (judgement).
NEED_PER_G_WITHIN = 0.03
# Outside this range, degC, a pH says little of the hydroxide without the water's own constant at that temperature.
COOL_C, WARM_C = 15.0, 35.0
# Sample in water, percent by mass, within which the dilution is believed.
LEAST_SAMPLE_PERCENT, MOST_SAMPLE_PERCENT = 0.1, 10.0


# Phi at steps of 0.002, beyond which it is 0 or 1 to within 1e-9; linear between, which is wrong by at most 2e-7.
_Z = np.linspace(-6.0, 6.0, 6001)
_PHI = np.array([0.5 * math.erfc(-z / math.sqrt(2.0)) for z in _Z])


def normal_cdf(z: Floats) -> Floats:
    """The standard normal distribution function, Phi(z), to within 2e-7; z of any shape.

    >>> [round(float(p), 4) for p in normal_cdf(np.array([-1.2816, 0.0, 1.9600]))]
    [0.1, 0.5, 0.975]
    """
    result: Floats = np.interp(z, _Z, _PHI, left=0.0, right=1.0)
    return result


def clear_probability(converted: Floats) -> Floats:
    """Probability that a sample reads clear, as ``reading_probabilities`` has it. converted: fraction, any shape."""
    return normal_cdf((math.log(CLEAR_RESIDUAL) - _ln_residual(converted)) / CLEAR_NOISE)


def reading_probabilities(converted: Floats) -> tuple[Floats, Floats]:
    """Probabilities that a sample reads clear, and that it does not read cloudy, were no reading simply wrong.

    converted: fraction, 0 to 1, any shape. Returns two arrays of that shape.

    ln of the residual as it is seen is normal about ln of the true one: P(clear) = Phi((ln r_clear - ln r) / noise).

    >>> clear, not_cloudy = reading_probabilities(np.array([0.97, 0.99, 0.999]))
    >>> clear.round(2).tolist(), not_cloudy.round(2).tolist()
    ([0.0, 0.5, 1.0], [0.7, 1.0, 1.0])
    """
    ln_residual = _ln_residual(converted)
    clear = normal_cdf((math.log(CLEAR_RESIDUAL) - ln_residual) / CLEAR_NOISE)
    not_cloudy = np.maximum(normal_cdf((math.log(HAZY_RESIDUAL) - ln_residual) / HAZY_NOISE), clear)
    return clear, not_cloudy


def _ln_residual(converted: Floats) -> Floats:
    """ln of the fraction of the fat that is left; never below ln 1e-12."""
    result: Floats = np.log(np.maximum(1.0 - converted, 1e-12))
    return result


def check_likelihood(result: str, converted: Floats) -> Floats:
    """Likelihood of a check's result, same shape as ``converted``.

    result: one of ``model.CHECK_RESULTS``. One reading in fifty (MISREAD_CHANCE) is taken to be any of them at random.
    """
    clear, not_cloudy = reading_probabilities(converted)
    if result == "nearly clear":
        # The upper part of hazy; who does not know the word calls it hazy or clear.
        nearly = normal_cdf((math.log(NEARLY_CLEAR_RESIDUAL) - _ln_residual(converted)) / CLEAR_NOISE)
        chance = np.maximum(nearly - clear, 0.0)
    else:
        chance = {"clear": clear, "hazy": not_cloudy - clear, "cloudy": 1.0 - not_cloudy}[result]
    likelihood: Floats = (1.0 - MISREAD_CHANCE) * chance + MISREAD_CHANCE / 3.0
    return likelihood


def look_likelihood(paste: str, converted: Floats) -> Floats:
    """Likelihood of how the paste looks, same shape as ``converted``.

    paste: one of ``model.PASTE_STAGES``, or "opaque", which is thin or stiff.
    """
    ln_residual = _ln_residual(converted)
    edges = (THIN_RESIDUAL, STIFF_RESIDUAL, PATCHY_RESIDUAL)
    past = [normal_cdf((math.log(edge) - ln_residual) / LOOK_NOISE) for edge in edges]
    stages = {"thin": 1.0 - past[0], "stiff": past[0] - past[1], "patchy": past[1] - past[2], "translucent": past[2]}
    chance = 1.0 - past[1] if paste == "opaque" else stages[paste]
    result: Floats = (1.0 - WEAK_MISREAD_CHANCE) * chance + WEAK_MISREAD_CHANCE / len(stages)
    return result


def stage_of(converted: float, chance_clear: float) -> str:
    """How the paste most likely looks: one of ``model.PASTE_STAGES``, or "clear" where a sample likely reads so.

    converted: fraction. chance_clear: that a sample reads clear, 0 to 1.

    >>> stage_of(0.5, 0.0), stage_of(0.96, 0.0), stage_of(0.99, 0.6)
    ('stiff', 'translucent', 'clear')
    """
    if chance_clear > 0.5:
        return "clear"
    residual = 1.0 - converted
    edges = (("thin", THIN_RESIDUAL), ("stiff", STIFF_RESIDUAL), ("patchy", PATCHY_RESIDUAL))
    return next((word for word, edge in edges if residual > edge), "translucent")


def titration_likelihood(event: Event, left: Floats, need_g_per_g: float) -> Floats:
    """Likelihood of a titrated sample of paste, same shape as ``left``.

    event: "titrated", with its acid (mL, mol of H+ per L) and its sample (g). left: alkali that is left, as a fraction
    of the need, 1 + e - X. need_g_per_g: KOH that the oils of a gram of paste take, g.

    Free KOH per gram of paste is ``left`` times that need. The reading is normal about it, with the burette, the end
    point, the weighing and the paste's own mass.

    >>> sample = Event("a", "titrated", 0.0, 0.0, {"acid_ml": 0.96, "acid_mol_l": 0.1, "sample_g": 1.0})
    >>> titration_likelihood(sample, np.array([0.03, 0.06, 0.12]), 0.09).round(2).tolist()
    [0.1, 1.0, 0.1]
    """
    found, sd = titrated_koh_share(*(float(event.fields[name]) for name in ("acid_ml", "acid_mol_l", "sample_g")))
    expected = np.maximum(left, 0.0) * need_g_per_g
    width = np.sqrt(sd**2 + (NEED_PER_G_WITHIN * expected) ** 2)
    result: Floats = (1.0 - WEAK_MISREAD_CHANCE) * np.exp(-0.5 * ((found - expected) / width) ** 2)
    return result + WEAK_MISREAD_CHANCE


def ph_likelihood(
    event: Event, converted: Floats, excess: Floats, need_g_per_g: float, offset: PhOffset = NO_OFFSET
) -> Floats:
    """Likelihood of a pH that was read, same shape as ``converted``; flat where it cannot be judged.

    event: "ph read" with its ``ph``, its ``sample_percent`` (by mass) and its ``temperature_c`` (25 where absent). It
    says nothing without a dilution of 0.1 to 10 % and a temperature of 15 to 35 degC; nor does a hot, undiluted paste.
    converted, excess: fractions, which broadcast. need_g_per_g: KOH that the oils of a gram of paste take, g. offset:
    of the kitchen's readings.
    """
    percent = event.fields.get("sample_percent")
    temperature_c = event.fields.get("temperature_c", 25.0)
    if not isinstance(percent, float) or not isinstance(temperature_c, float):
        return np.ones_like(converted)
    if not LEAST_SAMPLE_PERCENT <= percent <= MOST_SAMPLE_PERCENT or not COOL_C <= temperature_c <= WARM_C:
        return np.ones_like(converted)
    need_mol = need_g_per_g / KOH_G_PER_MOL
    # Some soap there always is at thick trace, and without any the hydrolysis has no pH.
    soap = np.maximum(converted, LEAST_SOAP) * need_mol
    expected, sd = diluted_paste_ph((1.0 + excess - converted) * need_mol, soap, percent, temperature_c, offset)
    off_by = (float(event.fields["ph"]) - expected) / sd
    result: Floats = (1.0 - WEAK_MISREAD_CHANCE) * np.exp(-0.5 * off_by**2) + WEAK_MISREAD_CHANCE
    return result


def need_per_gram(batch: Batch | None, water_added_g: float = 0.0) -> float:
    """KOH that the oils of a gram of paste take, g; a usual paste where there is no batch.

    water_added_g: to the paste since, g.
    """
    if batch is None or not batch.oils:
        return USUAL_NEED_G_PER_G
    # Saponification values are mg of KOH per g of oil.
    need_g = sum(oil.grams * oil.saponification_value for oil in batch.oils) / 1000.0
    flakes_g = need_g / batch.alkali.assay if batch.alkali.grams is None else batch.alkali.grams
    paste_g = sum(oil.grams for oil in batch.oils) + flakes_g + batch.water_grams + batch.glycerol_grams
    return need_g / (paste_g + water_added_g)
