"""The pH of a diluted sample of paste while it cooks, for whole grids of conversion at once."""

import numpy as np

from monitor.chemistry.acid_soap import SOAP_PKA
from monitor.chemistry.equilibrium import log_activity, pk_water
from monitor.chemistry.soap_alkalinity import NO_OFFSET, PhOffset
from monitor.chemistry.validation import check_range
from monitor.model import Floats


def diluted_paste_ph(
    free_alkali: Floats,
    soap: Floats | float,
    sample_percent: float,
    temperature_c: float = 25.0,
    offset: PhOffset = NO_OFFSET,
) -> tuple[Floats, float]:
    """The pH expected of a diluted sample, and the standard deviation of one reading about it.

    Free hydroxide f and soap C as the salt of a weak acid, without acid soap:

        [OH-] = (f + sqrt(f^2 + 4 Kw C / (Ka g))) / 2,  pH = pKw + log10([OH-] g)

    with g the activity coefficient. The same model as ``expected_reading``, in closed form.

    Parameters
    ----------
    free_alkali : hydroxide, mol per g of paste, any shape: (1 + e - X) times the need per gram. Below 0 counts as 0.
    soap : mol per g of paste, a number or of the same shape: X times the need per gram; above 0.
    sample_percent : paste in the sample, per cent by mass, 0.01 to 20, so that the sample is mostly water.
    temperature_c : 0 to 60 degC.
    offset : of the kitchen.

    >>> mean, sd = diluted_paste_ph(np.array([1e-3, 5e-5, 0.0]), 1.6e-3, 1.0)
    >>> mean.round(1).tolist(), round(sd, 2)
    ([11.9, 10.6, 9.9], 0.27)
    """
    check_range("sample_percent", sample_percent, 0.01, 20.0, "%")
    # mol per g of paste to mol per kg of sample.
    dilution = 10.0 * sample_percent
    free = np.maximum(free_alkali, 0.0) * dilution
    salt = np.asarray(soap) * dilution
    pkw = pk_water(temperature_c)
    activity = log_activity(1, float(np.max(free + salt)), temperature_c)
    hydroxide = (free + np.sqrt(free**2 + 4.0 * 10.0 ** (SOAP_PKA - pkw - activity) * salt)) / 2.0
    mean: Floats = pkw + np.log10(hydroxide) + activity + offset.ph
    return mean, offset.reading_sd
