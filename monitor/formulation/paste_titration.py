"""A titrated sample of the paste in the cook: how to take it, the acid to expect, and what it tells of the progress."""

import math
from dataclasses import dataclass

from monitor.chemistry import check_range, expected_acid_ml, titrated_koh_share
from monitor.formulation.alkali import Charge
from monitor.formulation.cautions import HOT_PASTE, PASTE_TITRATION, Caution
from monitor.formulation.titration import ACID_STRENGTH, COVERAGE, TitrationInputs

# The progress for which the acid is stated: where a sample is worth taking, and where the cook is done.
STATED_CONVERTED = (0.90, 0.95, 0.97, 0.99)
PASTE_STEPS = (
    "Have about 50 mL of alcohol (ethanol or isopropanol) ready and cold, with a few drops of phenolphthalein, brought "
    "to the faintest pink with a little weak lye.",
    "Right after a stir take about 1 g of paste from the middle, weigh it to a hundredth of a gram, and note the time.",
    "Dissolve it at once, cold, by swirling and crushing: warm alkaline alcohol goes on saponifying.",
    "Run in acid of 0.1 mol of H+ per litre from a burette until the pink is just gone; a lump that was not dissolved "
    "brings it back.",
    ACID_STRENGTH,
    "Log millilitres, strength and weight with the time when it was taken. A second sample later in the cook tells "
    "more: between the two the unknown excess drops out.",
)


@dataclass(frozen=True, slots=True)
class ExpectedAcid:
    """The acid that the sample takes when ``converted`` of the oils is soap, mL.

    acid_ml: by the weights; least_ml, most_ml: at the ends of the likely excess.
    """

    converted: float
    acid_ml: float
    least_ml: float
    most_ml: float


@dataclass(frozen=True, slots=True)
class PasteSample:
    """A sample to titrate. need_koh_per_g: pure KOH that the oils of one gram of paste take, g."""

    sample_g: float
    acid_mol_l: float
    need_koh_per_g: float
    expected: tuple[ExpectedAcid, ...]
    how: tuple[str, ...]
    cautions: tuple[Caution, ...]


@dataclass(frozen=True, slots=True)
class PasteTitration:
    """What a titrated sample of paste tells.

    koh_percent: free KOH, per cent by mass of the paste; within_percent: its uncertainty either way, at about 95 %.
    converted: share of the oils that is soap, by the weights; converted_low, converted_high: with the likely excess and
    the uncertainty of the titration.
    """

    inputs: TitrationInputs
    koh_percent: float
    within_percent: float
    converted: float
    converted_low: float
    converted_high: float


def plan_paste_sample(
    charge: Charge, *, water_lost_g: float = 0.0, sample_g: float = 1.0, acid_mol_l: float = 0.1
) -> PasteSample:
    """The acid to expect from a sample of the cooking paste, and how to titrate it.

        n = need / m_paste;  V = (1 + e - X) n m / (c M(KOH)), by ``expected_acid_ml``

    Parameters
    ----------
    charge : what went in.
    water_lost_g : water that has boiled off, g, 0 to the water that went in.
    sample_g : 0.1 to 200 g. acid_mol_l : mol of H+ per litre, 0.001 to 2.

    Raises ValueError outside these ranges. Limits: for paste before it is diluted.

    >>> from monitor.formulation.alkali import ChargeInputs, charge
    >>> from monitor.chemistry.oil_amounts import portion
    >>> sample = plan_paste_sample(charge(ChargeInputs((portion("rapeseed", 600),), water_per_alkali=2.0)))
    >>> [(each.converted, round(each.acid_ml, 2)) for each in sample.expected]
    [(0.9, 2.65), (0.95, 1.63), (0.97, 1.22), (0.99, 0.82)]
    """
    need = _need_per_gram(charge, water_lost_g)

    def acid_ml(converted: float, excess: float) -> float:
        # More than all oil again as alkali is far outside any cook.
        return expected_acid_ml(converted, min(excess, 1.0), need, acid_mol_l=acid_mol_l, sample_g=sample_g)

    excess = charge.excess
    expected = tuple(
        ExpectedAcid(
            each, acid_ml(each, excess.taken), acid_ml(each, excess.likely_low), acid_ml(each, excess.likely_high)
        )
        for each in STATED_CONVERTED
    )
    cautions = (Caution("sample_g", HOT_PASTE), Caution("acid_ml", PASTE_TITRATION))
    return PasteSample(sample_g, acid_mol_l, need, expected, PASTE_STEPS, cautions)


def judge_paste_sample(charge: Charge, inputs: TitrationInputs, *, water_lost_g: float = 0.0) -> PasteTitration:
    """The free alkali and the progress that a titrated sample of the cooking paste tells.

        X = 1 + e - w / n

    Parameters
    ----------
    charge, water_lost_g : as in ``plan_paste_sample``.
    inputs : the acid and the sample.

    Limits: a single sample cannot tell excess from progress, so the range is as wide as that of the excess.

    >>> from monitor.formulation.alkali import ChargeInputs, charge
    >>> from monitor.chemistry.oil_amounts import portion
    >>> plan = charge(ChargeInputs((portion("rapeseed", 600),), water_per_alkali=2.0))
    >>> found = judge_paste_sample(plan, TitrationInputs(1.22, 0.1, 1.0))
    >>> round(found.converted, 2), round(found.converted_low, 2), round(found.converted_high, 2)
    (0.97, 0.95, 0.99)
    """
    need = _need_per_gram(charge, water_lost_g)
    share, uncertainty = titrated_koh_share(inputs.acid_ml, inputs.acid_mol_l, inputs.sample_g, inputs.scale_g)
    excess, within = charge.excess, COVERAGE * uncertainty
    middle = 1.0 + excess.taken - share / need
    low = middle - math.hypot(excess.taken - excess.likely_low, within / need)
    high = middle + math.hypot(excess.likely_high - excess.taken, within / need)
    return PasteTitration(
        inputs, 100.0 * share, 100.0 * within, *(min(max(each, 0.0), 1.0) for each in (middle, low, high))
    )


def _need_per_gram(charge: Charge, water_lost_g: float) -> float:
    check_range("water_lost_g", water_lost_g, 0.0, charge.water_g, "g")
    return charge.need_koh_g / (charge.total_g - water_lost_g)
