"""The range of the excess that the oils' saponification values and the scale leave open."""

import math
from dataclasses import dataclass

from monitor.chemistry.oil_amounts import Portion

# The central 80 % of a normal distribution lies within this many standard deviations of its mean.
NORMAL_QUANTILE_90 = 1.2816


@dataclass(frozen=True, slots=True)
class Excess:
    """Alkali above what the oils take, as a fraction of that need; negative where oil stays unreacted.

    taken: at the values that the charge was calculated with. least, most: with every oil at the worst end of its range
    and every weighing half a step wrong. likely_low, likely_high: the central 80 %, with each value uniform in its
    range and independent of the others.
    """

    least: float
    likely_low: float
    taken: float
    likely_high: float
    most: float

    def meaning(self, need_koh_g: float, oil_g: float) -> tuple[str, ...]:
        """What the range says, in sentences. need_koh_g: pure KOH that the oils take; oil_g: all oils."""
        sentences: list[str] = []
        if self.most < 0:
            sentences.append(
                f"Will leave {-self.most * oil_g:.0f} to {-self.least * oil_g:.0f} g of oil over: a sample stays hazy, "
                "and the soap may part."
            )
        elif self.likely_low < 0:
            sentences.append(
                f"May leave oil over: up to {-self.likely_low * oil_g:.0f} g likely, {-self.least * oil_g:.0f} g at "
                "the worst. A sample can then stay hazy however long it cooks."
            )
        elif self.least < 0:
            sentences.append(f"Oil over is unlikely, at most {-self.least * oil_g:.0f} g.")
        if self.likely_low > 0:
            sentences.append(
                f"Will need neutralising: {self.likely_low * need_koh_g:.1f} to {self.likely_high * need_koh_g:.1f} g "
                "of KOH over are likely."
            )
        elif self.likely_high > 0:
            sentences.append(
                f"May need neutralising: up to {self.likely_high * need_koh_g:.1f} g of KOH over are likely."
            )
        return tuple(sentences)


def excess_range(
    portions: tuple[Portion, ...],
    alkali_koh_g: float,
    scale_g: float,
    *,
    weighings_of_alkali: tuple[tuple[float, float], ...],
) -> Excess:
    """The excess and its range.

    The likely range treats every error as uniform and independent: its variance is the half-width squared over three,
    and the relative variances of a quotient add [1]_.

        u^2 = var(n) / n^2 + var(m) / m^2;  likely = m / n_mid (1 -+ z u) - 1,  z = 1.2816

    with n the need and m the alkali, both in g of KOH. z is the 0.9 quantile of the normal distribution.

    Parameters
    ----------
    portions : the oils.
    alkali_koh_g : all pure alkali counted as KOH, g, from 0 upwards.
    scale_g : the smallest step of the scale, g; each weighing may be wrong by half of it.
    weighings_of_alkali : for each alkali weighed, (pure KOH per gram of flakes, uncertainty of its assay in g of KOH).

    Limits: the normal approximation is clipped to the worst case, which a single oil would otherwise exceed.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 4.3.7 and 5.1.6.

    >>> from monitor.chemistry.oil_amounts import portion
    >>> oils = (portion("rapeseed", 600),)
    >>> found = excess_range(oils, 115.875, 1.0, weighings_of_alkali=((0.9, 0.0),))
    >>> round(found.least, 3), round(found.taken, 3), round(found.most, 3)
    (-0.004, 0.03, 0.066)
    """
    half_step = scale_g / 2.0
    need = sum(portion.need_koh_g for portion in portions)
    need_low = sum(max(p.grams - half_step, 0.0) * p.saponification_low for p in portions) / 1000.0
    need_high = sum((p.grams + half_step) * p.saponification_high for p in portions) / 1000.0
    central_need = sum(p.grams * (p.saponification_low + p.saponification_high) for p in portions) / 2000.0
    alkali_uncertainty = sum(pure * half_step + assay for pure, assay in weighings_of_alkali)
    central_ratio = alkali_koh_g / central_need
    relative = _relative_uncertainty(portions, alkali_koh_g, half_step, weighings_of_alkali)
    spread = NORMAL_QUANTILE_90 * relative * alkali_koh_g / central_need
    least = max(alkali_koh_g - alkali_uncertainty, 0.0) / need_high - 1.0
    most = (alkali_koh_g + alkali_uncertainty) / need_low - 1.0
    # The error of a single oil cannot exceed its range, although a normal distribution would allow that.
    likely_low, likely_high = max(central_ratio - spread - 1.0, least), min(central_ratio + spread - 1.0, most)
    return Excess(least, likely_low, alkali_koh_g / need - 1.0, likely_high, most)


def _relative_uncertainty(
    portions: tuple[Portion, ...],
    alkali_koh_g: float,
    half_step: float,
    weighings_of_alkali: tuple[tuple[float, float], ...],
) -> float:
    """The relative standard uncertainty of alkali over need."""
    need = sum(portion.need_koh_g for portion in portions)
    variance_of_need = sum(
        (p.grams * (p.saponification_high - p.saponification_low) / 2000.0) ** 2 / 3.0
        + (half_step * p.saponification / 1000.0) ** 2 / 3.0
        for p in portions
    )
    variance_of_alkali = sum((pure * half_step) ** 2 / 3.0 + assay**2 / 3.0 for pure, assay in weighings_of_alkali)
    return math.sqrt(variance_of_need / need**2 + (variance_of_alkali / alkali_koh_g**2 if alkali_koh_g > 0 else 0.0))
