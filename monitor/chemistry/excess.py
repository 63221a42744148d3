"""The excess of alkali over what the oils take, and how certain it is: one account for bench, estimate and lessons.

A batch is weighed by values that are known only so well: saponification values lie in a range about what is typical,
flakes hold more or less hydroxide than their bag says, and a scale shows steps. ``batch_excess`` takes all of it.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

from monitor.chemistry.oil_amounts import NAOH_PER_KOH, Portion, portion
from monitor.model import Batch, Event, Oil

# The central 80 % of a normal distribution lies within this many standard deviations of its mean.
NORMAL_QUANTILE_90 = 1.2816
# How far the hydroxide in flakes may be from what the bag says, as a mass fraction either way (judgement, no source).
ASSAY_WITHIN = 0.005
# How far the saponification value of an oil that the table lacks may be off, relative (judgement, no source).
UNKNOWN_OIL_WITHIN = 0.025
# What the bench calls the alkalis and the water when it logs what was weighed.
KOH_FLAKES, NAOH_FLAKES, LYE_WATER = "potassium hydroxide", "sodium hydroxide", "water for the lye"


@dataclass(frozen=True, slots=True)
class Excess:
    """Alkali above what the oils take, as a fraction of that need; negative where oil stays unreacted.

    taken: at the typical value of every oil, or its certificate's. least, most: with every oil at the worst end of its
    range and every weighing half a step wrong. likely_low, likely_high: the central 80 %. sd: standard uncertainty.
    """

    least: float
    likely_low: float
    taken: float
    likely_high: float
    most: float
    sd: float

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

    Each saponification value is triangular over its range with its mode at the typical value, each weighing and assay
    uniform; all are independent, and the relative variances of a quotient add [1]_.

        u^2 = var(n) / n^2 + var(m) / m^2;  likely = m / n - 1 -+ z u m / n,  z = 1.2816

    with n the need at typical values and m the alkali, both in g of KOH. z is the 0.9 quantile of the normal
    distribution. The variance of a value is taken about its mode
    (``variance_about_typical``).

    Parameters
    ----------
    portions : the oils.
    alkali_koh_g : all pure alkali counted as KOH, g, from 0 upwards.
    scale_g : the smallest step of the scale, g; each weighing may be wrong by half of it.
    weighings_of_alkali : for each alkali weighed, (pure KOH per gram of flakes, uncertainty of its assay in g of KOH).

    Limits: the normal approximation is clipped to the worst case, which a single oil would otherwise exceed.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 4.3.7 (uniform), 4.3.9 (triangular) and 5.1.6 (quotients), from memory.

    >>> from monitor.chemistry.oil_amounts import portion
    >>> oils = (portion("rapeseed", 600, 189.0),)
    >>> found = excess_range(oils, 116.8, 1.0, weighings_of_alkali=((0.9, 0.0),))
    >>> round(found.least, 3), round(found.taken, 3), round(found.most, 3)
    (0.02, 0.03, 0.04)
    """
    half_step = scale_g / 2.0
    need = sum(portion.need_koh_g for portion in portions)
    need_low = sum(max(p.grams - half_step, 0.0) * p.saponification_low for p in portions) / 1000.0
    need_high = sum((p.grams + half_step) * p.saponification_high for p in portions) / 1000.0
    alkali_uncertainty = sum(pure * half_step + assay for pure, assay in weighings_of_alkali)
    ratio = alkali_koh_g / need
    sd = ratio * _relative_uncertainty(portions, alkali_koh_g, half_step, weighings_of_alkali)
    least = max(alkali_koh_g - alkali_uncertainty, 0.0) / need_high - 1.0
    most = (alkali_koh_g + alkali_uncertainty) / need_low - 1.0
    # The error of a single oil cannot exceed its range, although a normal distribution would allow that.
    likely_low = max(ratio - NORMAL_QUANTILE_90 * sd - 1.0, least)
    likely_high = min(ratio + NORMAL_QUANTILE_90 * sd - 1.0, most)
    return Excess(least, likely_low, ratio - 1.0, likely_high, most, sd)


def variance_about_typical(low: float, typical: float, high: float) -> float:
    """The mean square deviation from the mode of a triangular distribution, in the square of the arguments' unit.

        v = (p^3 + q^3) / (6 (p + q)),  p = high - typical, q = typical - low

    low, typical, high: the ends of the range and its mode, low <= typical <= high. 0 where the range is empty.

    >>> round(variance_about_typical(-1.0, 0.0, 1.0), 6)  # of the symmetric one, half-width squared over six
    0.166667
    """
    above, below = high - typical, typical - low
    return (above**3 + below**3) / (6.0 * (above + below)) if above + below > 0.0 else 0.0


def _relative_uncertainty(
    portions: tuple[Portion, ...],
    alkali_koh_g: float,
    half_step: float,
    weighings_of_alkali: tuple[tuple[float, float], ...],
) -> float:
    """The relative standard uncertainty of alkali over need."""
    need = sum(portion.need_koh_g for portion in portions)
    variance_of_need = sum(
        (p.grams / 1000.0) ** 2 * variance_about_typical(p.saponification_low, p.saponification, p.saponification_high)
        + (half_step * p.saponification / 1000.0) ** 2 / 3.0
        for p in portions
    )
    variance_of_alkali = sum((pure * half_step) ** 2 / 3.0 + assay**2 / 3.0 for pure, assay in weighings_of_alkali)
    return math.sqrt(variance_of_need / need**2 + (variance_of_alkali / alkali_koh_g**2 if alkali_koh_g > 0 else 0.0))


def alkali_flakes_g(
    target_koh_g: float,
    koh_in_flakes: float,
    naoh_share: float,
    naoh_assay: float,
    koh_weighed_g: float | None,
    naoh_weighed_g: float | None,
) -> tuple[float, float]:
    """Flakes of KOH and of NaOH, g: as weighed, else so that both together give the target.

    target_koh_g: all alkali that is wanted, counted as pure KOH, g. koh_in_flakes, naoh_assay: mass fractions of
    hydroxide, above 0. naoh_share: the part of the target, by number of molecules, that NaOH gives, 0 to 1. Where the
    KOH was weighed, NaOH makes up the difference.
    """
    koh_g = target_koh_g * (1.0 - naoh_share) / koh_in_flakes if koh_weighed_g is None else koh_weighed_g
    if naoh_weighed_g is not None:
        return koh_g, naoh_weighed_g
    if not naoh_share:
        return koh_g, 0.0
    missing_koh_g = max(target_koh_g - koh_g * koh_in_flakes, 0.0)
    return koh_g, missing_koh_g * NAOH_PER_KOH / naoh_assay


def batch_portions(batch: Batch) -> tuple[Portion, ...]:
    """The oils of a sheet with the ranges of their saponification values; never raises.

    The sheet's own value is the middle one. An oil that the table lacks has a range of 2.5 % either way (judgement).
    """
    return tuple(_portion_of(oil) for oil in batch.oils)


def _portion_of(oil: Oil) -> Portion:
    value = oil.saponification_value
    try:
        known = portion(oil.name, oil.grams, value if oil.certified else None)
    except ValueError:
        low, high = value * (1.0 - UNKNOWN_OIL_WITHIN), value * (1.0 + UNKNOWN_OIL_WITHIN)
        return Portion(oil.name, oil.grams, low, value, high, "triglyceride", "the sheet")
    low, high = min(known.saponification_low, value), max(known.saponification_high, value)
    return replace(known, saponification_low=low, saponification=value, saponification_high=high)


def batch_excess(batch: Batch) -> Excess | None:
    """The true excess of a batch with its spread, from what was weighed; None for a sheet without oils.

    The alkali that was weighed counts, else the alkali that the sheet's excess asks for. The assay may be off by 0.005
    of the flakes, each weighing by half a step of the scale, each oil within its range. Never raises.

    >>> from monitor.model import Alkali, Batch, Oil
    >>> oils = (Oil("rapeseed", 600.0, 187.5),)
    >>> planned = batch_excess(Batch("", oils, Alkali("KOH", 0.9, 0.03), 540.0))
    >>> weighed = batch_excess(Batch("", oils, Alkali("KOH", 0.9, 0.03, grams=120.0), 540.0))
    >>> round(planned.taken, 3), round(weighed.taken, 3)
    (0.03, -0.04)
    """
    portions = batch_portions(batch)
    need = sum(each.need_koh_g for each in portions)
    if need <= 0.0:
        return None
    alkali = batch.alkali
    koh_g, naoh_g = alkali_flakes_g(
        need * (1.0 + alkali.excess),
        alkali.assay,
        alkali.naoh_share,
        alkali.naoh_assay,
        alkali.grams,
        alkali.naoh_grams,
    )
    pure_koh_g = koh_g * alkali.assay + naoh_g * alkali.naoh_assay / NAOH_PER_KOH
    weighings = alkali_weighings(koh_g, alkali.assay, naoh_g, alkali.naoh_assay, ASSAY_WITHIN)
    return excess_range(portions, pure_koh_g, batch.scale_grams, weighings_of_alkali=weighings)


def alkali_weighings(
    koh_g: float, koh_in_flakes: float, naoh_g: float, naoh_assay: float, assay_within: float
) -> tuple[tuple[float, float], ...]:
    """For each alkali weighed: pure KOH per gram of flakes, and the uncertainty of its assay in g of KOH.

    koh_g, naoh_g: flakes, g. koh_in_flakes, naoh_assay, assay_within: mass fractions.
    """
    pure_koh = (koh_in_flakes, koh_g * assay_within)
    pure_naoh = (naoh_assay / NAOH_PER_KOH, naoh_g * assay_within / NAOH_PER_KOH)
    return tuple(each for each, grams in ((pure_koh, koh_g), (pure_naoh, naoh_g)) if grams > 0)


def as_weighed(batch: Batch, events: Iterable[Event], sheet_known: float = 0.0) -> Batch:
    """The batch with what was logged as weighed in place of what the sheet says.

    events: of the cook, in order; only ``weighed`` ones that became known after the sheet did (Unix seconds) count,
    because a sheet that was planned anew has not been weighed. The latest figure for each thing wins.
    """
    weighed = {
        str(event.fields["what"]).casefold(): float(event.fields["grams"])
        for event in events
        if event.kind == "weighed" and event.known >= sheet_known and float(event.fields["grams"]) > 0.0
    }
    if not weighed:
        return batch
    oils = tuple(replace(oil, grams=weighed.get(oil.name.casefold(), oil.grams)) for oil in batch.oils)
    alkali = replace(
        batch.alkali,
        grams=weighed.get(KOH_FLAKES, weighed.get("koh", batch.alkali.grams)),
        naoh_grams=weighed.get(NAOH_FLAKES, weighed.get("naoh", batch.alkali.naoh_grams)),
    )
    return replace(batch, oils=oils, alkali=alkali, water_grams=weighed.get(LYE_WATER, batch.water_grams))
