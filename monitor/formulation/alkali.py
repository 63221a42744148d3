"""The alkali charge: the potassium hydroxide and water that the oils need, and how certain that need is.

======================  ==================================  =========  ==============================================
constant                quantity                            unit       source
======================  ==================================  =========  ==============================================
STRONGEST_KOH           saturated KOH at 20 degC, w_max     1          Great Soviet Encyclopedia: 112 g in 100 g water
STRONGEST_NAOH          saturated NaOH at 20 degC, w_max    1          from memory: 109 g in 100 g of water
WEAKEST_LYE             least alkali in the lye             1          judgement
CARBONATE_AS_KOH        K2CO3 expressed as KOH              g/g        stoichiometry: 2 M(KOH) / M(K2CO3)
======================  ==================================  =========  ==============================================
"""

import math
from dataclasses import dataclass, replace

from monitor.chemistry import (
    ASSAY_WITHIN,
    CARBONATE_G_PER_MOL,
    FRACTION,
    KOH_G_PER_MOL,
    NAOH_PER_KOH,
    Excess,
    OutOfRangeError,
    Portion,
    alkali_flakes_g,
    alkali_weighings,
    check_range,
    excess_range,
)
from monitor.formulation.cautions import BLENDER, KOH_BURNS, KOH_INTO_WATER, LYE_SPITS, Caution

# 112 g of KOH dissolve in 100 g of water at 20 degC (Great Soviet Encyclopedia, seen); NaOH 109 g (from memory).
STRONGEST_KOH = 112.0 / 212.0
STRONGEST_NAOH = 109.0 / 209.0
WEAKEST_LYE = 0.05
# Grams of water to a gram of flakes, at most.
MOST_RATIO = 20.0
# A total alkali stated as KOH counts a gram of K2CO3 as this many grams of KOH.
CARBONATE_AS_KOH = 2.0 * KOH_G_PER_MOL / CARBONATE_G_PER_MOL

ALKALI_CAUTIONS = (
    Caution("koh_g", KOH_BURNS),
    Caution("koh_g", KOH_INTO_WATER),
    Caution("water_g", LYE_SPITS),
    Caution("total_g", BLENDER),
)


@dataclass(frozen=True, slots=True)
class ChargeInputs:
    """What the maker decides. Shares, assays, strengths and the excess are mass fractions, not per cent.

    Parameters
    ----------
    portions : the oils, at least one.
    koh_assay, naoh_assay : pure hydroxide in the flakes, 0.5 to 1.
    koh_carbonate : K2CO3 in the KOH flakes, 0 to 0.2.
    assay_is_total : the certificate's assay counts the carbonate as KOH, as pharmacopoeias do. The carbonate is then
        subtracted, because it does not saponify oil (common practice, no source).
    naoh_share : the part of the need, by number of molecules, that NaOH meets, 0 to 1.
    excess : alkali above the need, -0.2 to 0.5; negative leaves oil unreacted.
    water_g, lye_strength, water_per_alkali : water by exactly one of these: grams (0 to 100 000), pure alkali in the
        whole lye (0.05 to saturation), or grams of water per gram of flakes (0.5 to 20).
    glycerol_g : glycerol put in with the oils, g, 0 to 100 000.
    scale_g : the smallest step that the scale shows, g, 0.001 to 100.
    assay_within : half-width of the assay's range, 0 to 0.1.

    Raises ValueError that names the argument and the allowed range.
    """

    portions: tuple[Portion, ...]
    koh_assay: float = 0.90
    koh_carbonate: float = 0.0
    assay_is_total: bool = False
    naoh_share: float = 0.0
    naoh_assay: float = 0.98
    excess: float = 0.03
    water_g: float | None = None
    lye_strength: float | None = None
    water_per_alkali: float | None = None
    glycerol_g: float = 0.0
    scale_g: float = 1.0
    assay_within: float = ASSAY_WITHIN

    def __post_init__(self) -> None:
        if not self.portions:
            raise ValueError("there is no oil; at least one oil is needed")
        check_range("koh_assay", self.koh_assay, 0.5, 1.0, FRACTION)
        check_range("koh_carbonate", self.koh_carbonate, 0.0, 0.2, FRACTION)
        # A total assay counts a gram of carbonate as 0.81 g of KOH.
        max_carbonate = (1.0 - self.koh_assay) / (1.0 - CARBONATE_AS_KOH if self.assay_is_total else 1.0)
        why = "which leaves no room for the KOH of the assay"
        check_range("koh_carbonate", self.koh_carbonate, 0.0, max_carbonate + 1e-12, FRACTION, why)
        check_range("naoh_share", self.naoh_share, 0.0, 1.0, FRACTION)
        check_range("naoh_assay", self.naoh_assay, 0.5, 1.0, FRACTION)
        check_range("excess", self.excess, -0.2, 0.5, FRACTION)
        check_range("glycerol_g", self.glycerol_g, 0.0, 100_000.0, "g")
        check_range("scale_g", self.scale_g, 0.001, 100.0, "g")
        check_range("assay_within", self.assay_within, 0.0, 0.1, FRACTION)
        for portion in self.portions:
            coarse = f"on a scale with steps of {self.scale_g:g} g"
            check_range(portion.name, portion.grams, self.scale_g, 1e5, "g", coarse)
        if [self.water_g, self.lye_strength, self.water_per_alkali].count(None) != 2:
            raise ValueError(
                "water is told in exactly one way: its weight, the strength of the lye, or its ratio to the flakes"
            )
        if self.water_g is not None:
            check_range("water_g", self.water_g, 0.0, 100_000.0, "g")
        if self.lye_strength is not None:
            check_range("lye_strength", self.lye_strength, WEAKEST_LYE, self.strongest_lye, FRACTION)
        if self.water_per_alkali is not None:
            check_range("water_per_alkali", self.water_per_alkali, 0.5, MOST_RATIO)

    @property
    def koh_in_flakes(self) -> float:
        """Mass fraction of hydroxide in the KOH flakes."""
        return self.koh_assay - (self.koh_carbonate * CARBONATE_AS_KOH if self.assay_is_total else 0.0)

    @property
    def need_koh_g(self) -> float:
        """Pure KOH that the oils take, g, were there no NaOH and no excess."""
        return sum(portion.need_koh_g for portion in self.portions)

    @property
    def strongest_lye(self) -> float:
        """The strongest lye that stays dissolved at 20 degC: the weaker of the two alkalis' limits that apply."""
        limits = [limit for limit, share in self._limits() if share > 0]
        return min(limits)

    def _limits(self) -> tuple[tuple[float, float], ...]:
        return (STRONGEST_KOH, 1.0 - self.naoh_share), (STRONGEST_NAOH, self.naoh_share)


@dataclass(frozen=True, slots=True)
class WeighedAmounts:
    """The amounts that were really weighed, g; None where nothing has been weighed yet. oil_g: in the sheet's order."""

    oil_g: tuple[float | None, ...] = ()
    koh_g: float | None = None
    naoh_g: float | None = None
    water_g: float | None = None


@dataclass(frozen=True, slots=True)
class Charge:
    """What to weigh and what results from it. Masses are of flakes as they come from the bag, in g.

    inputs: with the oils as they were weighed. need_koh_g: pure KOH that the oils take. lye_strength: mass fraction of
    pure alkali in the lye. excess: all alkali over the need, with its range. more_oil_g: mass of the same oils that
    would bring too strong a charge back to the intended excess. meaning: sentences that explain the range.
    """

    inputs: ChargeInputs
    oil_g: float
    need_koh_g: float
    koh_g: float
    naoh_g: float
    water_g: float
    lye_strength: float
    excess: Excess
    more_oil_g: float
    meaning: tuple[str, ...]
    cautions: tuple[Caution, ...]

    @property
    def pure_koh_g(self) -> float:
        """KOH in the flakes, g."""
        return self.koh_g * self.inputs.koh_in_flakes

    @property
    def pure_naoh_g(self) -> float:
        """NaOH in the flakes, g."""
        return self.naoh_g * self.inputs.naoh_assay

    @property
    def total_g(self) -> float:
        """Everything that goes into the pot before the cook, g: the basis of a yield."""
        return self.oil_g + self.koh_g + self.naoh_g + self.water_g + self.inputs.glycerol_g

    @property
    def carbonate_g(self) -> float:
        """Potassium carbonate that the flakes contain, g."""
        return self.koh_g * self.inputs.koh_carbonate


def charge(inputs: ChargeInputs, weighed: WeighedAmounts | None = None) -> Charge:
    """The alkali and water for these oils.

    Amounts already weighed are taken as they are; the rest is calculated from them.

        m_KOH  = n (1 + e) (1 - s) / a_KOH
        m_NaOH = (n (1 + e) - m_KOH a_KOH) (39.997 / 56.1056) / a_NaOH

    with n the pure KOH that the oils need (g), e the excess, s the NaOH share and a the assays. Where the KOH was
    weighed, NaOH makes up the difference, and the excess is recalculated.

    Parameters
    ----------
    inputs : the oils, assays, excess and water.
    weighed : what is already on the scale, each 0 to 100 000 g.

    Raises ValueError for a lye above saturation at 20 degC, or a weight outside its range.
    Source: the need n after the definition of the saponification value in ISO 3657; the rest is stoichiometry.

    >>> from monitor.chemistry.oil_amounts import portion
    >>> inputs = ChargeInputs((portion("rapeseed", 600),), koh_assay=0.9, excess=0.03, water_g=540)
    >>> plan = charge(inputs)
    >>> round(plan.koh_g, 2), [round(e, 3) for e in (plan.excess.least, plan.excess.most)]
    (129.51, [-0.004, 0.078])
    >>> round(charge(inputs, WeighedAmounts(koh_g=132)).excess.taken, 3)
    0.05
    """
    weighed = weighed or WeighedAmounts()
    inputs = replace(inputs, portions=_weighed_oils(inputs, weighed))
    need = inputs.need_koh_g
    koh_g, naoh_g = _alkali_g(inputs, weighed)
    water_g = _water_g(inputs, koh_g, naoh_g) if weighed.water_g is None else weighed.water_g
    check_range("water_g", water_g, 0.0, 100_000.0, "g")
    strength = _check_lye_strength(inputs, koh_g, naoh_g, water_g)
    excess = _charge_excess(inputs, koh_g, naoh_g)
    oil_g = sum(portion.grams for portion in inputs.portions)
    too_strong = (1.0 + excess.taken) / (1.0 + inputs.excess) - 1.0
    return Charge(
        inputs,
        oil_g,
        need,
        koh_g,
        naoh_g,
        water_g,
        strength,
        excess,
        max(too_strong, 0.0) * oil_g if too_strong > 1e-9 else 0.0,
        excess.meaning(need, oil_g),
        ALKALI_CAUTIONS if koh_g or naoh_g else ALKALI_CAUTIONS[-1:],
    )


def _charge_excess(inputs: ChargeInputs, koh_g: float, naoh_g: float) -> Excess:
    alkali_as_koh_g = koh_g * inputs.koh_in_flakes + naoh_g * inputs.naoh_assay / NAOH_PER_KOH
    weighings = alkali_weighings(koh_g, inputs.koh_in_flakes, naoh_g, inputs.naoh_assay, inputs.assay_within)
    return excess_range(inputs.portions, alkali_as_koh_g, inputs.scale_g, weighings_of_alkali=weighings)


def _alkali_g(inputs: ChargeInputs, weighed: WeighedAmounts) -> tuple[float, float]:
    """Flakes of KOH and of NaOH, g: as weighed, else as the excess asks for."""
    for name, grams in (("koh_g", weighed.koh_g), ("naoh_g", weighed.naoh_g)):
        if grams is not None:
            check_range(name, grams, 0.0, 100_000.0, "g")
    return alkali_flakes_g(
        inputs.need_koh_g * (1.0 + inputs.excess),
        inputs.koh_in_flakes,
        inputs.naoh_share,
        inputs.naoh_assay,
        weighed.koh_g,
        weighed.naoh_g,
    )


def _weighed_oils(inputs: ChargeInputs, weighed: WeighedAmounts) -> tuple[Portion, ...]:
    if not weighed.oil_g:
        return inputs.portions
    if len(weighed.oil_g) != len(inputs.portions):
        raise ValueError(f"oil_g has {len(weighed.oil_g)} weights; there are {len(inputs.portions)} oils")
    return tuple(
        portion if grams is None else replace(portion, grams=check_range(portion.name, grams, 0.1, 100_000.0, "g"))
        for portion, grams in zip(inputs.portions, weighed.oil_g, strict=True)
    )


def _water_g(inputs: ChargeInputs, koh_g: float, naoh_g: float) -> float:
    if inputs.water_g is not None:
        return inputs.water_g
    if inputs.water_per_alkali is not None:
        return inputs.water_per_alkali * (koh_g + naoh_g)
    assert inputs.lye_strength is not None
    pure = koh_g * inputs.koh_in_flakes + naoh_g * inputs.naoh_assay
    # The rest of the flakes, mostly water, counts as water.
    return pure / inputs.lye_strength - koh_g - naoh_g


def _check_lye_strength(inputs: ChargeInputs, koh_g: float, naoh_g: float, water_g: float) -> float:
    pure = koh_g * inputs.koh_in_flakes + naoh_g * inputs.naoh_assay
    whole = koh_g + naoh_g + water_g
    strength = pure / whole if whole else 0.0
    if strength > inputs.strongest_lye + 1e-9:
        why = (
            f"which makes a lye of {strength:.1%}, and above {inputs.strongest_lye:.1%} it does not stay dissolved at "
            "20 °C"
        )
        least = pure / inputs.strongest_lye - koh_g - naoh_g
        if inputs.water_per_alkali is not None:
            ratio = inputs.water_per_alkali
            raise OutOfRangeError("water_per_alkali", ratio, least / (koh_g + naoh_g), MOST_RATIO, "", why)
        raise OutOfRangeError("water_g", water_g, math.ceil(least), 100_000.0, "g", why)
    return strength
