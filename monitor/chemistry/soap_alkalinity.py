"""The pH that a probe should read in soap and water, with its spread, and the acid between two readings.

The one model of soap pH: bench, decisions and estimate take it from here. The soap's part is ``acid_soap``, the rest
the charge balance of ``equilibrium``.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from monitor.chemistry.acid_soap import ACID_SOAP_PER_PH
from monitor.chemistry.equilibrium import Solution, acid_at, ph

# Half of the central 80 % of a normal distribution, in standard deviations.
NORMAL_QUANTILE_90 = 1.2816
# How far one kitchen's soaps read from the model (oils, water, probe), and one reading from the kitchen's own middle
# (dilution, carbon dioxide of the air, the probe that day). Together 80 % within 0.35, so that neutral soap reads as
# makers find it, 9.3 to 10.2 (judgement).
KITCHEN_SD, READING_SD = 0.23, 0.15
# A titrated soap that reads further off is a slip of the probe, the burette or a key, and teaches nothing (judgement).
MOST_DEVIATION = 1.5


@dataclass(frozen=True, slots=True)
class PhOffset:
    """How far a kitchen's readings lie above the model, pH, and the standard deviation of that. readings: behind it."""

    ph: float = 0.0
    sd: float = KITCHEN_SD
    readings: int = 0

    @property
    def reading_sd(self) -> float:
        """Standard deviation of one reading about model plus offset."""
        return math.hypot(self.sd, READING_SD)


@dataclass(frozen=True, slots=True)
class PhEstimate:
    """The pH that the probe may read: the middle, and the central 80 % of readings.

    sample_percent: product in the sample, per cent by mass; 100 is undiluted. words: all this in a sentence.
    """

    low: float
    middle: float
    high: float
    sample_percent: float
    temperature_c: float
    words: str = field(init=False)

    def __post_init__(self) -> None:
        words = (
            f"A {self.sample_percent:g} % sample at {self.temperature_c:.0f} °C should read about {self.middle:.1f}; "
            f"eight readings in ten lie from {self.low:.1f} to {self.high:.1f}."
        )
        # Frozen, so this is the way to set what follows from the other fields.
        object.__setattr__(self, "words", words)


NO_OFFSET = PhOffset()
"""A kitchen of which nothing is known."""


def expected_reading(
    solution: Solution, alkali_range: tuple[float, float], sample_percent: float, offset: PhOffset = NO_OFFSET
) -> PhEstimate:
    """The pH that a sample should read.

    The deviations by free alkali, acid soap, kitchen and reading are independent, so their squares add.

    Parameters
    ----------
    solution : the sample, at the central free alkali.
    alkali_range : how much less and how much more free alkali there may be, mol per kg of water, both 0 or more.
    sample_percent : product in the sample, per cent by mass.
    offset : of the kitchen.

    >>> estimate = expected_reading(Solution(cations=0.008, soap=0.008), (0.0, 0.0), 1.0)
    >>> round(estimate.low, 1), round(estimate.middle, 1), round(estimate.high, 1)
    (9.4, 9.8, 10.1)
    """
    middle = ph(solution)
    less, more = alkali_range
    least, _, most = ACID_SOAP_PER_PH
    scatter = NORMAL_QUANTILE_90 * offset.reading_sd
    below = (
        middle - ph(replace(solution, cations=max(solution.cations - less, 0.0))) if less else 0.0,
        middle - ph(replace(solution, acid_soap_per_ph=least)),
        scatter,
    )
    above = (
        ph(replace(solution, cations=solution.cations + more)) - middle if more else 0.0,
        ph(replace(solution, acid_soap_per_ph=most)) - middle,
        scatter,
    )
    middle += offset.ph
    return PhEstimate(
        middle - math.hypot(*below), middle, middle + math.hypot(*above), sample_percent, solution.temperature_c
    )


def acid_between_readings(
    solution: Solution, from_ph: float, to_ph: float, offset: PhOffset = NO_OFFSET
) -> tuple[float, float, float]:
    """Strong acid that brings a sample from one reading to a lower one, mol of H+ per kg of water: low, middle, high.

    Two things are uncertain: how much acid soap forms (``ACID_SOAP_PER_PH``), and the hydroxide and other alkali behind
    a reading, which one reading's scatter makes uncertain by a factor of about 1.6.

    Parameters
    ----------
    solution : the sample; its cations do not matter but for the ionic strength.
    from_ph, to_ph : readings, 4 to 14. Raises ValueError where the second is above the first.

    >>> usual = Solution(cations=0.008, soap=0.008)
    >>> [round(mol / 0.008, 2) for mol in acid_between_readings(usual, 9.65, 9.15)]
    [0.02, 0.14, 0.17]
    """
    if to_ph > from_ph:
        raise ValueError(f"to_ph is {to_ph:g}; acid brings the pH down, so it must be at most {from_ph:g}")
    ends = (from_ph - offset.ph, to_ph - offset.ph)
    alone = _fall(replace(solution, soap=0.0), *ends)
    by_soap = [_fall(replace(solution, acid_soap_per_ph=each), *ends) - alone for each in ACID_SOAP_PER_PH]
    factor = 10.0 ** (NORMAL_QUANTILE_90 * READING_SD)
    # Far below neutral the soap is used up, and the three cross.
    return min(by_soap) + alone / factor, by_soap[1] + alone, max(by_soap) + alone * factor


def _fall(solution: Solution, from_ph: float, to_ph: float) -> float:
    return acid_at(solution, to_ph) - acid_at(solution, from_ph)


def learned_offset(deviations: Iterable[tuple[float, float]]) -> PhOffset:
    """A kitchen's offset from its own titrated soaps.

    The normal prior, mean 0 and standard deviation ``KITCHEN_SD``, updated by each deviation with its own scatter and
    ``READING_SD``:

        1 / s^2 = 1 / s0^2 + sum(1 / s_i^2),  mean = s^2 sum(d_i / s_i^2)

    Parameters
    ----------
    deviations : (reading minus model, standard deviation of the model's free alkali in pH) of each reading; those of
        more than 1.5 are left out.

    >>> learned_offset([]) == PhOffset(), round(learned_offset([(0.3, 0.0)] * 4).ph, 2)
    (True, 0.27)
    """
    precision, weighted, count = KITCHEN_SD**-2, 0.0, 0
    for deviation, model_sd in deviations:
        if abs(deviation) > MOST_DEVIATION:
            continue
        weight = 1.0 / (READING_SD**2 + model_sd**2)
        precision, weighted, count = precision + weight, weighted + weight * deviation, count + 1
    return PhOffset(weighted / precision, precision**-0.5, count)
